"""Calls and their events: add, read, list.

A page sends the **version** of the call it was showing and an **id** made when the page was built
(a ``Submission``). The id tells a double submit, which is harmless; a call that has gone on since
the page was shown is a ``StaleCallError``, and nothing is written.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import exists, or_, select
from sqlalchemy.orm import Session, selectinload

from triage.errors import StaleCallError, UnknownCallError
from triage.store.tables.calls import CallRow, EventRow
from triage.store.tables.closings import ClosingRow


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCall:
    """A call as it is opened; ``client_id`` is the id made by the page."""

    client_id: str
    network_id: str
    network_version: int
    caller: str
    caller_folded: str = ""
    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class Submission:
    """What a page sends along: the id it made, and the version of the call it showed."""

    client_id: str
    shown_version: int


@dataclass(frozen=True, slots=True)
class Draft:
    """An event to be added: its kind and what it holds."""

    kind: str
    payload: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEvent:
    """An event as it was stored; ``at`` is in UTC; the version of the network is of its time."""

    sequence: int
    client_id: str
    kind: str
    payload: Mapping[str, Any]
    at: datetime
    by: str
    network_version: int | None = None

    def as_draft(self) -> Draft:
        """Event as it was given to the store."""
        return Draft(self.kind, self.payload)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredCall:
    """A call with its events in the order they happened; ``version`` is how many there are."""

    id: int
    network_id: str
    network_version: int
    caller: str
    opened_at: datetime
    opened_by: str
    version: int
    is_open: bool
    events: tuple[StoredEvent, ...]


def add_call(session: Session, new: NewCall) -> tuple[int, bool]:
    """Number of the call, and whether it is new; the same ``client_id`` finds the same call."""
    found = session.scalar(select(CallRow.id).where(CallRow.client_id == new.client_id))
    if found is not None:
        return found, False
    row = CallRow(
        client_id=new.client_id,
        network_id=new.network_id,
        network_version=new.network_version,
        caller=new.caller,
        caller_folded=new.caller_folded,
        opened_at=new.at,
        opened_by=new.by,
        version=0,
        is_open=True,
    )
    session.add(row)
    session.flush()
    return row.id, True


def read_call(session: Session, call_id: int) -> StoredCall:
    """Read a call with its events, or raise ``UnknownCallError``."""
    return _stored(_row(session, call_id))


def call_to_change(session: Session, call_id: int) -> StoredCall:
    """Read a call and keep every other writer from it until the session ends."""
    return _stored(_row(session, call_id, lock=True))


def list_calls(session: Session, *, since: datetime, limit: int = 200) -> tuple[StoredCall, ...]:
    """Calls that are open or were opened since a moment, newest first."""
    rows = session.scalars(
        select(CallRow)
        .where(or_(CallRow.is_open, CallRow.opened_at >= since))
        .order_by(CallRow.opened_at.desc(), CallRow.id.desc())
        .limit(limit)
        .options(selectinload(CallRow.events))
    )
    return tuple(_stored(row) for row in rows)


def calls_in_work(session: Session, *, since: datetime, limit: int) -> tuple[StoredCall, ...]:
    """Calls that are open, whose job is not closed, or that were opened since a moment."""
    is_closed = exists().where(ClosingRow.call_id == CallRow.id)
    rows = session.scalars(
        select(CallRow)
        .where(or_(CallRow.is_open, CallRow.opened_at >= since, ~is_closed))
        .order_by(CallRow.opened_at.desc(), CallRow.id.desc())
        .limit(limit)
        .options(selectinload(CallRow.events))
    )
    return tuple(_stored(row) for row in rows)


def read_calls(session: Session, call_ids: Sequence[int]) -> tuple[StoredCall, ...]:
    """Read some calls, newest first."""
    rows = session.scalars(
        select(CallRow)
        .where(CallRow.id.in_(call_ids))
        .order_by(CallRow.opened_at.desc(), CallRow.id.desc())
        .options(selectinload(CallRow.events))
    )
    return tuple(_stored(row) for row in rows)


def check_shown(call: StoredCall, submission: Submission) -> None:
    """Raise ``StaleCallError`` if the call has gone on since the page was shown."""
    if submission.shown_version != call.version:
        raise StaleCallError(str(call.id), submission.shown_version, call.version)


def add_events(
    session: Session,
    call_id: int,
    drafts: Iterable[Draft],
    submission: Submission,
    *,
    at: datetime,
    by: str,
    is_open: bool,
    network_version: int | None = None,
) -> None:
    """Add events after the present ones; ``is_open`` is what the call is afterwards.

    Raises
    ------
    StaleCallError
        The call has gone on since the page was shown.
    """
    row = _row(session, call_id, lock=True)
    check_shown(_stored(row), submission)
    for part, draft in enumerate(drafts):
        row.version += 1
        event = EventRow(
            sequence=row.version,
            client_id=submission.client_id,
            part=part,
            kind=draft.kind,
            payload=dict(draft.payload),
            at=at,
            by=by,
            network_version=network_version,
        )
        row.events.append(event)
    row.is_open = is_open
    session.flush()


def _row(session: Session, call_id: int, *, lock: bool = False) -> CallRow:
    row = session.get(CallRow, call_id, with_for_update=lock)
    if row is None:
        raise UnknownCallError(str(call_id))
    return row


def _stored(row: CallRow) -> StoredCall:
    return StoredCall(
        id=row.id,
        network_id=row.network_id,
        network_version=row.network_version,
        caller=row.caller,
        opened_at=row.opened_at,
        opened_by=row.opened_by,
        version=row.version,
        is_open=row.is_open,
        events=tuple(
            StoredEvent(
                sequence=event.sequence,
                client_id=event.client_id,
                kind=event.kind,
                payload=event.payload,
                at=event.at,
                by=event.by,
                network_version=event.network_version,
            )
            for event in row.events
        ),
    )
