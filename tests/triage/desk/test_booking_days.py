"""Claims about days and slots: right also when clocks change, and kept free for the way.

Clocks in America/Chicago went forward on 8 March 2026 at 2:00 and back on 1 November 2026 at 2:00
(IANA time zone database, by ``zoneinfo``).
"""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import pytest

from tests.triage.desk.booking_shop import (
    CHICAGO,
    MONDAY_SIX,
    booked,
    desk,
    local,
    now_page,
    page,
    vans,
)
from triage.services.booking.days import (
    Stretch,
    day_of,
    day_stretch,
    opening_stretches,
    week_of,
)
from triage.services.booking.slots import arrival_window, free_slots, next_free_days
from triage.services.booking.vans import VanEntered, change_van
from triage.services.booking.visits import cancel_visit
from triage.services.calls.calls import Database
from triage.services.settings.hours import DEFAULT_DESK, DeskSettings, OpenSpan

FORWARD, BACK = date(2026, 3, 8), date(2026, 11, 1)
EVERY_DAY = DeskSettings(
    opening_hours=dict.fromkeys(range(7), (OpenSpan(time(0), time(23, 59)),)),
    travel_minutes=0,
    slot_step_minutes=60,
)


@pytest.mark.parametrize(("day", "hours"), [(FORWARD, 23), (BACK, 25), (date(2026, 3, 9), 24)])
def test_day_is_as_long_as_its_clock_says(day: date, hours: int) -> None:
    assert day_stretch(day, CHICAGO).length == timedelta(hours=hours)


@pytest.mark.parametrize(("day", "count"), [(FORWARD, 22), (BACK, 24), (date(2026, 3, 9), 23)])
def test_slots_of_a_whole_day_skip_or_repeat_the_hour_that_the_clock_does(
    database: Database, day: date, count: int
) -> None:
    vans(database)

    free = free_slots(database, EVERY_DAY, CHICAGO, day, 60, now=MONDAY_SIX, van_id=1)

    starts = [slot.time.begins for slot in free.slots]
    assert len(starts) == count
    assert {later - earlier for earlier, later in pairwise(starts)} == {timedelta(hours=1)}
    assert {day_of(start, CHICAGO) for start in starts} == {day}
    hours = [start.astimezone(CHICAGO).hour for start in starts]
    assert hours.count(2) == (0 if day == FORWARD else 1)
    assert hours.count(1) == (2 if day == BACK else 1)


@pytest.mark.parametrize("day", [FORWARD, BACK])
def test_shop_opens_at_eight_by_its_clock_also_when_clocks_change(day: date) -> None:
    settings = DeskSettings(opening_hours={6: (OpenSpan(time(8), time(17)),)})

    (stretch,) = opening_stretches(day, settings, CHICAGO)

    assert stretch.begins.astimezone(CHICAGO).time() == time(8)
    assert stretch.length == timedelta(hours=9)


def test_opening_in_the_hour_that_is_skipped_begins_after_it() -> None:
    settings = DeskSettings(opening_hours={6: (OpenSpan(time(2, 30), time(5)),)})

    (stretch,) = opening_stretches(FORWARD, settings, CHICAGO)

    assert stretch == Stretch(
        datetime(2026, 3, 8, 8, 30, tzinfo=UTC), datetime(2026, 3, 8, 10, tzinfo=UTC)
    )


def test_closing_in_the_hour_that_comes_twice_is_the_second() -> None:
    settings = DeskSettings(opening_hours={6: (OpenSpan(time(1, 15), time(1, 45)),)})

    (stretch,) = opening_stretches(BACK, settings, CHICAGO)

    assert stretch.length == timedelta(hours=1, minutes=30)


def test_day_on_which_the_shop_is_closed_has_no_slot(database: Database) -> None:
    vans(database)

    free = free_slots(database, DEFAULT_DESK, CHICAGO, date(2026, 3, 7), 60, now=MONDAY_SIX)

    assert free.slots == ()


