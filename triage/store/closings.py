"""Closed jobs: add one, correct it, list them page by page, walk through all of them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, selectinload

from triage.errors import NotClosedError, UnknownCallError
from triage.store.tables.calls import CallRow
from triage.store.tables.closings import ClosingRow, PartUsedRow
from triage.store.tables.visits import VisitRow

BATCH = 500  # rows read at once when all are walked through
OPEN_STATES = ("booked", "under_way")


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPart:
    """A part that was fitted; see ``PartUsedRow``."""

    part_id: str
    variant: str
    pieces: int
    price_minor: int
    was_aboard: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosingData:
    """What is kept of a closed job; see ``ClosingRow``."""

    outcome: str
    causes: Sequence[Any]
    repairs: Sequence[Any]
    is_unsure: bool
    verification: str
    minutes: float | None
    visits: int
    callback_of_id: int | None
    callback_kind: str
    labour_minor: int
    fee_minor: int
    tax_minor: int
    total_minor: int
    currency: str
    note: str
    promised: dict[str, Any]
    network_version: int
    parts: tuple[StoredPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredClosing:
    """A closed job with what stands with its call."""

    call_id: int
    client_id: str
    data: ClosingData
    closed_at: datetime
    closed_by: str
    source: str
    network_id: str
    caller: str
    opened_at: datetime
    opened_by: str
    customer_id: int | None
    machine_id: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosingFilter:
    """Which closed jobs to look for; empty or None lets every job through."""

    network_id: str = ""
    outcome: str = ""
    closed_by: str = ""
    since: datetime | None = None
    before: datetime | None = None


@dataclass(frozen=True, slots=True)
class VisitTimes:
    """A visit of a job: when it begins and ends, and how it stands."""

    id: int
    starts_at: datetime
    ends_at: datetime
    state: str


def find_closing(session: Session, call_id: int) -> StoredClosing | None:
    """Closing of a call, or None if the job is not closed."""
    row = session.scalar(select(ClosingRow).where(ClosingRow.call_id == call_id))
    return None if row is None else _stored(row)


def read_closing(session: Session, call_id: int) -> StoredClosing:
    """Closing of a call, or ``NotClosedError``."""
    found = find_closing(session, call_id)
    if found is None:
        raise NotClosedError(call_id)
    return found


def put_closing(
    session: Session,
    call_id: int,
    data: ClosingData,
    *,
    client_id: str,
    at: datetime,
    by: str,
    source: str = "app",
) -> None:
    """Close a job; what was kept of an earlier closing of the same call is replaced."""
    row = session.scalar(select(ClosingRow).where(ClosingRow.call_id == call_id))
    if row is None:
        row = ClosingRow(call_id=call_id)
        session.add(row)
    row.client_id, row.closed_at, row.closed_by, row.source = client_id, at, by, source
    _fill(row, data)
    session.flush()


def correct_closing(session: Session, call_id: int, data: ClosingData) -> None:
    """Replace what is kept of a closed job; when it was closed, and by whom, stays."""
    row = session.scalar(select(ClosingRow).where(ClosingRow.call_id == call_id))
    if row is None:
        raise NotClosedError(call_id)
    _fill(row, data)
    session.flush()


def list_closings(
    session: Session, wanted: ClosingFilter, *, offset: int, limit: int
) -> tuple[StoredClosing, ...]:
    """Closed jobs that pass the filter, newest first."""
    newest = _passing(wanted).order_by(ClosingRow.closed_at.desc(), ClosingRow.id.desc())
    rows = session.scalars(newest.offset(offset).limit(limit))
    return tuple(_stored(row) for row in rows)


def count_closings(session: Session, wanted: ClosingFilter) -> int:
    """How many closed jobs pass the filter."""
    counted = select(func.count()).select_from(_passing(wanted).subquery())
    return session.scalar(counted) or 0


def walk_closings(session: Session, wanted: ClosingFilter) -> Iterator[StoredClosing]:
    """Every closed job that passes the filter, oldest first, read a batch at a time."""
    after: tuple[datetime, int] | None = None
    while True:
        query = _passing(wanted).order_by(ClosingRow.closed_at, ClosingRow.id).limit(BATCH)
        if after is not None:
            at, last = after
            later = ClosingRow.closed_at > at
            same = (ClosingRow.closed_at == at) & (ClosingRow.id > last)
            query = query.where(later | same)
        rows = session.scalars(query).all()
        if not rows:
            return
        yield from (_stored(row) for row in rows)
        after = rows[-1].closed_at, rows[-1].id
        session.expire_all()


def ended_without_closing(session: Session, *, limit: int) -> tuple[int, ...]:
    """Numbers of calls that ended and whose jobs are not closed, oldest first."""
    closed = select(ClosingRow.call_id)
    query = select(CallRow.id).where(~CallRow.is_open, CallRow.id.not_in(closed))
    return tuple(session.scalars(query.order_by(CallRow.id).limit(limit)))


def people_who_closed(session: Session) -> tuple[str, ...]:
    """Everybody who closed a job, in alphabetical order."""
    return tuple(session.scalars(select(ClosingRow.closed_by).distinct().order_by("closed_by")))


def earlier_jobs(session: Session, call_id: int, *, limit: int) -> tuple[StoredClosing, ...]:
    """Closed jobs of the same customer, or on the same machine, newest first."""
    call = session.get_one(CallRow, call_id)
    if call.customer_id is None:
        return ()
    rows = session.scalars(
        _passing(ClosingFilter())
        .where(
            CallRow.customer_id == call.customer_id,
            CallRow.id != call_id,
            CallRow.opened_at <= call.opened_at,
        )
        .order_by(ClosingRow.closed_at.desc(), ClosingRow.id.desc())
        .limit(limit)
    )
    return tuple(_stored(row) for row in rows)


def called_back(session: Session, call_ids: Sequence[int]) -> dict[int, StoredClosing]:
    """Job that was closed as a call-back to each of these, by the number of the earlier one."""
    rows = session.scalars(
        _passing(ClosingFilter())
        .where(ClosingRow.callback_of_id.in_(call_ids))
        .order_by(ClosingRow.closed_at.desc(), ClosingRow.id.desc())
    )
    return {row.callback_of_id: _stored(row) for row in rows if row.callback_of_id is not None}


def visits_of(session: Session, call_id: int) -> tuple[VisitTimes, ...]:
    """Visits of a job that took place or are to, in their order."""
    rows = session.scalars(
        select(VisitRow)
        .where(VisitRow.call_id == call_id, VisitRow.state != "cancelled")
        .order_by(VisitRow.starts_at, VisitRow.id)
    )
    return tuple(VisitTimes(row.id, row.starts_at, row.ends_at, row.state) for row in rows)


def finish_visits(session: Session, call_id: int, at: datetime) -> None:
    """Mark the visits of a job done; those that were to begin later are cancelled."""
    rows = session.scalars(
        select(VisitRow).where(VisitRow.call_id == call_id, VisitRow.state.in_(OPEN_STATES))
    )
    for row in rows:
        has_begun = row.state == "under_way" or row.starts_at <= at
        row.state = "done" if has_begun else "cancelled"
        row.sequence += 1
        row.changed_at = at
    session.flush()


def links_of(session: Session, call_id: int) -> tuple[int | None, int | None]:
    """Numbers of the customer and of the machine of a call."""
    call = session.get_one(CallRow, call_id)
    return call.customer_id, call.machine_id


def network_version_at_call(session: Session, call_id: int) -> int:
    """Version of the network with which the call was begun."""
    return session.get_one(CallRow, call_id).network_version


def plate_of(session: Session, call_id: int) -> str:
    """What the plate of the machine of a call says; empty if nobody has read it.

    Raises
    ------
    UnknownCallError
    """
    call = session.get(CallRow, call_id)
    if call is None:
        raise UnknownCallError(str(call_id))
    return "" if call.machine is None else call.machine.plate_text


def _passing(wanted: ClosingFilter) -> Select[ClosingRow]:
    query = (
        select(ClosingRow)
        .join(CallRow, ClosingRow.call_id == CallRow.id)
        .options(selectinload(ClosingRow.parts), selectinload(ClosingRow.call))
    )
    if wanted.network_id:
        query = query.where(CallRow.network_id == wanted.network_id)
    if wanted.outcome:
        query = query.where(ClosingRow.outcome == wanted.outcome)
    if wanted.closed_by:
        query = query.where(ClosingRow.closed_by == wanted.closed_by)
    if wanted.since is not None:
        query = query.where(ClosingRow.closed_at >= wanted.since)
    if wanted.before is not None:
        query = query.where(ClosingRow.closed_at < wanted.before)
    return query


def _fill(row: ClosingRow, data: ClosingData) -> None:
    for name in ClosingData.__dataclass_fields__:
        if name not in ("parts", "causes", "repairs"):
            setattr(row, name, getattr(data, name))
    row.causes, row.repairs = list(data.causes), list(data.repairs)
    row.parts = [
        PartUsedRow(
            part_id=part.part_id,
            variant=part.variant,
            pieces=part.pieces,
            price_minor=part.price_minor,
            was_aboard=part.was_aboard,
        )
        for part in data.parts
    ]


def _stored(row: ClosingRow) -> StoredClosing:
    call = row.call
    kept = {
        name: getattr(row, name) for name in ClosingData.__dataclass_fields__ if name != "parts"
    }
    parts = tuple(
        StoredPart(
            part_id=part.part_id,
            variant=part.variant,
            pieces=part.pieces,
            price_minor=part.price_minor,
            was_aboard=part.was_aboard,
        )
        for part in sorted(row.parts, key=lambda part: part.id)
    )
    return StoredClosing(
        call_id=row.call_id,
        client_id=row.client_id,
        data=ClosingData(**kept, parts=parts),
        closed_at=row.closed_at,
        closed_by=row.closed_by,
        source=row.source,
        network_id=call.network_id,
        caller=call.caller,
        opened_at=call.opened_at,
        opened_by=call.opened_by,
        customer_id=call.customer_id,
        machine_id=call.machine_id,
    )
