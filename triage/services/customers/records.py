"""Customers and their machines on record: add, change, find, say whose call it is."""

from collections.abc import Sequence
from dataclasses import dataclass

from triage.errors import UnknownMachineError
from triage.network.values import FaultNetwork
from triage.services.call_log.change import Entry, change_call
from triage.services.call_log.events import CallEvent, CustomerLinked, FindingUndone
from triage.services.call_log.record import drives_of, findings_on_record
from triage.services.call_log.state import CallState
from triage.services.customers.phones import digits_searched, phone_number
from triage.services.folding import folded
from triage.services.networks.engines import network_choices
from triage.services.networks.scope import OTHER_KINDS, network_of
from triage.store import customers as store
from triage.store.customers import CustomerDraft, MachineDraft, StoredCustomer, StoredMachine
from triage.store.database import Database

__all__ = [
    "CustomerEntered",
    "MachineEntered",
    "StoredCustomer",
    "StoredMachine",
    "add_customer",
    "add_machine",
    "all_drives",
    "change_customer",
    "change_machine",
    "customer_draft",
    "find_customer",
    "link_customer",
    "machine_of",
    "search_customers",
]

FOUND_MAX = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerEntered:
    """What is entered of a customer, as it was typed."""

    name: str
    phone: str = ""
    street: str = ""
    town: str = ""
    postcode: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineEntered:
    """What is entered of a machine; ``bought_year`` is None if nobody knows it."""

    network_id: str
    drive: str = ""
    bought_year: int | None = None
    plate_text: str = ""
    place: str = ""


def find_customer(database: Database, customer_id: int) -> StoredCustomer:
    """Customer with the machines, or ``UnknownCustomerError``."""
    with database.reading() as session:
        return store.read_customer(session, customer_id)


def search_customers(database: Database, text: str, region: str) -> tuple[StoredCustomer, ...]:
    """Customers by a part of the name or number, in any alphabet and any writing of the number.

    Every word must stand in the name. An empty text finds nobody.
    """
    words = folded(text).split()
    digits = digits_searched(text, region)
    if not words:
        return ()
    with database.reading() as session:
        return store.find_customers(
            session, words=words, digits=digits, said=text.strip(), limit=FOUND_MAX
        )


def add_customer(
    database: Database, entered: CustomerEntered, region: str, entry: Entry
) -> StoredCustomer:
    """Put a customer on record; one with the very same data is found, not added again."""
    with database.writing() as session:
        customer_id = store.add_customer(session, customer_draft(entered, region), entry.at)
        return store.read_customer(session, customer_id)


def change_customer(
    database: Database, customer_id: int, entered: CustomerEntered, region: str, entry: Entry
) -> None:
    """Replace what is on record of a customer; the page sends the version it showed.

    Raises
    ------
    UnknownCustomerError, StaleCustomerError
    """
    with database.writing() as session:
        store.change_customer(
            session, customer_id, customer_draft(entered, region), entry.submission.shown_version
        )


def add_machine(database: Database, customer_id: int, entered: MachineEntered, entry: Entry) -> int:
    """Put a machine of a customer on record and return its number.

    Raises
    ------
    UnknownCustomerError
    """
    with database.writing() as session:
        return store.add_machine(session, customer_id, _machine_draft(entered), entry.at)


def change_machine(
    database: Database, customer_id: int, machine_id: int, entered: MachineEntered, entry: Entry
) -> None:
    """Replace what is on record of a machine; the page sends the version of the customer it showed.

    Raises
    ------
    UnknownMachineError, StaleCustomerError
    """
    shown = entry.submission.shown_version
    with database.writing() as session:
        store.change_machine(session, customer_id, machine_id, _machine_draft(entered), shown)


def link_customer(
    database: Database, call_id: int, customer_id: int, machine_id: int, entry: Entry
) -> None:
    """Say whose call it is and about which machine; what its record tells goes in as findings.

    A question that was answered in the call keeps its answer; what the record of another machine
    told is taken back by what this one tells.

    Raises
    ------
    UnknownCustomerError, UnknownMachineError, UnknownCallError, StaleCallError
    """
    with database.reading() as session:
        customer = store.read_customer(session, customer_id)
        machine = store.machine_of(session, customer_id, machine_id) if machine_id else None

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        linked = CustomerLinked(customer.id, machine_id)
        if machine is None or machine.network_id != state.network_id:
            return [CustomerLinked(customer.id)]
        return [linked, *_new_findings(state, network, machine, entry.at.year)]

    change_call(database, call_id, entry, decide, only_open=False)


def _new_findings(
    state: CallState, network: FaultNetwork, machine: StoredMachine, year: int
) -> Sequence[CallEvent]:
    if state.network_id in OTHER_KINDS:
        return []
    asked = {one.observation for one in state.given if not one.from_record}
    known = findings_on_record(network, machine, year)
    told = {one.observation for one in known}
    gone = [one.observation for one in state.given if one.from_record]
    return [
        *(FindingUndone(name) for name in gone if name not in told),
        *(one for one in known if one.observation not in asked),
    ]


def customer_draft(entered: CustomerEntered, region: str) -> CustomerDraft:
    """What is stored of a customer: as typed, and as it is searched."""
    number = phone_number(entered.phone, region)
    return CustomerDraft(
        name=entered.name.strip(),
        name_folded=folded(entered.name),
        phone_text=number.text,
        phone_e164=number.e164,
        street=entered.street.strip(),
        town=entered.town.strip(),
        postcode=entered.postcode.strip(),
        notes=entered.notes.strip(),
    )


def _machine_draft(entered: MachineEntered) -> MachineDraft:
    return MachineDraft(
        network_id=entered.network_id,
        drive=entered.drive,
        bought_year=entered.bought_year,
        plate_text=entered.plate_text.strip(),
        place=entered.place.strip(),
    )


def machine_of(customer: StoredCustomer, machine_id: int) -> StoredMachine:
    """Machine of a customer, or ``UnknownMachineError``."""
    for machine in customer.machines:
        if machine.id == machine_id:
            return machine
    raise UnknownMachineError(machine_id, customer.id)


def all_drives() -> dict[str, str]:
    """Kinds of drive of every appliance by id; one that several have is named by the first."""
    found: dict[str, str] = {}
    for name, _ in network_choices():
        for drive, title in drives_of(network_of(name)).items():
            found.setdefault(drive, title)
    return found
