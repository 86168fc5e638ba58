"""Customers and their machines."""

from collections.abc import Mapping
from typing import Any

from triage.services.customers import records
from webform.api.models import customers as models
from webform.api.operations import CUSTOMER, MACHINE, entry_for, operation
from webform.desk import desk

Json = Mapping[str, Any]
ONE = f"/customers/{CUSTOMER}"
FOUND_AGAIN = "found again"  # these need no id: the very same data is the same record
REPLACED = "replaced"  # the version tells whether it was done


@operation("GET", "/customers", asked=models.CustomersAsked, gives=models.Customers)
def customers(asked: models.CustomersAsked) -> Json:
    """Search customers by name or number."""
    region = desk().desk_settings().phone_region
    found = records.search_customers(desk().database, asked.q, region)
    return {"customers": [_customer(one) for one in found]}


@operation(
    "POST",
    "/customers",
    body=models.CustomerGiven,
    gives=models.CustomerShown,
    makes="/customers/{customer}",
)
def new_customer(sent: models.CustomerGiven) -> Json:
    """Put a customer on record."""
    entered = records.CustomerEntered(**sent.model_dump())
    region = desk().desk_settings().phone_region
    added = records.add_customer(desk().database, entered, region, entry_for(FOUND_AGAIN))
    return _customer(added)


@operation("GET", ONE, gives=models.CustomerShown)
def customer(customer_id: int) -> Json:
    """Look at a customer with the machines."""
    return _customer(records.find_customer(desk().database, customer_id))


@operation(
    "POST",
    f"{ONE}/machines",
    body=models.MachineGiven,
    gives=models.CustomerShown,
    makes="/customers/{customer}",
)
def new_machine(customer_id: int, sent: models.MachineGiven) -> Json:
    """Put a machine of a customer on record; the answer is the customer with all machines."""
    records.add_machine(desk().database, customer_id, _entered(sent), entry_for(FOUND_AGAIN))
    return _customer(records.find_customer(desk().database, customer_id))


@operation("PUT", ONE, body=models.CustomerChangedGiven, gives=models.CustomerShown)
def change_customer(customer_id: int, sent: models.CustomerChangedGiven) -> Json:
    """Replace what is on record of a customer."""
    entered = records.CustomerEntered(**sent.model_dump(exclude={"shown_version"}))
    region, entry = desk().desk_settings().phone_region, entry_for(REPLACED, sent.shown_version)
    records.change_customer(desk().database, customer_id, entered, region, entry)
    return _customer(records.find_customer(desk().database, customer_id))


@operation(
    "PUT", f"{ONE}/machines/{MACHINE}", body=models.MachineChangedGiven, gives=models.CustomerShown
)
def change_machine(customer_id: int, machine_id: int, sent: models.MachineChangedGiven) -> Json:
    """Replace what is on record of a machine; the answer is the customer with all machines."""
    entry = entry_for(REPLACED, sent.shown_version)
    records.change_machine(desk().database, customer_id, machine_id, _entered(sent), entry)
    return _customer(records.find_customer(desk().database, customer_id))


def _entered(sent: models.MachineGiven) -> records.MachineEntered:
    return records.MachineEntered(
        network_id=sent.network,
        drive=sent.drive,
        bought_year=sent.bought_year,
        plate_text=sent.plate,
        place=sent.place,
    )


def _customer(found: records.StoredCustomer) -> dict[str, Any]:
    return {
        "customer": found.id,
        "version": found.version,
        "name": found.name,
        "phone": found.phone_text,
        "phone_e164": found.phone_e164,
        "street": found.street,
        "town": found.town,
        "postcode": found.postcode,
        "notes": found.notes,
        "machines": [_machine(one) for one in found.machines],
    }


def _machine(found: records.StoredMachine) -> dict[str, Any]:
    return {
        "machine": found.id,
        "network": found.network_id,
        "drive": found.drive,
        "bought_year": found.bought_year,
        "plate": found.plate_text,
        "place": found.place,
    }
