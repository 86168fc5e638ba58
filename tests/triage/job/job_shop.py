"""A shop with one booked job, for tests of what happens on a visit."""

from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import uuid4

from tests.web.technician import NINE, booked_call, booked_visit, van_of
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.job.events import JobEvent
from triage.services.job.record import SentEntry, record
from triage.services.job.sheet import find_job
from triage.store.stock import stock_of

TEN = NINE + timedelta(hours=1)
PUMP_HUMS = {"observation": "tests_drain_pump", "answer": "hums"}
Act = Callable[[JobEvent], None]


def page(database: Database, call_id: int, *, at: datetime = TEN, by: str = "Tova Lind") -> Entry:
    """What a page of the job as it is now sends along."""
    version = find_job(database, call_id).version
    return Entry(submission=Submission(uuid4().hex, version), at=at, by=by)


def enter(database: Database, call_id: int, event: JobEvent, *, at: datetime = TEN) -> None:
    """Enter something from a fresh page."""
    record(database, call_id, event, page(database, call_id, at=at))


def job_of_the_morning(database: Database) -> tuple[int, int]:
    """Number of a call with a visit at ten, and of the van."""
    van_id = van_of(database)
    call_id = booked_call(database)
    booked_visit(database, call_id, van_id)
    return call_id, van_id


def kept(
    kind: str, payload: dict[str, object], *, shown: int, made_at: datetime = TEN, id: str = ""
) -> SentEntry:
    """An entry of a device that had no signal."""
    return SentEntry(
        id=id or uuid4().hex, kind=kind, payload=payload, made_at=made_at, shown_version=shown
    )


def stock(database: Database, van_id: int) -> dict[tuple[str, str], int]:
    """Stock of a van."""
    with database.reading() as session:
        return dict(stock_of(session, van_id))
