"""Book a visit, move it, cancel it; what happens to it goes into the events of its call.

Everything is done in one transaction: the call is locked first, then the van, so that two people
can neither book one call twice nor one van twice. A page that shows an older state of the call is
refused as everywhere (``StaleCallError``), and the same submission again is harmless.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING, Any

from triage.errors import (
    OutsideHoursError,
    SlotTakenError,
    SlotTimeError,
    StaleCallError,
    VisitStateError,
)
from triage.services.booking.days import Stretch, day_of, opening_stretches
from triage.services.booking.promise import Promised, promised_as_json
from triage.services.booking.slots import arrival_window
from triage.services.call_log.change import Entry
from triage.services.call_log.events import (
    CallEvent,
    CallOutcome,
    LaterEvent,
    OutcomeRecorded,
    as_draft,
)
from triage.services.call_log.state import CallState
from triage.services.calls.calls import outcomes_allowed
from triage.services.settings.hours import DeskSettings
from triage.store import visits as store
from triage.store.calls import add_events, call_to_change, check_shown
from triage.store.database import Database
from triage.store.visits import StoredVisit, VisitDraft

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

__all__ = [
    "BookingRules",
    "BookingWanted",
    "SlotWanted",
    "StoredVisit",
    "book_visit",
    "cancel_visit",
    "find_visit",
    "miss_visit",
    "move_visit",
    "run_late",
]

BOOKED, MOVED, LATE = "visit_booked", "visit_moved", "visit_late"
CANCELLED, NO_SHOW = "visit_cancelled", "visit_no_show"
FIGURES = "figures"  # field of a booking with what was promised, absent in old ones
LONGEST_MINUTES = 480  # a working day
LATEST_MINUTES = 480
STATE_TITLES = {
    store.BOOKED: "booked",
    store.UNDER_WAY: "under way",
    store.DONE: "done",
    store.CANCELLED: "cancelled",
    store.NO_SHOW: "missed: nobody was there",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotWanted:
    """A time on a van's day; ``starts_at`` has its zone.

    With ``outside_hours`` whoever books confirms that it may lie outside opening hours.
    """

    van_id: int
    starts_at: datetime
    minutes: int
    outside_hours: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingWanted:
    """A visit to be booked; ``promised`` is what the customer was told of price and time.

    ``figures`` are the numbers behind it, None where nothing could be planned.
    """

    call_id: int
    slot: SlotWanted
    note: str = ""
    promised: Mapping[str, Any] = field(default_factory=dict)
    figures: Promised | None = None


@dataclass(frozen=True, slots=True)
class BookingRules:
    """Settings of the desk and the zone of the shop, in which messages name times."""

    settings: DeskSettings
    zone: tzinfo


def book_visit(database: Database, wanted: BookingWanted, rules: BookingRules, entry: Entry) -> int:
    """Book a visit for a call and return its number; a call that is open ends with it.

    A call whose earlier visits are done, cancelled or missed can be booked again, with every
    finding kept, as long as its job is not closed.

    Raises
    ------
    UnknownCallError, UnknownVanError, StaleCallError
    SlotTakenError
        The van has another visit then.
    SlotTimeError
        The time is past, the length out of bounds, or the call cannot be booked.
    OutsideHoursError
        It is outside opening hours, and that was not confirmed.
    """
    slot = _checked(wanted.slot, entry.at)
    outside = _outside_hours(wanted.slot, slot, rules)
    with database.writing() as session:
        call = call_to_change(session, wanted.call_id)
        sent = store.visit_sent(session, entry.submission.client_id)
        if sent is not None:
            if (sent.call_id, sent.van_id, sent.starts_at) == (
                call.id,
                wanted.slot.van_id,
                slot.begins,
            ):
                return sent.id
            raise StaleCallError(str(call.id), entry.submission.shown_version, call.version)
        check_shown(call, entry.submission)
        state = CallState.of(call)
        _check_bookable(database, session, state)
        _check_free(session, wanted.slot.van_id, slot, rules)
        visit_id = store.add_visit(session, _draft(wanted, slot, rules, entry))
        ending = [OutcomeRecorded(CallOutcome.VISIT, wanted.note)] if state.is_open else []
        told = {"promised": wanted.promised, FIGURES: promised_as_json(wanted.figures), **outside}
        booked = _event(BOOKED, store.read_visit(session, visit_id), **told)
        _add(session, state, [*ending, booked], entry)
    return visit_id


def move_visit(
    database: Database, visit_id: int, wanted: SlotWanted, rules: BookingRules, entry: Entry
) -> None:
    """Move a booked visit to another time or van; the new window is on time again.

    Raises
    ------
    UnknownVisitError, UnknownVanError, StaleCallError, SlotTakenError, SlotTimeError
    OutsideHoursError
    VisitStateError
        It is under way or over.
    """
    slot = _checked(wanted, entry.at)
    outside = _outside_hours(wanted, slot, rules)

    def move(session: "Session", visit: StoredVisit) -> str:
        _check_free(session, wanted.van_id, slot, rules, except_visit=visit.id)
        window = arrival_window(slot.begins, rules.settings)
        store.change_visit(
            session,
            visit.id,
            at=entry.at,
            van_id=wanted.van_id,
            times=(slot.begins, slot.ends),
            window=(window.begins, window.ends),
            late_minutes=0,
        )
        return MOVED

    _change(database, visit_id, entry, move, **outside)


def run_late(database: Database, visit_id: int, minutes: int, entry: Entry) -> None:
    """Say that the technician comes so many minutes later than planned; moves the window.

    ``minutes`` counts from the plan, not from what was said before. 0 is on time again.

    Raises
    ------
    UnknownVisitError, StaleCallError, VisitStateError
    SlotTimeError
        More minutes than a day has room for, or fewer than none.
    """
    if not 0 <= minutes <= LATEST_MINUTES:
        raise SlotTimeError(f"late by {minutes} minutes is not between 0 and {LATEST_MINUTES}")

    def be_late(session: "Session", visit: StoredVisit) -> str:
        more = timedelta(minutes=minutes - visit.late_minutes)
        store.change_visit(
            session,
            visit.id,
            at=entry.at,
            late_minutes=minutes,
            window=(visit.window_starts_at + more, visit.window_ends_at + more),
        )
        return LATE

    _change(database, visit_id, entry, be_late)


def cancel_visit(database: Database, visit_id: int, reason: str, entry: Entry) -> None:
    """Cancel a booked visit; its time is free again and the call waits for a new one.

    Raises
    ------
    UnknownVisitError, StaleCallError, VisitStateError
    """

    def cancel(session: "Session", visit: StoredVisit) -> str:
        store.change_visit(session, visit.id, at=entry.at, state=store.CANCELLED)
        return CANCELLED

    _change(database, visit_id, entry, cancel, reason=reason.strip())


def miss_visit(database: Database, visit_id: int, entry: Entry) -> None:
    """Record that nobody was there when the technician came.

    Raises
    ------
    UnknownVisitError, StaleCallError, VisitStateError
    SlotTimeError
        The visit has not begun.
    """

    def miss(session: "Session", visit: StoredVisit) -> str:
        if entry.at < visit.starts_at:
            raise SlotTimeError("the visit has not begun, so nobody can have been missed")
        store.change_visit(session, visit.id, at=entry.at, state=store.NO_SHOW)
        return NO_SHOW

    _change(database, visit_id, entry, miss)


def find_visit(database: Database, visit_id: int) -> StoredVisit:
    """Visit of a number, or ``UnknownVisitError``."""
    with database.reading() as session:
        return store.read_visit(session, visit_id)


def _change(
    database: Database,
    visit_id: int,
    entry: Entry,
    change: "Callable[[Session, StoredVisit], str]",
    **told: Any,
) -> None:
    """Change a visit that is booked, and tell its call; a double submit changes nothing."""
    with database.reading() as session:
        call_id = store.read_visit(session, visit_id).call_id
    with database.writing() as session:
        call = call_to_change(session, call_id)
        if any(one.client_id == entry.submission.client_id for one in call.events):
            return
        check_shown(call, entry.submission)
        visit = store.read_visit(session, visit_id)
        if visit.state != store.BOOKED:
            raise VisitStateError(visit_id, STATE_TITLES[visit.state])
        kind = change(session, visit)
        changed = _event(kind, store.read_visit(session, visit_id), **told)
        _add(session, CallState.of(call), [changed], entry)


def _checked(wanted: SlotWanted, now: datetime) -> Stretch:
    if not 0 < wanted.minutes <= LONGEST_MINUTES:
        raise SlotTimeError(f"a visit of {wanted.minutes} minutes is not 1 to {LONGEST_MINUTES}")
    if wanted.starts_at < now:
        raise SlotTimeError("that time is past")
    begins = wanted.starts_at.astimezone(UTC)  # an hour is an hour, also when clocks change
    return Stretch(begins, begins + timedelta(minutes=wanted.minutes))


def _outside_hours(wanted: SlotWanted, slot: Stretch, rules: BookingRules) -> dict[str, bool]:
    """What the event tells of a time outside opening hours that was confirmed; else nothing."""
    day = day_of(slot.begins, rules.zone)
    open_times = opening_stretches(day, rules.settings, rules.zone)
    if any(one.begins <= slot.begins and slot.ends <= one.ends for one in open_times):
        return {}
    if not wanted.outside_hours:
        begins, ends = (one.astimezone(rules.zone) for one in (slot.begins, slot.ends))
        raise OutsideHoursError(f"{begins:%a %d %b, %H:%M} to {ends:%H:%M}")
    return {"outside_hours": True}


def _check_bookable(database: Database, session: "Session", state: CallState) -> None:
    if any(one.is_live for one in store.visits_of_call(session, state.call_id)):
        raise SlotTimeError("the call has a visit already; move that one")
    if store.closed_calls(session, [state.call_id]):
        raise SlotTimeError("the job of this call is closed; take a new call")
    if state.is_open:
        can_be = CallOutcome.VISIT in outcomes_allowed(database, state)
    else:
        can_be = state.outcome is not None and state.outcome.outcome is CallOutcome.VISIT
    if not can_be:
        raise SlotTimeError("the call did not end with a visit; open it again first")


def _check_free(
    session: "Session", van_id: int, slot: Stretch, rules: BookingRules, except_visit: int = 0
) -> None:
    van = store.van_to_book(session, van_id)
    travel = rules.settings.travel_minutes
    around = slot.widened(travel)
    for other in store.visits_between(session, around.begins, around.ends, van_id=van_id):
        if other.id != except_visit:
            begins, ends = (one.astimezone(rules.zone) for one in (other.starts_at, other.ends_at))
            raise SlotTakenError(van.name, f"{begins:%H:%M} to {ends:%H:%M}", travel)


def _draft(wanted: BookingWanted, slot: Stretch, rules: BookingRules, entry: Entry) -> VisitDraft:
    window = arrival_window(slot.begins, rules.settings)
    client_id = entry.submission.client_id
    return VisitDraft(
        client_id=client_id,
        call_id=wanted.call_id,
        van_id=wanted.slot.van_id,
        starts_at=slot.begins,
        ends_at=slot.ends,
        window_starts_at=window.begins,
        window_ends_at=window.ends,
        note=wanted.note,
        uid=f"{client_id}@visits",
        at=entry.at,
        by=entry.by,
    )


def _event(kind: str, visit: StoredVisit, **told: Any) -> LaterEvent:
    """What happened to a visit, with its times as they are afterwards."""
    payload = {
        "visit_id": visit.id,
        "van_id": visit.van_id,
        "starts_at": visit.starts_at.isoformat(),
        "ends_at": visit.ends_at.isoformat(),
        "window_starts_at": visit.window_starts_at.isoformat(),
        "window_ends_at": visit.window_ends_at.isoformat(),
        "late_minutes": visit.late_minutes,
        **told,
    }
    return LaterEvent(kind, payload)


def _add(session: "Session", state: CallState, events: Sequence[CallEvent], entry: Entry) -> None:
    add_events(
        session,
        state.call_id,
        [as_draft(event) for event in events],
        entry.submission,
        at=entry.at,
        by=entry.by,
        is_open=False,
    )
