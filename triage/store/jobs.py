"""Questions about jobs that go across calls, customers and machines."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from triage.store.tables.calls import CallRow, EventRow
from triage.store.tables.closings import ClosingRow
from triage.store.tables.customers import MachineRow


def plate_of_call(session: Session, call_id: int) -> str:
    """What the plate of the machine of a call says; empty if nobody has read it."""
    found = session.scalar(
        select(MachineRow.plate_text)
        .join(CallRow, CallRow.machine_id == MachineRow.id)
        .where(CallRow.id == call_id)
    )
    return found or ""


def open_jobs_with(session: Session, kind: str) -> tuple[int, ...]:
    """Numbers of the calls in whose log an event of a kind stands and whose job is not closed."""
    found = session.scalars(
        select(EventRow.call_id)
        .where(EventRow.kind == kind, EventRow.call_id.not_in(select(ClosingRow.call_id)))
        .distinct()
        .order_by(EventRow.call_id)
    )
    return tuple(found)


def is_closed(session: Session, call_id: int) -> bool:
    """Whether the job of a call is closed."""
    found = session.scalar(select(ClosingRow.id).where(ClosingRow.call_id == call_id))
    return found is not None
