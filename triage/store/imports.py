"""Closed jobs from files: the files themselves, and the jobs put beside those of the program.

A job of a file becomes a call with its events and a closing, so that everything that reads closed
jobs reads them, too. ``client_id`` of its call is the digest of source and number, that of its
closing the digest of its content: by these a job is known again.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from triage.errors import UnknownJobFileError
from triage.store.calls import Draft, StoredCall, read_calls
from triage.store.closings import (
    ClosingData,
    ClosingFilter,
    StoredClosing,
    walk_closings,
)
from triage.store.tables.calls import CallRow, EventRow
from triage.store.tables.closings import ClosingRow, PartUsedRow
from triage.store.tables.learning import JobFileRow, TimedStepsRow

AT_ONCE = 500  # jobs, or digests in a question to the database
FIELDS = [name for name in ClosingData.__dataclass_fields__ if name != "parts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewClosedJob:
    """A job of a file: call, events with their times, closing, minutes of its steps."""

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


def add_jobs(session: Session, jobs: Sequence[NewClosedJob]) -> dict[str, int]:
    """Put jobs in; numbers of their calls by identity."""
    if not jobs:
        return {}
    rows = [
        {
            "client_id": job.identity,
            "network_id": job.network_id,
            "network_version": job.network_version,
            "caller": "",
            "opened_at": job.opened_at,
            "opened_by": job.taken_by,
            "version": len(job.events),
            "is_open": False,
        }
        for job in jobs
    ]
    query = insert(CallRow).returning(CallRow.id, sort_by_parameter_order=True)
    numbers = list(session.scalars(query, rows))
    pairs = list(zip(numbers, jobs, strict=True))
    session.execute(insert(EventRow), [row for pair in pairs for row in _event_rows(*pair)])
    timed = [
        {"call_id": number, "minutes": dict(job.step_minutes)}
        for number, job in pairs
        if job.step_minutes
    ]
    if timed:
        session.execute(insert(TimedStepsRow), timed)
    return {job.identity: number for number, job in pairs}


def _event_rows(number: int, job: NewClosedJob) -> Iterator[dict[str, Any]]:
    for place, (draft, at) in enumerate(job.events, start=1):
        yield {
            "call_id": number,
            "sequence": place,
            "client_id": job.identity,
            "part": place,
            "kind": draft.kind,
            "payload": dict(draft.payload),
            "at": at,
            "by": job.taken_by,
            "network_version": job.network_version,
        }


def close_jobs(session: Session, jobs: Sequence[tuple[int, NewClosedJob]]) -> None:
    """Close jobs that were put in; each with the number of its call."""
    if not jobs:
        return
    rows = [
        {
            "call_id": number,
            "client_id": job.content,
            "closed_at": job.closed_at,
            "closed_by": job.closed_by,
            "source": job.source,
            **{name: getattr(job.closing, name) for name in FIELDS},
        }
        for number, job in jobs
    ]
    query = insert(ClosingRow).returning(ClosingRow.id, sort_by_parameter_order=True)
    parts = [
        {"closing_id": number, **asdict(part)}
        for number, (_, job) in zip(session.scalars(query, rows), jobs, strict=True)
        for part in job.closing.parts
    ]
    if parts:
        session.execute(insert(PartUsedRow), parts)


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
