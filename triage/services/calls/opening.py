"""Open a call: who calls about which machine, and what is known of the machine already.

What the record of a machine tells (its age, its drive) goes in as findings at once, so that nobody
is asked for it; an answer of the caller to the same question replaces it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from triage.network.values import FaultNetwork
from triage.services.call_log.change import Entry
from triage.services.call_log.events import (
    CallEvent,
    CallLinked,
    ComplaintTaken,
    CustomerLinked,
    as_draft,
)
from triage.services.call_log.record import findings_on_record
from triage.services.customers.records import CustomerEntered, customer_draft
from triage.services.folding import folded
from triage.services.networks.in_use import keep_shipped, network_in_use, own_network
from triage.services.networks.scope import OTHER_KINDS
from triage.store.calls import NewCall, Submission, add_call, add_events, call_to_change
from triage.store.customers import StoredMachine, add_customer, link_call, machine_of
from triage.store.database import Database

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

FIRST_OF_TWO = "-first"  # end of the id of the event that tells the first call of the second

FOLDED_MAX = 400  # letters that are searched of a caller


@dataclass(frozen=True, slots=True, kw_only=True)
class CallReport:
    """What is known when the call is opened: appliance kind, who calls, and the caller's words.

    ``customer_id`` and ``machine_id`` are 0 for a caller who is not on record, ``linked_to`` is the
    first call of a caller who has two machines or two complaints, else 0. A caller who is not on
    record and gives a ``phone`` (as people of ``region`` write it) is put there.
    """

    network_id: str
    caller: str
    words: str
    customer_id: int = 0
    machine_id: int = 0
    linked_to: int = 0
    phone: str = ""
    region: str = ""


def open_call(database: Database, report: CallReport, entry: Entry) -> int:
    """Open a call and return its number; the same submission again opens no second call.

    Raises
    ------
    UnknownNetworkError
        No network of that name is shipped.
    UnknownCustomerError, UnknownMachineError, UnknownCallError
        What the report names is not on record.
    """
    network = network_in_use(database, report.network_id)
    client_id, at, by = entry.submission.client_id, entry.at, entry.by
    new = NewCall(
        client_id=client_id,
        network_id=report.network_id,
        network_version=network.version,
        caller=report.caller,
        caller_folded=folded(report.caller)[:FOLDED_MAX],
        at=at,
        by=by,
    )
    with database.writing() as session:
        call_id, is_new = add_call(session, new)
        if not is_new:
            return call_id
        keep_shipped(session, own_network(report.network_id), at, by)
        report = _on_record(session, report, at)
        machine = None
        if report.customer_id:
            link_call(session, call_id, report.customer_id, report.machine_id)
        if report.machine_id:
            machine = machine_of(session, report.customer_id, report.machine_id)
        add_events(
            session,
            call_id,
            [as_draft(one) for one in _first_events(network, report, machine, entry)],
            Submission(client_id, 0),
            at=at,
            by=by,
            is_open=True,
            network_version=network.version,
        )
        if report.linked_to:
            _tell_first_call(session, report.linked_to, call_id, entry)
    return call_id


def _on_record(session: "Session", report: CallReport, at: datetime) -> CallReport:
    """Report with the customer that a phone number puts on record."""
    if report.customer_id or not report.phone.strip():
        return report
    caller = CustomerEntered(name=report.caller, phone=report.phone)
    draft = customer_draft(caller, report.region)
    return replace(report, customer_id=add_customer(session, draft, at))


def _tell_first_call(session: "Session", first_id: int, call_id: int, entry: Entry) -> None:
    """Tell a call that its caller has a second one."""
    first = call_to_change(session, first_id)
    add_events(
        session,
        first.id,
        [as_draft(CallLinked(call_id))],
        Submission(entry.submission.client_id + FIRST_OF_TWO, first.version),
        at=entry.at,
        by=entry.by,
        is_open=first.is_open,
    )


def _first_events(
    network: FaultNetwork, report: CallReport, machine: StoredMachine | None, entry: Entry
) -> Sequence[CallEvent]:
    """Events with which a call begins."""
    events: list[CallEvent] = [ComplaintTaken(report.words)]
    if report.customer_id:
        events.append(CustomerLinked(report.customer_id, report.machine_id))
    if report.linked_to:
        events.append(CallLinked(report.linked_to))
    if machine is not None and report.network_id not in OTHER_KINDS:
        events.extend(findings_on_record(network, machine, entry.at.year))
    return events
