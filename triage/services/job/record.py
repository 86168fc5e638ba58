"""Enter something on a visit: from a page at once, or from a device that had no signal, later.

A **page** sends one event with the version of the job it showed; if the job has gone on since, the
page is stale and nothing is written. A **device** sends entries that it kept, each with an id and
the time at which it was made. They go into the log in their order, each once, whatever happened in
the meantime: a finding that met another answer stays beside it, the later one counts, and the job
says so. Pieces that a repair used leave the stock of the van in the same transaction.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from triage.errors import NotPossibleNowError, StaleCallError, TriageError
from triage.network.values import FaultNetwork
from triage.services.call_log.change import Entry
from triage.services.call_log.events import FindingMade, FindingUndone
from triage.services.calls.calls import go_on_or_refuse
from triage.services.job.check import checked
from triage.services.job.events import (
    AnsweredTwice,
    Arrived,
    JobEvent,
    Left,
    RepairDone,
    RepairUndone,
    as_draft,
    event_from_sent,
    from_stored,
)
from triage.services.job.state import JobState
from triage.services.networks.in_use import network_of_call
from triage.store.calls import (
    StoredCall,
    StoredEvent,
    Submission,
    add_events,
    call_to_change,
    check_shown,
)
from triage.store.database import Database
from triage.store.jobs import is_closed
from triage.store.stock import NewMove, add_moves, van_of_call
from triage.store.visits import DONE, UNDER_WAY, change_visit, visits_of_call

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

USED, RETURNED = "used", "returned"


class Reception(StrEnum):
    """What became of an entry that a device sent."""

    STORED = "stored"
    STORED_BEFORE = "stored_before"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class SentEntry:
    """An entry that a device kept; ``shown_version`` is that of the sheet it was made on."""

    id: str
    kind: str
    payload: Mapping[str, Any]
    made_at: datetime
    shown_version: int


@dataclass(frozen=True, slots=True)
class Received:
    """What became of an entry; ``message`` says why it was refused, ``error`` what refused it."""

    id: str
    reception: Reception
    message: str = ""
    error: TriageError | None = None

    def as_json(self) -> dict[str, str]:
        """Plain values; keys are stable (docs/json.md)."""
        return {"id": self.id, "reception": self.reception.value, "message": self.message}


def record(database: Database, call_id: int, event: JobEvent, entry: Entry) -> None:
    """Enter what a page sent; the same page sent again changes nothing.

    Raises
    ------
    UnknownCallError, StaleCallError
    SafetyFirstError, OutOfScopeError
        Nothing may be found out about this machine.
    EvidenceError, JobError
        The entry is not one that this job can take.
    """
    with database.writing() as session:
        call = call_to_change(session, call_id)
        network = network_of_call(database, call.network_id, call.network_version)
        sent_before = [one for one in call.events if one.client_id == entry.submission.client_id]
        if sent_before:
            _check_same(call, sent_before, event, entry, network)
            return
        check_shown(call, entry.submission)
        _add(session, call, event, entry, network)


def record_entries(
    database: Database, call_id: int, entries: Sequence[SentEntry], *, at: datetime, by: str
) -> tuple[Received, ...]:
    """Enter what a device kept while it had no signal; sent again, nothing is entered twice.

    Raises
    ------
    UnknownCallError
    SafetyFirstError, OutOfScopeError
        Nothing may be found out about this machine.
    """
    own = {entry.id for entry in entries}
    with database.writing() as session:
        call = call_to_change(session, call_id)
        state = JobState.of(call)
        network = network_of_call(database, call.network_id, call.network_version)
        go_on_or_refuse(state.call, network)
        return tuple(_receive(session, call_id, entry, own, at, by, network) for entry in entries)


def _check_same(
    call: StoredCall,
    sent_before: Sequence[StoredEvent],
    event: JobEvent,
    entry: Entry,
    network: FaultNetwork,
) -> None:
    """Raise unless the same page sends the same again."""
    before = replace(call, events=call.events[: sent_before[0].sequence - 1])
    again = checked(event, JobState.of(before), network)
    if as_draft(again) != sent_before[0].as_draft():
        raise StaleCallError(str(call.id), entry.submission.shown_version, call.version)


def _receive(
    session: "Session",
    call_id: int,
    entry: SentEntry,
    own: set[str],
    at: datetime,
    by: str,
    network: FaultNetwork,
) -> Received:
    call = call_to_change(session, call_id)
    if any(one.client_id == entry.id for one in call.events):
        return Received(entry.id, Reception.STORED_BEFORE)
    made_at = min(max(entry.made_at, call.opened_at), at)
    stamp = Entry(submission=Submission(entry.id, call.version), at=made_at, by=by)
    try:
        event = event_from_sent(entry.kind, entry.payload)
        met = _met(call, event, entry, own)
        _add(session, call, event, stamp, network, met)
    except TriageError as error:
        return Received(entry.id, Reception.REFUSED, str(error), error)
    return Received(entry.id, Reception.STORED)


def _met(
    call: StoredCall, event: JobEvent, entry: SentEntry, own: set[str]
) -> tuple[StoredEvent, ...]:
    """Answers to the same question that the sheet did not show and the device did not give."""
    if not isinstance(event, FindingMade):
        return ()
    return tuple(
        one
        for one in call.events
        if one.kind == FindingMade.kind
        and one.sequence > entry.shown_version
        and one.client_id not in own
        and one.payload["observation"] == event.observation
    )


def _add(
    session: "Session",
    call: StoredCall,
    event: JobEvent,
    entry: Entry,
    network: FaultNetwork,
    met: Sequence[StoredEvent] = (),
) -> None:
    """Add an event, what it met, and the pieces it moves."""
    state = JobState.of(call)
    go_on_or_refuse(state.call, network)
    if is_closed(session, call.id):
        raise NotPossibleNowError(
            "The job is closed", "Have its closing corrected, or open a call."
        )
    event = checked(event, state, network)
    if isinstance(event, FindingUndone) and state.answer_to(event.observation) is None:
        return
    events: list[JobEvent] = [event, *_twice(event, met, entry.at)]
    add_events(
        session,
        call.id,
        [as_draft(one) for one in events],
        entry.submission,
        at=entry.at,
        by=entry.by,
        is_open=call.is_open,
        network_version=network.version,
    )
    _move(session, call.id, event, state, entry)
    _set_visit(session, call.id, event, entry.at)


def _twice(event: JobEvent, met: Sequence[StoredEvent], at: datetime) -> Iterable[AnsweredTwice]:
    """That an answer met another one; the later one counts."""
    if not met or not isinstance(event, FindingMade):
        return
    last = max(met, key=lambda one: (one.at, one.sequence))
    other = from_stored(last.kind, last.payload)
    if isinstance(other, FindingMade) and other.answer != event.answer:
        counts = other.answer if last.at > at else event.answer
        yield AnsweredTwice(event.observation, event.answer, other.answer, counts)


def _move(session: "Session", call_id: int, event: JobEvent, state: JobState, entry: Entry) -> None:
    """Take the pieces of a repair off the van, or put them back."""
    if isinstance(event, RepairDone):
        pieces, sign, reason = event.pieces, -1, USED
    elif isinstance(event, RepairUndone):
        undone = [one for one in state.repairs if one.repair == event.repair][-1]
        pieces, sign, reason = undone.pieces, 1, RETURNED
    else:
        return
    van_id = van_of_call(session, call_id)
    if van_id is None:
        return
    counts: dict[tuple[str, str], int] = {}
    for piece in pieces:
        key = (piece.part, piece.variant)
        counts[key] = counts.get(key, 0) + sign * piece.pieces
    moves = [
        NewMove(part=part, variant=variant, pieces=count, reason=reason, call_id=call_id)
        for (part, variant), count in counts.items()
    ]
    add_moves(session, van_id, moves, entry.submission.client_id, entry.at, entry.by)


def _set_visit(session: "Session", call_id: int, event: JobEvent, at: datetime) -> None:
    """Mark the visit of a call as under way, or as over; what is over stays so."""
    if not isinstance(event, Arrived | Left):
        return
    live = [one for one in visits_of_call(session, call_id) if one.is_live]
    if live:
        state = UNDER_WAY if isinstance(event, Arrived) else DONE
        change_visit(session, live[0].id, at=at, state=state)
