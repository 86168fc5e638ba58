"""Vans and the visits booked on their days.

Two people must not book the same time. SQLite lets one writer in at a time; on PostgreSQL the row
of the van is locked before its visits are looked at, and the second waits for the first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from triage.errors import UnknownFeedError, UnknownVanError, UnknownVisitError, VanNameTakenError
from triage.store.tables.closings import ClosingRow
from triage.store.tables.visits import VanRow, VisitRow

BOOKED, UNDER_WAY, DONE = "booked", "under_way", "done"
CANCELLED, NO_SHOW = "cancelled", "no_show"
LIVE = (BOOKED, UNDER_WAY)  # still to come or going on
TAKES_TIME = (BOOKED, UNDER_WAY, DONE)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredVan:
    """A van as it is stored; ``technician`` is a name, empty if nobody drives it."""

    id: int
    name: str
    technician_id: int
    technician: str
    is_active: bool
    feed_secret: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitDraft:
    """What a visit is when it is booked."""

    client_id: str
    call_id: int
    van_id: int
    starts_at: datetime
    ends_at: datetime
    window_starts_at: datetime
    window_ends_at: datetime
    note: str
    uid: str
    at: datetime
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredVisit:
    """A visit as it is stored; see ``VisitRow``."""

    id: int
    client_id: str
    call_id: int
    van_id: int
    van: str
    technician: str
    starts_at: datetime
    ends_at: datetime
    window_starts_at: datetime
    window_ends_at: datetime
    state: str
    late_minutes: int
    note: str
    uid: str
    sequence: int
    booked_by: str
    changed_at: datetime

    @property
    def is_live(self) -> bool:
        """Whether it is still to come or going on."""
        return self.state in LIVE


def add_van(session: Session, name: str, technician_id: int, secret: str) -> int:
    """Number of a new van, or ``VanNameTakenError``."""
    _check_name(session, name, 0)
    row = VanRow(name=name, technician_id=technician_id or None, feed_secret=secret)
    session.add(row)
    session.flush()
    return row.id


def change_van(
    session: Session, van_id: int, *, name: str, technician_id: int, is_active: bool
) -> None:
    """Rename a van, give it to somebody, take it out of use or back.

    Raises
    ------
    UnknownVanError, VanNameTakenError
    """
    row = _van_row(session, van_id)
    _check_name(session, name, van_id)
    row.name, row.technician_id, row.is_active = name, technician_id or None, is_active
    session.flush()


def replace_secret(session: Session, van_id: int, secret: str) -> None:
    """Give the calendar of a van a new address; the old one ends."""
    _van_row(session, van_id).feed_secret = secret
    session.flush()


def list_vans(session: Session, *, only_active: bool = False) -> tuple[StoredVan, ...]:
    """Vans by name."""
    query = select(VanRow).order_by(VanRow.name, VanRow.id)
    rows = session.scalars(query.where(VanRow.is_active) if only_active else query)
    return tuple(_van(row) for row in rows)


def read_van(session: Session, van_id: int) -> StoredVan:
    """Read a van, or raise ``UnknownVanError``."""
    return _van(_van_row(session, van_id))


def van_to_book(session: Session, van_id: int) -> StoredVan:
    """Read a van and keep every other booking of it waiting until the session ends."""
    return _van(_van_row(session, van_id, lock=True))


def van_of_feed(session: Session, secret: str) -> StoredVan:
    """Van whose calendar has that secret, or ``UnknownFeedError``."""
    row = session.scalar(select(VanRow).where(VanRow.feed_secret == secret, VanRow.is_active))
    if row is None:
        raise UnknownFeedError
    return _van(row)


def add_visit(session: Session, draft: VisitDraft) -> int:
    """Number of a new visit; whether its time is free is checked by who books."""
    row = VisitRow(
        client_id=draft.client_id,
        call_id=draft.call_id,
        van_id=draft.van_id,
        starts_at=draft.starts_at,
        ends_at=draft.ends_at,
        window_starts_at=draft.window_starts_at,
        window_ends_at=draft.window_ends_at,
        state=BOOKED,
        note=draft.note,
        uid=draft.uid,
        booked_at=draft.at,
        booked_by=draft.by,
        changed_at=draft.at,
    )
    session.add(row)
    session.flush()
    return row.id


def visit_sent(session: Session, client_id: str) -> StoredVisit | None:
    """Visit that a page booked, if it was sent before."""
    row = session.scalar(select(VisitRow).where(VisitRow.client_id == client_id))
    return None if row is None else _visit(row)


def read_visit(session: Session, visit_id: int) -> StoredVisit:
    """Read a visit, or raise ``UnknownVisitError``."""
    return _visit(_visit_row(session, visit_id))


def change_visit(
    session: Session,
    visit_id: int,
    *,
    at: datetime,
    state: str | None = None,
    van_id: int | None = None,
    times: tuple[datetime, datetime] | None = None,
    window: tuple[datetime, datetime] | None = None,
    late_minutes: int | None = None,
    note: str | None = None,
) -> None:
    """Change a visit; ``sequence`` goes up, so that calendars take the change over."""
    row = _visit_row(session, visit_id)
    if times is not None:
        row.starts_at, row.ends_at = times
    if window is not None:
        row.window_starts_at, row.window_ends_at = window
    row.state = row.state if state is None else state
    row.van_id = row.van_id if van_id is None else van_id
    row.late_minutes = row.late_minutes if late_minutes is None else late_minutes
    row.note = row.note if note is None else note
    row.sequence += 1
    row.changed_at = at
    session.flush()
    session.expire(row, ["van"])


def visits_between(
    session: Session,
    begins: datetime,
    ends: datetime,
    *,
    van_id: int = 0,
    states: Sequence[str] = TAKES_TIME,
) -> tuple[StoredVisit, ...]:
    """Visits that touch a stretch of time, of one van or of all, in order."""
    query = (
        select(VisitRow)
        .where(VisitRow.starts_at < ends, VisitRow.ends_at > begins, VisitRow.state.in_(states))
        .order_by(VisitRow.starts_at, VisitRow.id)
    )
    rows = session.scalars(query.where(VisitRow.van_id == van_id) if van_id else query)
    return tuple(_visit(row) for row in rows)


def visits_of_call(session: Session, call_id: int) -> tuple[StoredVisit, ...]:
    """Visits of a call, oldest first, whatever became of them."""
    rows = session.scalars(
        select(VisitRow)
        .where(VisitRow.call_id == call_id)
        .order_by(VisitRow.starts_at, VisitRow.id)
    )
    return tuple(_visit(row) for row in rows)


def newest_visits(session: Session, call_ids: Sequence[int]) -> dict[int, StoredVisit]:
    """Visit of each call that was booked last."""
    rows = session.scalars(
        select(VisitRow)
        .where(VisitRow.call_id.in_(call_ids))
        .order_by(VisitRow.booked_at, VisitRow.id)
    )
    return {row.call_id: _visit(row) for row in rows}


def closed_calls(session: Session, call_ids: Sequence[int]) -> frozenset[int]:
    """Those of some calls whose job is closed."""
    query = select(ClosingRow.call_id).where(ClosingRow.call_id.in_(call_ids))
    return frozenset(session.scalars(query))


def _check_name(session: Session, name: str, van_id: int) -> None:
    same = select(VanRow.id).where(func.lower(VanRow.name) == name.lower(), VanRow.id != van_id)
    if session.scalar(same.limit(1)) is not None:
        raise VanNameTakenError(name)


def _van_row(session: Session, van_id: int, *, lock: bool = False) -> VanRow:
    row = session.get(VanRow, van_id, with_for_update=lock)
    if row is None:
        raise UnknownVanError(van_id)
    return row


def _visit_row(session: Session, visit_id: int) -> VisitRow:
    row = session.get(VisitRow, visit_id)
    if row is None:
        raise UnknownVisitError(visit_id)
    return row


def _van(row: VanRow) -> StoredVan:
    return StoredVan(
        id=row.id,
        name=row.name,
        technician_id=row.technician_id or 0,
        technician=row.technician.name if row.technician else "",
        is_active=row.is_active,
        feed_secret=row.feed_secret,
    )


def _visit(row: VisitRow) -> StoredVisit:
    return StoredVisit(
        id=row.id,
        client_id=row.client_id,
        call_id=row.call_id,
        van_id=row.van_id,
        van=row.van.name,
        technician=row.van.technician.name if row.van.technician else "",
        starts_at=row.starts_at,
        ends_at=row.ends_at,
        window_starts_at=row.window_starts_at,
        window_ends_at=row.window_ends_at,
        state=row.state,
        late_minutes=row.late_minutes,
        note=row.note,
        uid=row.uid,
        sequence=row.sequence,
        booked_by=row.booked_by,
        changed_at=row.changed_at,
    )
