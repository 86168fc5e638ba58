"""The technician's day: visits in order, one load list for all of them, jobs that wait."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

from triage.planning.shop.settings import ShopSettings
from triage.services.booking.days import day_stretch
from triage.services.calls.calls import may_rank
from triage.services.job.events import PartOrdered
from triage.services.job.state import JobState
from triage.services.job.stock import settings_with_stock
from triage.services.networks.in_use import engine_of_call
from triage.services.plan.load import LoadList, VisitRequest, load_list
from triage.store.calls import read_call
from triage.store.customers import StoredCustomer, customers_of_calls
from triage.store.database import Database
from triage.store.jobs import open_jobs_with, plate_of_call
from triage.store.people import users_named
from triage.store.stock import stock_of
from triage.store.visits import (
    BOOKED,
    DONE,
    NO_SHOW,
    UNDER_WAY,
    StoredVan,
    StoredVisit,
    list_vans,
    visits_between,
)

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

__all__ = [
    "DayVisit",
    "DayWanted",
    "StoredCustomer",
    "TechnicianDay",
    "VisitStanding",
    "WaitingJob",
    "technician_day",
    "waiting_jobs",
]

LISTS_KEPT = 32
SHOWN_STATES = (BOOKED, UNDER_WAY, DONE, NO_SHOW)


class VisitStanding(StrEnum):
    """How a visit of the day stands."""

    NEXT = "next"
    BOOKED = "booked"
    LATE = "late"
    UNDER_WAY = "under_way"
    DONE = "done"
    NO_SHOW = "no_show"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayVisit:
    """A visit of the day; ``customer`` is None where the call has none on record."""

    visit: StoredVisit
    job: JobState
    customer: StoredCustomer | None
    standing: VisitStanding
    is_next: bool

    @property
    def minutes(self) -> float:
        """Minutes of its slot."""
        return (self.visit.ends_at - self.visit.starts_at).total_seconds() / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TechnicianDay:
    """A van's day; ``load`` is None where no visit is to come that may be planned.

    ``loaded_visits`` are the visits that the list is for, in its order.
    """

    day: date
    van: StoredVan | None
    vans: tuple[StoredVan, ...]
    visits: tuple[DayVisit, ...]
    load: LoadList | None
    loaded_visits: tuple[DayVisit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayWanted:
    """A day of the shop and who is at work; ``van_id`` 0 for one's own van.

    ``now`` tells what is late and what is next.
    """

    login: str
    day: date
    zone: tzinfo
    now: datetime
    van_id: int = 0


@dataclass(frozen=True, slots=True)
class WaitingJob:
    """A job that waits for parts, or whose parts have come while no visit is booked for it."""

    job: JobState
    customer: StoredCustomer | None


def technician_day(database: Database, wanted: DayWanted, settings: ShopSettings) -> TechnicianDay:
    """Day of a van: the one asked for, else that of who is at work, else the first one.

    Parameters
    ----------
    database : Database
    wanted : DayWanted
        Which day, and whose.
    settings : ShopSettings
        What is carried and what it costs.
    """
    with database.reading() as session:
        vans = list_vans(session, only_active=True)
        numbers = [user.id for user in users_named(session, wanted.login)]
        van = _own(vans, numbers, wanted.van_id)
        if van is None:
            return TechnicianDay(
                day=wanted.day, van=None, vans=vans, visits=(), load=None, loaded_visits=()
            )
        stored = _visits(session, van.id, wanted)
        people = customers_of_calls(session, [one.call_id for one in stored])
        jobs = {one.call_id: JobState.of(read_call(session, one.call_id)) for one in stored}
        plates = {one.call_id: plate_of_call(session, one.call_id) for one in stored}
        own = settings_with_stock(settings, stock_of(session, van.id))
    upcoming = next((one.id for one in stored if one.state == BOOKED), 0)
    visits = tuple(
        DayVisit(
            visit=one,
            job=jobs[one.call_id],
            customer=people.get(one.call_id),
            standing=_standing(one, wanted.now, one.id == upcoming),
            is_next=one.id == upcoming,
        )
        for one in stored
    )
    to_load = tuple(one for one in visits if one.visit.is_live and may_rank(database, one.job.call))
    requests = tuple(_request(database, one, plates[one.visit.call_id], own) for one in to_load)
    return TechnicianDay(
        day=wanted.day,
        van=van,
        vans=vans,
        visits=visits,
        load=_load(requests, own) if requests else None,
        loaded_visits=to_load,
    )


def waiting_jobs(database: Database) -> tuple[WaitingJob, ...]:
    """Open jobs for which parts were ordered, those whose parts have all come first."""
    with database.reading() as session:
        numbers = open_jobs_with(session, PartOrdered.kind)
        jobs = [JobState.of(read_call(session, number)) for number in numbers]
        people = customers_of_calls(session, numbers)
    found = [WaitingJob(job, people.get(job.call.call_id)) for job in jobs]
    return tuple(sorted(found, key=_when_expected))


def _visits(session: "Session", van_id: int, wanted: DayWanted) -> tuple[StoredVisit, ...]:
    stretch = day_stretch(wanted.day, wanted.zone)
    return visits_between(session, stretch.begins, stretch.ends, van_id=van_id, states=SHOWN_STATES)


def _when_expected(waiting: WaitingJob) -> tuple[date, int]:
    expected = [order.expected_on for order in waiting.job.waiting_for]
    return min(expected, default=date.min), waiting.job.call.call_id


def _own(vans: Sequence[StoredVan], users: Sequence[int], van_id: int) -> StoredVan | None:
    """Van asked for, else one's own, else the first one."""
    asked = [van for van in vans if van.id == van_id]
    own = [van for van in vans if van.technician_id in users]
    return next(iter([*asked, *own, *vans]), None)


def _standing(visit: StoredVisit, now: datetime, is_next: bool) -> VisitStanding:
    if visit.state != BOOKED:
        return VisitStanding(visit.state)
    if now > visit.window_ends_at:
        return VisitStanding.LATE
    return VisitStanding.NEXT if is_next else VisitStanding.BOOKED


def _request(
    database: Database, visit: DayVisit, plate: str, settings: ShopSettings
) -> VisitRequest:
    call = visit.job.call
    engine = engine_of_call(database, call.network_id, call.network_version, settings)
    return VisitRequest(engine, visit.job.evidence(engine.network), plate)


@lru_cache(maxsize=LISTS_KEPT)
def _load(requests: tuple[VisitRequest, ...], settings: ShopSettings) -> LoadList:
    return load_list(requests, settings)