def test_slots_keep_the_way_to_their_neighbours_free(database: Database) -> None:
    van, _ = vans(database)
    booked(database, van, local(2, 10), 60)
    settings = desk(travel_minutes=20).settings

    free = free_slots(database, settings, CHICAGO, date(2026, 3, 2), 60, now=MONDAY_SIX, van_id=van)

    starts = [slot.time.begins.astimezone(CHICAGO).time() for slot in free.slots]
    assert starts[:3] == [time(8), time(8, 30), time(11, 30)]
    assert starts[-1] == time(16)


def test_slots_of_all_vans_are_offered_earliest_first(database: Database) -> None:
    van, other = vans(database)
    booked(database, van, local(2, 8), 60)

    free = free_slots(database, DEFAULT_DESK, CHICAGO, date(2026, 3, 2), 60, now=MONDAY_SIX)

    assert free.slots[0].van_id == other
    times = [slot.time for slot in free.slots]
    assert times == sorted(times)


def test_no_slot_begins_in_the_past(database: Database) -> None:
    vans(database)

    free = free_slots(database, DEFAULT_DESK, CHICAGO, date(2026, 3, 2), 60, now=local(2, 14, 10))

    assert free.slots[0].time.begins == local(2, 14, 30)


def test_visit_that_is_moved_is_not_in_its_own_way(database: Database) -> None:
    van, _ = vans(database)
    visit = booked(database, van, local(2, 8, 30), 480)
    day = date(2026, 3, 2)

    taken = free_slots(database, DEFAULT_DESK, CHICAGO, day, 60, now=MONDAY_SIX, van_id=van)
    moved = free_slots(
        database, DEFAULT_DESK, CHICAGO, day, 60, now=MONDAY_SIX, van_id=van, except_visit=visit
    )

    assert taken.slots == ()
    assert len(moved.slots) == 17


def test_cancelled_visit_frees_its_time(database: Database) -> None:
    van, _ = vans(database)
    visit = booked(database, van, local(2, 8, 30), 480)
    cancel_visit(database, visit, "moved away", now_page(database, 1))

    free = free_slots(
        database, DEFAULT_DESK, CHICAGO, date(2026, 3, 2), 60, now=MONDAY_SIX, van_id=van
    )

    assert len(free.slots) == 17


def test_van_out_of_use_has_no_slot(database: Database) -> None:
    van, _ = vans(database)
    change_van(database, van, VanEntered(name="North", is_active=False), page())

    free = free_slots(database, DEFAULT_DESK, CHICAGO, date(2026, 3, 2), 60, now=MONDAY_SIX)

    assert {slot.van for slot in free.slots} == {"South"}


def test_next_free_days_pass_over_days_without_a_slot(database: Database) -> None:
    vans(database)
    friday_evening = local(6, 16, 30)

    days = next_free_days(database, DEFAULT_DESK, CHICAGO, 60, now=friday_evening, days_wanted=2)

    assert [free.day for free in days] == [date(2026, 3, 9), date(2026, 3, 10)]


def test_slots_end_as_far_ahead_as_the_shop_books(database: Database) -> None:
    vans(database)

    days = next_free_days(
        database, desk(days_ahead=2).settings, CHICAGO, 60, now=MONDAY_SIX, days_wanted=9
    )

    assert [free.day.day for free in days] == [2, 3, 4]


def test_window_begins_with_the_slot_and_is_as_long_as_the_shop_says() -> None:
    window = arrival_window(local(2, 10), desk(window_minutes=180).settings)

    assert (window.begins, window.ends) == (local(2, 10), local(2, 13))


def test_week_begins_on_monday() -> None:
    assert week_of(date(2026, 3, 8))[0] == date(2026, 3, 2)
    assert week_of(date(2026, 3, 9))[0] == date(2026, 3, 9)
