"""Calls as the dispatcher's desk sees them: open, to be booked, waiting for a part, today's.

Each call stands in one list, that of what has to be done next. Who entered something last, and
when, tells who is probably on it: nobody locks a call.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from triage.services.call_log.events import CallOutcome
from triage.services.call_log.state import CallState
from triage.services.customers.phones import digits_searched
from triage.services.folding import folded
from triage.services.job.events import PartArrived, PartOrdered
from triage.store.call_search import CallsWanted, count_calls, find_calls
from triage.store.calls import StoredCall, calls_in_work
from triage.store.customers import StoredCustomer, customers_of_calls
from triage.store.database import Database
from triage.store.visits import DONE, StoredVisit, closed_calls, newest_visits

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

LISTED_MAX = 200
PAGE_LENGTH = 50  # calls
NUMBER_MAX_DIGITS = 9


class CallPlace(StrEnum):
    """What has to be done next with a call."""

    OPEN = "open"
    TO_BOOK = "to_book"
    PART_AWAITED = "part_awaited"
    BOOKED = "booked"
    ENDED = "ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedCall:
    """A call in a list; ``visit`` is the one booked last, ``customer`` None if not on record."""

    state: CallState
    place: CallPlace
    customer: StoredCustomer | None
    visit: StoredVisit | None
    is_closed: bool


@dataclass(frozen=True, slots=True)
class FoundCalls:
    """A page of the calls that were found, newest first; pages count from 1."""

    lines: tuple[ListedCall, ...]
    count: int
    page: int
    pages: int


def desk_calls(
    database: Database, *, since: datetime, limit: int = LISTED_MAX
) -> tuple[ListedCall, ...]:
    """Calls that wait for something, and those opened since a moment, newest first."""
    with database.reading() as session:
        listed = _listed(session, calls_in_work(session, since=since, limit=limit))
    return tuple(
        one for one in listed if one.place is not CallPlace.ENDED or one.state.opened_at >= since
    )


def search_calls(database: Database, text: str, region: str, *, page: int = 1) -> FoundCalls:
    """Calls by number, by how the caller was noted, or by name or number of the customer.

    Every call is searched. A page that is not there gives the nearest; an empty text finds none.
    """
    wanted = folded(text)
    if not wanted:
        return FoundCalls((), 0, 1, 1)
    is_number = wanted.isdecimal() and len(wanted) <= NUMBER_MAX_DIGITS
    asked = CallsWanted(
        words=wanted.split(),
        digits=digits_searched(text, region),
        said=text.strip(),
        number=int(wanted) if is_number else 0,
    )
    with database.reading() as session:
        count = count_calls(session, asked)
        pages = max(1, -(-count // PAGE_LENGTH))
        shown = min(max(page, 1), pages)
        found = find_calls(session, asked, offset=(shown - 1) * PAGE_LENGTH, limit=PAGE_LENGTH)
        return FoundCalls(_listed(session, found), count, shown, pages)


def _listed(session: "Session", calls: Sequence[StoredCall]) -> tuple[ListedCall, ...]:
    numbers = [call.id for call in calls]
    customers = customers_of_calls(session, numbers)
    visits, closed = newest_visits(session, numbers), closed_calls(session, numbers)
    listed = []
    for call in calls:
        state, visit = CallState.of(call), visits.get(call.id)
        listed.append(
            ListedCall(
                state=state,
                place=_place(call, state, visit, call.id in closed),
                customer=customers.get(call.id),
                visit=visit,
                is_closed=call.id in closed,
            )
        )
    return tuple(listed)


def _place(
    call: StoredCall, state: CallState, visit: StoredVisit | None, is_closed: bool
) -> CallPlace:
    if state.is_open:
        return CallPlace.OPEN
    was_for_visit = state.outcome is not None and state.outcome.outcome is CallOutcome.VISIT
    if is_closed or not was_for_visit:
        return CallPlace.ENDED
    if visit is not None and visit.is_live:
        return CallPlace.BOOKED
    if _awaits_part(call):
        return CallPlace.PART_AWAITED
    # A visit that is done without a closing is the technician's to close, unless it needs another.
    return CallPlace.BOOKED if visit is not None and visit.state == DONE else CallPlace.TO_BOOK


def _awaits_part(call: StoredCall) -> bool:
    """Whether a part was ordered and has not come; the job is booked again when it is there."""
    waiting: set[str] = set()
    for event in call.events:
        if event.kind == PartOrdered.kind:
            waiting.add(event.payload["part"])
        elif event.kind == PartArrived.kind:
            waiting.discard(event.payload["part"])
    return bool(waiting)
