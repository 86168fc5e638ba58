"""Erase who a customer is, and hand out everything that is known of one.

What tells who somebody is stands in their record, in the words and notes of their calls, and in
photos. What is erased is overwritten: names, numbers and addresses with nothing, free text with
nothing, photos are deleted. What a machine did and what was done to it stays, without anybody.

An event keeps the fields that ``KEPT`` names for its kind; of a kind that is not there nothing
stays but numbers and yes or no. So a text that a later version of the program adds is erased, too.
"""

import base64
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import delete, func, or_, select
from sqlalchemy.orm import DeclarativeBase, Session

from triage.errors import UnknownCustomerError
from triage.store.tables.calls import CallRow, EventRow, PhotoRow
from triage.store.tables.closings import ClosingRow, PartUsedRow
from triage.store.tables.customers import CustomerRow, MachineRow
from triage.store.tables.people import AuditRow
from triage.store.tables.visits import VisitRow

ERASED = "erased"  # stands where a name is demanded
KEPT: Mapping[str, frozenset[str]] = {
    kind: frozenset(fields.split())
    for kind, fields in {
        "safety": "answers",
        "finding": "observation answer from_record",
        "finding_undone": "observation",
        "skipped": "observation",
        "help": "in_area warranty holder access",
        "customer": "customer_id machine_id",
        "linked": "call_id",
        "callback": "call_id verdict",
        "outcome": "outcome",
        "job_repair": "repair pieces verified",
        "job_repair_undone": "repair",
        "job_overruled": "proposed taken",
        "job_own_finding": "component",
        "job_quote": "amount_minor",
        "job_part_ordered": "part expected_on pieces",
        "job_part_arrived": "part",
        "job_answered_twice": "observation sent found counts",
        "job_closed": "outcome",
    }.items()
}
OF_VISITS = "visit_"  # how kinds of events of the booking begin
KEPT_OF_VISITS = frozenset(
    {
        "visit_id",
        "van_id",
        "starts_at",
        "ends_at",
        "window_starts_at",
        "window_ends_at",
        "late_minutes",
        "figures",
    }
)


def erase_identity(session: Session, customer_id: int, at: datetime) -> None:
    """Erase who a customer is, in one transaction.

    Raises
    ------
    UnknownCustomerError
    """
    customer = session.get(CustomerRow, customer_id, with_for_update=True)
    if customer is None:
        raise UnknownCustomerError(customer_id)
    customer.name, customer.name_folded = ERASED, ERASED
    for field in ("phone_text", "phone_e164", "street", "town", "postcode", "notes"):
        setattr(customer, field, "")
    customer.erased_at, customer.version = at, customer.version + 1
    for machine in customer.machines:
        machine.plate_text, machine.place = "", ""
    calls = session.scalars(select(CallRow).where(CallRow.customer_id == customer_id)).all()
    for call in calls:
        call.caller, call.caller_folded = ERASED, ERASED
        for event in call.events:
            event.payload = without_texts(event.kind, event.payload)
    numbers = [call.id for call in calls]
    session.execute(delete(PhotoRow).where(PhotoRow.call_id.in_(numbers)))
    for row in session.scalars(select(VisitRow).where(VisitRow.call_id.in_(numbers))):
        row.note = ""
    for closing in session.scalars(select(ClosingRow).where(ClosingRow.call_id.in_(numbers))):
        closing.note = ""
    _erase_reasons(session, customer_id, numbers)
    session.flush()


def without_texts(kind: str, payload: Mapping[str, Any]) -> dict[str, Any]:
    """What stays of an event: its kept fields as they are, of others no text."""
    kept = KEPT_OF_VISITS if kind.startswith(OF_VISITS) else KEPT.get(kind, frozenset())
    return {name: value if name in kept else _emptied(value) for name, value in payload.items()}


def _emptied(value: Any) -> Any:
    if isinstance(value, str):
        return ""
    if isinstance(value, list):
        return []
    return {} if isinstance(value, dict) else value


def _erase_reasons(session: Session, customer_id: int, calls: Sequence[int]) -> None:
    """Empty the reasons in the audit trail, which people write and may name somebody in."""
    subjects = [f"job {number}" for number in calls] + [f"customer {customer_id}"]
    for row in session.scalars(select(AuditRow).where(AuditRow.subject.in_(subjects))):
        row.detail = {name: "" if name == "reason" else value for name, value in row.detail.items()}


def counts_of(session: Session, customer_id: int) -> Mapping[str, int]:
    """How many machines, calls, events, photos, visits and closed jobs a customer has.

    Raises
    ------
    UnknownCustomerError
    """
    if session.get(CustomerRow, customer_id) is None:
        raise UnknownCustomerError(customer_id)
    numbers = select(CallRow.id).where(CallRow.customer_id == customer_id)
    queries = {
        "machines": select(MachineRow).where(MachineRow.customer_id == customer_id),
        "calls": select(CallRow).where(CallRow.customer_id == customer_id),
        "events": select(EventRow).where(EventRow.call_id.in_(numbers)),
        "photos": select(PhotoRow.id).where(PhotoRow.call_id.in_(numbers)),
        "visits": select(VisitRow).where(VisitRow.call_id.in_(numbers)),
        "closed_jobs": select(ClosingRow).where(ClosingRow.call_id.in_(numbers)),
    }
    return {
        name: session.scalar(select(func.count()).select_from(query.subquery())) or 0
        for name, query in queries.items()
    }


def open_calls_of(session: Session, customer_id: int) -> int:
    """How many calls of a customer are open, or have a visit that has not ended."""
    waiting = select(VisitRow.call_id).where(VisitRow.state.in_(("booked", "under_way")))
    query = select(CallRow.id).where(
        CallRow.customer_id == customer_id, or_(CallRow.is_open, CallRow.id.in_(waiting))
    )
    return session.scalar(select(func.count()).select_from(query.subquery())) or 0


def everything_about(session: Session, customer_id: int) -> dict[str, Any]:
    """Everything that is known of a customer, as plain values by table.

    Raises
    ------
    UnknownCustomerError
    """
    customer = session.get(CustomerRow, customer_id)
    if customer is None:
        raise UnknownCustomerError(customer_id)
    numbers = select(CallRow.id).where(CallRow.customer_id == customer_id)
    closings = select(ClosingRow.id).where(ClosingRow.call_id.in_(numbers))
    tables: Mapping[str, tuple[type[DeclarativeBase], Any]] = {
        "machines": (MachineRow, MachineRow.customer_id == customer_id),
        "calls": (CallRow, CallRow.customer_id == customer_id),
        "events": (EventRow, EventRow.call_id.in_(numbers)),
        "photos": (PhotoRow, PhotoRow.call_id.in_(numbers)),
        "visits": (VisitRow, VisitRow.call_id.in_(numbers)),
        "closed_jobs": (ClosingRow, ClosingRow.call_id.in_(numbers)),
        "parts_used": (PartUsedRow, PartUsedRow.closing_id.in_(closings)),
    }
    found: dict[str, Any] = {"customer": _plain(customer)}
    for name, (table, condition) in tables.items():
        rows = session.scalars(select(table).where(condition).order_by(table.__table__.c.id))
        found[name] = [_plain(row) for row in rows]
    return found


def _plain(row: DeclarativeBase) -> dict[str, Any]:
    columns = row.__table__.columns.keys()
    return {name: _plain_value(getattr(row, name)) for name in columns}


def _plain_value(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    return base64.b64encode(value).decode("ascii") if isinstance(value, bytes) else value
