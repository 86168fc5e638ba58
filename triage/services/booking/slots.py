"""Free slots on the days of the vans.

A slot fits into the opening hours of its day and keeps the way to the visits before and after it
free. Slots begin in steps from the time the shop opens.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from triage.services.booking.days import Stretch, day_of, day_stretch, opening_stretches
from triage.services.settings.hours import DeskSettings
from triage.store.database import Database
from triage.store.visits import StoredVan, list_vans, visits_between


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSlot:
    """A stretch of a van's day that can be booked, and the window told to the customer."""

    van_id: int
    van: str
    time: Stretch
    window: Stretch


@dataclass(frozen=True, slots=True)
class FreeDay:
    """Free slots of a day, earliest first."""

    day: date
    slots: tuple[FreeSlot, ...]


def arrival_window(starts_at: datetime, settings: DeskSettings) -> Stretch:
    """When the technician may arrive, as told to the customer.

    It begins with the slot: a visit before it may take longer than planned and hardly shorter,
    since slots keep eight of ten visits.
    """
    begins = starts_at.astimezone(UTC)
    return Stretch(begins, begins + timedelta(minutes=settings.window_minutes))


def free_slots(
    database: Database,
    settings: DeskSettings,
    zone: tzinfo,
    day: date,
    minutes: int,
    *,
    now: datetime,
    van_id: int = 0,
    except_visit: int = 0,
) -> FreeDay:
    """Free slots of a day, on one van or on all that are in use.

    Parameters
    ----------
    database : Database
    settings : DeskSettings
        Opening hours, minutes kept for the way, length of the arrival window.
    zone : tzinfo
        Zone of the shop.
    day : date
        Date in that zone.
    minutes : int
        Length of the visit.
    now : datetime
        No slot begins before.
    van_id : int
        0 for every van.
    except_visit : int
        A visit that is to be moved and is not in its own way; 0 for none.
    """
    open_times = opening_stretches(day, settings, zone)
    whole = day_stretch(day, zone)
    with database.reading() as session:
        vans = [van for van in list_vans(session, only_active=True) if van_id in (0, van.id)]
        around = whole.widened(settings.travel_minutes)
        visits = visits_between(session, around.begins, around.ends, van_id=van_id)
    found: list[FreeSlot] = []
    for van in vans:
        taken = [
            Stretch(one.starts_at, one.ends_at).widened(settings.travel_minutes)
            for one in visits
            if one.van_id == van.id and one.id != except_visit
        ]
        found.extend(_slots_of(van, open_times, taken, minutes, now, settings))
    return FreeDay(day, tuple(sorted(found, key=lambda one: (one.time, one.van, one.van_id))))


def next_free_days(
    database: Database,
    settings: DeskSettings,
    zone: tzinfo,
    minutes: int,
    *,
    now: datetime,
    from_day: date | None = None,
    van_id: int = 0,
    except_visit: int = 0,
    days_wanted: int = 3,
) -> tuple[FreeDay, ...]:
    """The next days that have a free slot, as far ahead as the shop books.

    They are looked for from ``from_day`` on, or from today.
    """
    today = day_of(now, zone)
    first = (max(from_day, today) - today).days if from_day else 0
    found: list[FreeDay] = []
    for ahead in range(first, first + settings.days_ahead + 1):
        free = free_slots(
            database,
            settings,
            zone,
            today + timedelta(days=ahead),
            minutes,
            now=now,
            van_id=van_id,
            except_visit=except_visit,
        )
        if free.slots:
            found.append(free)
        if len(found) == days_wanted:
            break
    return tuple(found)


def starts_within(
    open_times: Iterable[Stretch],
    taken: Sequence[Stretch],
    minutes: int,
    step_minutes: int,
    now: datetime,
) -> Iterator[datetime]:
    """Moments at which a visit can begin, in steps from each opening."""
    length, step = timedelta(minutes=minutes), timedelta(minutes=step_minutes)
    for open_time in open_times:
        start = open_time.begins
        while start + length <= open_time.ends:
            slot = Stretch(start, start + length)
            if start >= now and not any(slot.meets(one) for one in taken):
                yield start
            start += step


def _slots_of(
    van: StoredVan,
    open_times: Sequence[Stretch],
    taken: Sequence[Stretch],
    minutes: int,
    now: datetime,
    settings: DeskSettings,
) -> Iterator[FreeSlot]:
    for start in starts_within(open_times, taken, minutes, settings.slot_step_minutes, now):
        yield FreeSlot(
            van_id=van.id,
            van=van.name,
            time=Stretch(start, start + timedelta(minutes=minutes)),
            window=arrival_window(start, settings),
        )
