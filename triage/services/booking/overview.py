"""What is booked: a day or a week of the vans, and the visits of one call."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from triage.services.booking.days import Stretch, day_of, day_stretch, opening_stretches
from triage.services.booking.visits import BOOKED
from triage.services.call_log.state import CallState
from triage.services.networks.scope import appliance_title
from triage.services.settings.hours import DeskSettings
from triage.store import visits as store
from triage.store.calls import read_call
from triage.store.customers import StoredCustomer, read_customer
from triage.store.database import Database
from triage.store.visits import StoredVan, StoredVisit

SHOWN_STATES = (*store.TAKES_TIME, store.NO_SHOW)


@dataclass(frozen=True, slots=True)
class VisitOfCall:
    """A visit with the call it is for; ``customer`` is None if nobody is on record."""

    visit: StoredVisit
    state: CallState
    appliance: str
    customer: StoredCustomer | None

    @property
    def minutes(self) -> int:
        """Length of the slot."""
        return int((self.visit.ends_at - self.visit.starts_at) / timedelta(minutes=1))

    @property
    def who(self) -> str:
        """Name of the customer, or what the caller was noted as."""
        return self.customer.name if self.customer else self.state.caller

    @property
    def address(self) -> str:
        """Where to go, on one line; empty if it is not on record."""
        if self.customer is None:
            return ""
        town = " ".join(part for part in (self.customer.postcode, self.customer.town) if part)
        return ", ".join(part for part in (self.customer.street, town) if part)


@dataclass(frozen=True, slots=True)
class VanDay:
    """A van's day: when it works and what is booked, in order."""

    van: StoredVan
    day: date
    whole: Stretch
    open_times: tuple[Stretch, ...]
    visits: tuple[VisitOfCall, ...]


@dataclass(frozen=True, slots=True)
class BookingOfCall:
    """Visits of a call, oldest first; ``promised`` is what the customer was told at the last."""

    state: CallState
    customer: StoredCustomer | None
    visits: tuple[StoredVisit, ...]
    promised: Mapping[str, Any]
    is_closed: bool

    @property
    def live(self) -> StoredVisit | None:
        """Visit that is still to come or going on."""
        return next((one for one in reversed(self.visits) if one.is_live), None)


def van_days(
    database: Database,
    settings: DeskSettings,
    zone: tzinfo,
    days: Sequence[date],
    *,
    van_id: int = 0,
) -> tuple[VanDay, ...]:
    """Every van, day by day; a van that is out of use shows only where it still has visits."""
    wholes = {day: day_stretch(day, zone) for day in days}
    begins = min(whole.begins for whole in wholes.values())
    ends = max(whole.ends for whole in wholes.values())
    with database.reading() as session:
        vans = [van for van in store.list_vans(session) if van_id in (0, van.id)]
        visits = store.visits_between(session, begins, ends, van_id=van_id, states=SHOWN_STATES)
        shown = [_of_call(session, visit) for visit in visits]
    found = []
    for van in vans:
        for day, whole in wholes.items():
            own = tuple(
                one
                for one in shown
                if one.visit.van_id == van.id and day_of(one.visit.starts_at, zone) == day
            )
            if van.is_active or own:
                open_times = opening_stretches(day, settings, zone)
                found.append(VanDay(van, day, whole, open_times, own))
    return tuple(found)


def visit_of_call(database: Database, visit_id: int) -> VisitOfCall:
    """Visit with its call.

    Raises
    ------
    UnknownVisitError
    """
    with database.reading() as session:
        return _of_call(session, store.read_visit(session, visit_id))


def booking_of_call(database: Database, call_id: int) -> BookingOfCall:
    """Visits of a call, its customer, and what was promised.

    Raises
    ------
    UnknownCallError
    """
    with database.reading() as session:
        call = read_call(session, call_id)
        state = CallState.of(call)
        booked = [event for event in call.events if event.kind == BOOKED]
        return BookingOfCall(
            state=state,
            customer=read_customer(session, state.customer_id) if state.customer_id else None,
            visits=store.visits_of_call(session, call_id),
            promised=booked[-1].payload.get("promised", {}) if booked else {},
            is_closed=bool(store.closed_calls(session, [call_id])),
        )


def visits_of_feed(
    database: Database, secret: str, since: datetime, until: datetime
) -> tuple[StoredVan, tuple[VisitOfCall, ...]]:
    """Van of a secret address with its visits, those that were called off too.

    Raises
    ------
    UnknownFeedError
        The address is not, or no longer, in use.
    """
    with database.reading() as session:
        van = store.van_of_feed(session, secret)
        states = (*SHOWN_STATES, store.CANCELLED)
        visits = store.visits_between(session, since, until, van_id=van.id, states=states)
        return van, tuple(_of_call(session, visit) for visit in visits)


def _of_call(session: Any, visit: StoredVisit) -> VisitOfCall:
    state = CallState.of(read_call(session, visit.call_id))
    customer = read_customer(session, state.customer_id) if state.customer_id else None
    return VisitOfCall(visit, state, appliance_title(state.network_id), customer)
