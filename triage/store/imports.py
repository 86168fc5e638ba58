"""Closed jobs from files: the files themselves, and the jobs put beside those of the program.

A job of a file becomes a call with its events and a closing, so that everything that reads closed
jobs reads them, too. ``client_id`` of its call is the digest of source and number, that of its
closing the digest of its content: by these a job is known again.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import FromClause, select
from sqlalchemy.orm import Session

from triage.errors import UnknownJobFileError
from triage.store.bulk import ReadyRows, free_numbers, ready
from triage.store.calls import Draft, StoredCall, read_calls
from triage.store.closings import (
    ClosingData,
    ClosingFilter,
    StoredClosing,
    walk_closings,
)
from triage.store.database import Database
from triage.store.tables.calls import CallRow, EventRow
from triage.store.tables.closings import ClosingRow, PartUsedRow
from triage.store.tables.learning import JobFileRow, TimedStepsRow

AT_ONCE = 500  # jobs, or digests in a question to the database
FIELDS = [name for name in ClosingData.__dataclass_fields__ if name != "parts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewClosedJob:
    """A job of a file: call, events with their times, closing, minutes of its steps.

    ``follows`` is the identity of the job it follows up, empty if none.
    """

    identity: str
    content: str
    source: str
    network_id: str
    network_version: int
    opened_at: datetime
    taken_by: str
    closed_at: datetime
    closed_by: str
    events: Sequence[tuple[Draft, datetime]]
    closing: ClosingData
    step_minutes: Mapping[str, float]
    follows: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredJobFile:
    """A file of closed jobs; ``imported_at`` is None while its jobs are not in."""

    id: int
    name: str
    text: str
    columns: Mapping[str, str]
    sent_at: datetime
    sent_by: str
    imported_at: datetime | None
    jobs: int


def walk_jobs(
    session: Session, wanted: ClosingFilter
) -> Iterator[tuple[StoredClosing, StoredCall, Mapping[str, float]]]:
    """Closed jobs, oldest first, each with its call and the minutes that a file told."""
    batch: list[StoredClosing] = []
    for closing in walk_closings(session, wanted):
        batch.append(closing)
        if len(batch) == AT_ONCE:
            yield from _with_calls(session, batch)
            batch = []
    yield from _with_calls(session, batch)


def minutes_told(session: Session, call_id: int) -> Mapping[str, float]:
    """Minutes of the steps of a job that a file told; empty if it told none."""
    query = select(TimedStepsRow.minutes).where(TimedStepsRow.call_id == call_id)
    return session.scalar(query) or {}


def identities_known(session: Session, identities: Sequence[str]) -> dict[str, int]:
    """Numbers of the calls that these jobs became, by identity."""
    found: dict[str, int] = {}
    for start in range(0, len(identities), AT_ONCE):
        some = identities[start : start + AT_ONCE]
        rows = session.execute(
            select(CallRow.client_id, CallRow.id).where(CallRow.client_id.in_(some))
        )
        found.update((client_id, number) for client_id, number in rows)
    return found


def contents_known(session: Session, contents: Sequence[str]) -> frozenset[str]:
    """Digests among these of jobs that are in already."""
    found: set[str] = set()
    for start in range(0, len(contents), AT_ONCE):
        some = contents[start : start + AT_ONCE]
        found.update(
            session.scalars(select(ClosingRow.client_id).where(ClosingRow.client_id.in_(some)))
        )
    return frozenset(found)


def closed_here(session: Session, call_ids: Sequence[int]) -> dict[int, datetime]:
    """When jobs that were closed in the program were closed, by number."""
    found: dict[int, datetime] = {}
    for start in range(0, len(call_ids), AT_ONCE):
        rows = session.execute(
            select(ClosingRow.call_id, ClosingRow.closed_at).where(
                ClosingRow.source == "app",
                ClosingRow.call_id.in_(call_ids[start : start + AT_ONCE]),
            )
        )
        found.update((number, at) for number, at in rows)
    return found


@dataclass(frozen=True, slots=True)
class ReadyJobs:
    """Jobs made ready to be put in; ``earlier`` is the identity of the job each follows up."""

    identities: tuple[str, ...]
    earlier: tuple[str, ...]
    calls: ReadyRows
    events: ReadyRows
    events_of: tuple[int, ...]
    timed: ReadyRows
    timed_of: tuple[int, ...]
    closings: ReadyRows
    parts: ReadyRows
    parts_of: tuple[int, ...]


def ready_jobs(database: Database, jobs: Sequence[NewClosedJob]) -> ReadyJobs:
    """Turn jobs into rows; nobody waits meanwhile, for nothing is locked."""

    def rows_of(table: FromClause, rows: Sequence[Mapping[str, Any]]) -> ReadyRows:
        return ready(database.dialect, table, rows)

    timed = [place for place, job in enumerate(jobs) if job.step_minutes]
    return ReadyJobs(
        identities=tuple(job.identity for job in jobs),
        earlier=tuple(job.follows for job in jobs),
        calls=rows_of(CallRow.__table__, [_call_row(job) for job in jobs]),
        events=rows_of(EventRow.__table__, [row for job in jobs for row in _event_rows(job)]),
        events_of=tuple(place for place, job in enumerate(jobs) for _ in job.events),
        timed=rows_of(
            TimedStepsRow.__table__,
            [{"call_id": None, "minutes": dict(jobs[place].step_minutes)} for place in timed],
        ),
        timed_of=tuple(timed),
        closings=rows_of(ClosingRow.__table__, [_closing_row(job) for job in jobs]),
        parts=rows_of(
            PartUsedRow.__table__,
            [{"closing_id": None, **asdict(part)} for job in jobs for part in job.closing.parts],
        ),
        parts_of=tuple(place for place, job in enumerate(jobs) for _ in job.closing.parts),
    )


def put_jobs_in(session: Session, jobs: ReadyJobs) -> None:
    """Put jobs in, each with its call, its events and its closing."""
    count = len(jobs.identities)
    calls = free_numbers(session, CallRow.__table__, count)
    closings = free_numbers(session, ClosingRow.__table__, count)
    known = {
        **identities_known(session, [one for one in jobs.earlier if one]),
        **dict(zip(jobs.identities, calls, strict=True)),
    }
    jobs.calls.put_in(session, id=calls)
    jobs.events.put_in(session, call_id=[calls[place] for place in jobs.events_of])
    jobs.timed.put_in(session, call_id=[calls[place] for place in jobs.timed_of])
    jobs.closings.put_in(
        session,
        id=closings,
        call_id=calls,
        callback_of_id=[known.get(one) for one in jobs.earlier],
    )
    jobs.parts.put_in(session, closing_id=[closings[place] for place in jobs.parts_of])


def _call_row(job: NewClosedJob) -> dict[str, Any]:
    return {
        "id": None,
        "client_id": job.identity,
        "network_id": job.network_id,
        "network_version": job.network_version,
        "caller": "",
        "opened_at": job.opened_at,
        "opened_by": job.taken_by,
        "version": len(job.events),
        "is_open": False,
    }


def _event_rows(job: NewClosedJob) -> Iterator[dict[str, Any]]:
    for place, (draft, at) in enumerate(job.events, start=1):
        yield {
            "call_id": None,
            "sequence": place,
            "client_id": job.identity,
            "part": place,
            "kind": draft.kind,
            "payload": dict(draft.payload),
            "at": at,
            "by": job.taken_by,
            "network_version": job.network_version,
        }


def _closing_row(job: NewClosedJob) -> dict[str, Any]:
    return {
        "id": None,
        "call_id": None,
        "client_id": job.content,
        "closed_at": job.closed_at,
        "closed_by": job.closed_by,
        "source": job.source,
        **{name: getattr(job.closing, name) for name in FIELDS},
    }


def add_job_file(
    session: Session, *, client_id: str, name: str, text: str, at: datetime, by: str
) -> int:
    """Keep a file; the same submission again finds the same file."""
    found = session.scalar(select(JobFileRow.id).where(JobFileRow.client_id == client_id))
    if found is not None:
        return found
    row = JobFileRow(
        client_id=client_id, name=name, text=text, columns={}, sent_at=at, sent_by=by, jobs=0
    )
    session.add(row)
    session.flush()
    return row.id


def read_job_file(session: Session, number: int) -> StoredJobFile:
    """File of a number, or ``UnknownJobFileError``."""
    row = session.get(JobFileRow, number)
    if row is None:
        raise UnknownJobFileError(number)
    return _stored(row)


def list_job_files(session: Session, *, limit: int = 20) -> tuple[StoredJobFile, ...]:
    """Files that were sent in, newest first."""
    rows = session.scalars(select(JobFileRow).order_by(JobFileRow.id.desc()).limit(limit))
    return tuple(_stored(row) for row in rows)


def name_columns(session: Session, number: int, columns: Mapping[str, str]) -> None:
    """Keep which columns of a file are which of ours."""
    session.get_one(JobFileRow, number).columns = dict(columns)
    session.flush()


def finish_job_file(session: Session, number: int, *, jobs: int, at: datetime) -> None:
    """Mark a file as taken in; its text is not needed any more."""
    row = session.get_one(JobFileRow, number)
    row.text, row.imported_at, row.jobs = "", at, jobs
    session.flush()


def _with_calls(
    session: Session, batch: Sequence[StoredClosing]
) -> Iterator[tuple[StoredClosing, StoredCall, Mapping[str, float]]]:
    numbers = [closing.call_id for closing in batch]
    calls = {call.id: call for call in read_calls(session, numbers)}
    rows = session.scalars(select(TimedStepsRow).where(TimedStepsRow.call_id.in_(numbers)))
    timed = {row.call_id: row.minutes for row in rows}
    for closing in batch:
        yield closing, calls[closing.call_id], timed.get(closing.call_id, {})


def _stored(row: JobFileRow) -> StoredJobFile:
    return StoredJobFile(
        id=row.id,
        name=row.name,
        text=row.text,
        columns=row.columns,
        sent_at=row.sent_at,
        sent_by=row.sent_by,
        imported_at=row.imported_at,
        jobs=row.jobs,
    )
