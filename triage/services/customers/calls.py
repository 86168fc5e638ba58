"""Who is calling: the customer of a call, found or put on record while it goes on."""

from dataclasses import dataclass

from triage.services.call_log.change import Entry, network_of_state
from triage.services.call_log.record import drives_of
from triage.services.call_log.state import CallState
from triage.services.customers.records import (
    CustomerEntered,
    MachineEntered,
    add_customer,
    add_machine,
    link_customer,
    search_customers,
)
from triage.store.calls import read_call
from triage.store.customers import StoredCustomer, StoredMachine, machine_of, read_customer
from triage.store.database import Database


@dataclass(frozen=True, slots=True, kw_only=True)
class WhoCalls:
    """A call, its customer and machine if they are on record, and who was found by a search.

    ``drives`` are the kinds of drive that the appliance can have.
    """

    state: CallState
    customer: StoredCustomer | None
    machine: StoredMachine | None
    found: tuple[StoredCustomer, ...]
    drives: dict[str, str]


def who_calls(database: Database, call_id: int, search: str, region: str) -> WhoCalls:
    """Customer of a call, and those that a search finds.

    Raises
    ------
    UnknownCallError
    """
    with database.reading() as session:
        state = CallState.of(read_call(session, call_id))
        customer = read_customer(session, state.customer_id) if state.customer_id else None
    machines = customer.machines if customer else ()
    return WhoCalls(
        state=state,
        customer=customer,
        machine=next((one for one in machines if one.id == state.machine_id), None),
        found=search_customers(database, search, region),
        drives=drives_of(network_of_state(database, state)),
    )


def put_on_record(
    database: Database,
    call_id: int,
    customer: CustomerEntered,
    machine: MachineEntered,
    region: str,
    entry: Entry,
) -> int:
    """Put the caller with the machine on record, say that the call is theirs; returns the number.

    Sent twice it is one customer with one machine, since the same data is found again.

    Raises
    ------
    UnknownCallError, StaleCallError
    """
    added = add_customer(database, customer, region, entry)
    machine_id = add_machine(database, added.id, machine, entry)
    link_customer(database, call_id, added.id, machine_id, entry)
    return added.id


@dataclass(frozen=True, slots=True, kw_only=True)
class StartAsked:
    """What the page of a new call is opened with; 0 and empty where there is nothing.

    ``again`` is a call that a danger stopped and that is begun anew, ``linked_to`` one whose caller
    has a second machine or complaint.
    """

    again: int = 0
    linked_to: int = 0
    customer_id: int = 0
    machine_id: int = 0
    search: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CallStart:
    """What is known before a call is opened, and who was found by a search."""

    caller: str = ""
    network_id: str = ""
    words: str = ""
    customer: StoredCustomer | None = None
    machine_id: int = 0
    linked_to: int = 0
    found: tuple[StoredCustomer, ...] = ()


def call_start(database: Database, asked: StartAsked, region: str) -> CallStart:
    """What the form of a new call begins with.

    Raises
    ------
    UnknownCallError, UnknownCustomerError, UnknownMachineError
    """
    before = asked.again or asked.linked_to
    customer_id, machine_id, state = asked.customer_id, asked.machine_id, None
    with database.reading() as session:
        if before:
            state = CallState.of(read_call(session, before))
            customer_id = customer_id or state.customer_id
            machine_id = machine_id or (state.machine_id if asked.again else 0)
        customer = read_customer(session, customer_id) if customer_id else None
        machine = machine_of(session, customer_id, machine_id) if machine_id else None
    network_id = state.network_id if state and asked.again else ""
    return CallStart(
        caller=customer.name if customer else (state.caller if state else ""),
        network_id=machine.network_id if machine else network_id,
        words=state.words if state and asked.again else "",
        customer=customer,
        machine_id=machine_id,
        linked_to=asked.linked_to,
        found=search_customers(database, asked.search, region),
    )
