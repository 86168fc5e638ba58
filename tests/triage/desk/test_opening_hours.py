"""Claims about visits outside opening hours: refused, unless whoever books says so."""

from dataclasses import replace

import pytest

from tests.triage.desk.booking_shop import call_for_visit, desk, local, now_page, vans
from triage.errors import OutsideHoursError
from triage.services.booking.visits import (
    BookingWanted,
    SlotWanted,
    book_visit,
    find_visit,
    move_visit,
)
from triage.services.calls.calls import Database
from triage.store.calls import read_call

# Monday to Friday, eight to five, is what a shop has that says nothing (docs/settings.md).
OUTSIDE = {
    "before it opens": (3, 7, 30),
    "into the evening": (3, 16, 30),
    "in the evening": (3, 18, 0),
    "on a Sunday": (8, 10, 0),
}


def wanted(van: int, day: int, hour: int, minute: int = 0) -> SlotWanted:
    return SlotWanted(van_id=van, starts_at=local(day, hour, minute), minutes=60)


def told(database: Database, call_id: int) -> list[object]:
    """What each booking or move of a call says of the hours."""
    with database.reading() as session:
        events = read_call(session, call_id).events
    return [
        one.payload.get("outside_hours", False) for one in events if one.kind.startswith("visit_")
    ]


@pytest.mark.parametrize("place", OUTSIDE.values(), ids=OUTSIDE)
def test_visit_outside_opening_hours_is_refused(
    database: Database, place: tuple[int, int, int]
) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    slot = wanted(van, *place)

    with pytest.raises(OutsideHoursError, match=r"outside opening hours\. Choose another time"):
        book_visit(
            database,
            BookingWanted(call_id=call_id, slot=slot),
            desk(),
            now_page(database, call_id),
        )

    assert told(database, call_id) == []


def test_message_tells_the_time_on_the_clock_of_the_shop(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    booking = BookingWanted(call_id=call_id, slot=wanted(van, 3, 18))

    with pytest.raises(OutsideHoursError, match="Tue 03 Mar, 18:00 to 19:00 is outside"):
        book_visit(database, booking, desk(), now_page(database, call_id))


def test_confirmed_visit_outside_opening_hours_is_booked_and_says_so(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    slot = replace(wanted(van, 3, 18), outside_hours=True)
    booking = BookingWanted(call_id=call_id, slot=slot)

    number = book_visit(database, booking, desk(), now_page(database, call_id))

    assert find_visit(database, number).starts_at == local(3, 18)
    assert told(database, call_id) == [True]


def test_visit_up_to_closing_time_is_inside(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    slot = replace(wanted(van, 3, 16), outside_hours=True)

    book_visit(
        database, BookingWanted(call_id=call_id, slot=slot), desk(), now_page(database, call_id)
    )

    assert told(database, call_id) == [False]


def test_move_is_bound_to_opening_hours_as_a_booking_is(database: Database) -> None:
    van, other = vans(database)
    call_id = call_for_visit(database)
    booking = BookingWanted(call_id=call_id, slot=wanted(van, 3, 10))
    number = book_visit(database, booking, desk(), now_page(database, call_id))
    late = wanted(other, 3, 18)

    with pytest.raises(OutsideHoursError, match="Nothing was booked"):
        move_visit(database, number, late, desk(), now_page(database, call_id))
    unmoved = find_visit(database, number)
    page = now_page(database, call_id)
    move_visit(database, number, replace(late, outside_hours=True), desk(), page)

    assert unmoved.starts_at == local(3, 10)
    assert find_visit(database, number).starts_at == local(3, 18)
    assert told(database, call_id) == [False, True]
