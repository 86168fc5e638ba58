"""Customers and their machines."""

from collections.abc import Mapping
from typing import Any

from triage.services.customers import records
from webform.api.models import customers as models
from webform.api.operations import CUSTOMER, entry_for, operation
from webform.desk import desk

Json = Mapping[str, Any]
ONE = f"/customers/{CUSTOMER}"
FOUND_AGAIN = "found again"  # these need no id: the very same data is the same record


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
    entered = records.MachineEntered(
        network_id=sent.network,
        drive=sent.drive,
        bought_year=sent.bought_year,
        plate_text=sent.plate,
        place=sent.place,
    )
    records.add_machine(desk().database, customer_id, entered, entry_for(FOUND_AGAIN))
    return _customer(records.find_customer(desk().database, customer_id))


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
