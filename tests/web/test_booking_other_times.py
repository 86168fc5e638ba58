"""Claims about times that are typed: booked, moved, and confirmed outside opening hours."""

import pytest
from flask import Flask

from tests.web.page import Page, Visitor
from tests.web.taking_calls import to_questions
from tests.web.test_booking import booked, to_booking
from triage.services.booking.visits import find_visit
from triage.store.calls import read_call
from webform.desk import EXTENSION, Desk

TICK = "Yes, the visit is to be outside opening hours"
# Open Monday to Friday, eight to five (docs/settings.md); the third of March 2026 is a Tuesday.
EVENING = {"van": "1", "day": "2026-03-03", "start": "18:30", "minutes": "60"}
MORNING = {**EVENING, "start": "10:15"}


@pytest.fixture
def desk(app: Flask) -> Desk:
    found = app.extensions[EXTENSION]
    assert isinstance(found, Desk)
    return found


def told(desk: Desk) -> list[tuple[str, object]]:
    """What each booking or move of the call says of the hours."""
    with desk.database.reading() as session:
        events = read_call(session, 1).events
    return [
        (one.kind, one.payload.get("outside_hours", False))
        for one in events
        if one.kind.startswith("visit_")
    ]


def other_time(visitor: Visitor) -> Page:
    """The page on which a time is typed, by its link on the page with free times."""
    (link,) = [one for one in to_booking(visitor).links() if one.endswith("/book/time")]
    return visitor.open(link)


def minutes_booked(desk: Desk) -> str:
    visit = find_visit(desk.database, 1)
    return f"{(visit.ends_at - visit.starts_at).total_seconds() / 60:.0f}"


def starts(desk: Desk) -> str:
    return f"{find_visit(desk.database, 1).starts_at.astimezone(desk.time_zone):%a %d %H:%M}"


def test_time_within_opening_hours_is_booked_without_a_tick(visitor: Visitor, desk: Desk) -> None:
    page = other_time(visitor)

    visit = visitor.send(page, {**MORNING, "note": "Gate code 12"})

    assert TICK not in page.text
    assert visit.heading == "Visit 1: Zoë Åström"
    assert "Gate code 12" in visit.text
    assert "Coming and finding the fault costs" in visit.text
    assert starts(desk) == "Tue 03 10:15"
    assert told(desk) == [("visit_booked", False)]


def test_time_outside_opening_hours_is_refused_and_then_booked_with_a_tick(
    visitor: Visitor, desk: Desk
) -> None:
    page = other_time(visitor)

    refused = visitor.send(page, EVENING)
    before = told(desk)
    visit = visitor.send(refused, {"outside_hours": "y"})

    assert "Tue 03 Mar, 18:30 to 19:30 is outside opening hours" in refused.text
    assert TICK in refused.text
    assert before == []
    assert visit.heading == "Visit 1: Zoë Åström"
    assert starts(desk) == "Tue 03 18:30"
    assert told(desk) == [("visit_booked", True)]


def test_refused_time_can_be_changed_to_one_within_opening_hours(
    visitor: Visitor, desk: Desk
) -> None:
    refused = visitor.send(other_time(visitor), EVENING)

    visitor.send(refused, {"start": "10:15"})

    assert told(desk) == [("visit_booked", False)]


def test_visit_is_moved_outside_opening_hours_with_a_tick(visitor: Visitor, desk: Desk) -> None:
    booked(visitor)
    (link,) = [one for one in visitor.open("/visits/1/move").links() if one.endswith("/time")]
    page = visitor.open(link)

    refused = visitor.send(page, EVENING)
    before = starts(desk)
    moved = visitor.send(refused, {"outside_hours": "y"})

    assert "is outside opening hours" in refused.text
    assert before == "Mon 02 09:00"
    assert "Tuesday 3 March 2026" in moved.text
    assert starts(desk) == "Tue 03 18:30"
    assert told(desk) == [("visit_booked", False), ("visit_moved", True)]


def test_page_to_move_a_visit_is_filled_in_from_it(visitor: Visitor, desk: Desk) -> None:
    booked(visitor)

    page = visitor.open("/visits/1/move/time")

    values = {one.attributes["name"]: one.attributes.get("value") for one in page.root.all("input")}
    assert values["day"] == "2026-03-02"
    assert values["minutes"] == minutes_booked(desk)
    (van,) = [one for one in page.root.all("option") if "selected" in one.attributes]
    assert van.text == "North"


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"van": "9"}, "Choose a van"),
        ({"van": ""}, "Choose a van"),
        ({"day": ""}, "Enter the day, such as 2026-03-31"),
        ({"day": "soon"}, "Enter the day, such as 2026-03-31"),
        ({"day": "9999-12-31"}, "The day must be from today to a year ahead"),
        ({"day": "2026-03-01"}, "The day must be from today to a year ahead"),
        ({"start": ""}, "Enter when it begins, such as 18:30"),
        ({"start": "25:00"}, "Enter when it begins, such as 18:30"),
        ({"minutes": "481"}, "Minutes must be a whole number, 1 to 480"),
        ({"minutes": ""}, "Minutes must be a whole number, 1 to 480"),
        ({"day": "2026-03-02", "start": "06:00"}, "that time is past"),
        ({"note": "n" * 301}, "The note must be 300 characters or fewer"),
    ],
)
def test_time_that_cannot_be_booked_is_asked_for_again(
    visitor: Visitor, desk: Desk, values: dict[str, str], message: str
) -> None:
    refused = visitor.send(other_time(visitor), {**MORNING, **values})

    assert refused.heading == "Book another time for call 1"
    assert message in refused.text
    assert TICK not in refused.text
    assert told(desk) == []


def test_time_at_which_the_van_has_a_visit_is_asked_for_again(visitor: Visitor) -> None:
    booked(visitor)
    to_questions(visitor)
    visitor.send(visitor.open("/calls/2/end"), {"outcome": "visit"})
    page = visitor.open("/calls/2/book/time")

    refused = visitor.send(page, {**MORNING, "day": "2026-03-02", "start": "09:30"})

    assert refused.heading == "Book another time for call 2"
    assert "North has a visit from 09:00" in refused.text


def test_shop_without_a_van_cannot_book_another_time(visitor: Visitor) -> None:
    to_questions(visitor)

    page = visitor.open("/calls/1/book/time")

    assert "The shop has no van in use" in page.text
    assert not page.forms("/time")
