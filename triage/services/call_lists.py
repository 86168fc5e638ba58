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
from triage.store.calls import StoredCall, call_names, calls_in_work, read_calls
from triage.store.customers import StoredCustomer, customers_of_calls, find_customers
from triage.store.database import Database
from triage.store.visits import DONE, StoredVisit, closed_calls, newest_visits

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

FOUND_MAX = 200
NAMES_LOOKED_AT = 5000  # newest calls whose callers are searched


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


def desk_calls(
    database: Database, *, since: datetime, limit: int = FOUND_MAX
) -> tuple[ListedCall, ...]:
    """Calls that wait for something, and those opened since a moment, newest first."""
    with database.reading() as session:
        listed = _listed(session, calls_in_work(session, since=since, limit=limit))
    return tuple(
        one for one in listed if one.place is not CallPlace.ENDED or one.state.opened_at >= since
    )


def search_calls(database: Database, text: str, region: str) -> tuple[ListedCall, ...]:
    """Calls by number, by how the caller was noted, or by name or number of the customer."""
    wanted = folded(text)
    if not wanted:
        return ()
    words, digits = wanted.split(), digits_searched(text, region)
    with database.reading() as session:
        customers = find_customers(
            session, words=words, digits=digits, said=text.strip(), limit=FOUND_MAX
        )
        of_customers = {one.id for one in customers}
        found = [
            name.call_id
            for name in call_names(session, limit=NAMES_LOOKED_AT)
            if str(name.call_id) == wanted
            or name.customer_id in of_customers
            or all(word in folded(name.caller) for word in words)
        ]
        return _listed(session, read_calls(session, found[:FOUND_MAX]))


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
