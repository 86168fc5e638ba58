"""Claims about the booking pages, through the test client and without JavaScript."""

from datetime import datetime

import pytest
from flask import Flask
from icalendar import Calendar

from tests.web.conftest import NINE, VisitorAs
from tests.web.page import Page, Visitor
from tests.web.taking_calls import to_questions
from tests.web.test_can_help import WHO
from webform.desk import EXTENSION


def with_van(visitor: Visitor, name: str = "North") -> None:
    visitor.send(visitor.open("/vans"), {"name": name, "is_active": "y"})


def to_booking(visitor: Visitor) -> Page:
    """A call with its questions answered, on the page with free times."""
    with_van(visitor)
    to_questions(visitor)
    visitor.send(visitor.open("/calls/1/customer"), WHO, action="/new")
    return visitor.send(visitor.open("/calls/1/end"), {"outcome": "visit"})


def booked(visitor: Visitor) -> Page:
    """The page of a visit that was just booked at the proposed time."""
    return take(visitor, to_booking(visitor), {"note": "Gate code 12"})


def take(visitor: Visitor, page: Page, values: dict[str, str]) -> Page:
    """Send the form with the free times, which stands last on its page."""
    return visitor.send(page, values, number=-1)


def slots(page: Page) -> list[str]:
    return [one.attributes["value"] for one in page.root.all("input", name="slot")]


def test_call_that_ends_with_a_visit_leads_to_free_times_with_one_proposed(
    visitor: Visitor,
) -> None:
    page = to_booking(visitor)

    assert page.heading == "Book a visit for call 1"
    chosen = page.root.all("input", name="slot", checked="")
    assert [one.attributes["value"] for one in chosen] == slots(page)[:1]
    assert "the plan proposes" in page.text
    assert page.root.all("blockquote")


def test_booked_visit_has_a_confirmation_to_copy(visitor: Visitor) -> None:
    page = booked(visitor)

    assert page.heading == "Visit 1: Zoë Åström"
    text = page.root.all("pre", id="confirmation")[0].text
    assert "Monday 2 March 2026, arrival between 09:00 and 11:00" in text
    assert "Before we come:" in text
    assert "To cancel or move it, call us at once." in text  # its last day has gone by
    assert "Coming and finding the fault costs" in text
    assert "Gate code 12" in page.text


def test_booking_without_a_choice_or_with_a_time_that_is_gone_asks_to_choose(
    visitor: Visitor,
) -> None:
    page = to_booking(visitor)

    for value in ("", "1 2026-03-02T03:00:00+00:00", "x", "9 9"):
        refused = take(visitor, page, {"slot": value})
        assert refused.heading == "Book a visit for call 1"
        assert "Choose one of the free times" in refused.text
    long = take(visitor, page, {"note": "n" * 301})
    assert "The note must be 300 characters or fewer" in long.text


@pytest.mark.parametrize("minutes", ["0", "481", "long", "-5", "1" * 30])
def test_length_that_cannot_be_is_said_and_the_proposed_one_shown(
    visitor: Visitor, minutes: str
) -> None:
    to_booking(visitor)

    page = visitor.open(f"/calls/1/book?minutes={minutes}")

    assert "Minutes must be a whole number, 1 to 480" in page.text
    assert slots(page)


def test_other_length_and_day_change_the_times(visitor: Visitor) -> None:
    to_booking(visitor)

    page = visitor.open("/calls/1/book?minutes=240&day=2026-03-05&van=1")

    assert "Slots of 240 minutes" in page.text
    assert all(" 2026-03-0" in value and value >= "1 2026-03-05" for value in slots(page))
    assert visitor.open("/calls/1/book?day=soon&van=nine").status == 200


def test_call_without_an_address_says_so_before_booking(visitor: Visitor) -> None:
    with_van(visitor)
    to_questions(visitor)

    page = visitor.open("/calls/1/book")

    assert "No address is on record for this call" in page.text
    assert "/calls/1/customer" in page.links()


def test_shop_without_a_van_says_so(visitor: Visitor) -> None:
    to_questions(visitor)

    assert "The shop has no van in use" in visitor.open("/calls/1/book").text
    assert "The shop has no van in use" in visitor.open("/visits").text
    assert "The shop has no van in use" in visitor.open("/visits/week").text


def test_second_dispatcher_cannot_take_the_same_time(visitor_as: VisitorAs) -> None:
    owner, other = visitor_as("owner"), visitor_as("dispatcher")
    page = to_booking(owner)
    to_questions(other)
    other.send(other.open("/calls/2/end"), {"outcome": "visit"})
    theirs = other.open("/calls/2/book")
    take(owner, page, {})

    refused = take(other, theirs, {})

    assert "Choose one of the free times" in refused.text
    assert "1 visit" not in refused.text


def test_second_booking_of_one_call_from_an_old_page_shows_what_changed(
    visitor_as: VisitorAs,
) -> None:
    owner, other = visitor_as("owner"), visitor_as("dispatcher")
    to_booking(owner)
    theirs = other.open("/calls/1/book?day=2026-03-05")
    take(owner, owner.open("/calls/1/book"), {})

    refused = take(other, theirs, {})

    assert (refused.status, refused.heading) == (409, "Not recorded")
    assert "Visit booked Olin Marsh 09:00" in refused.text


def test_visit_is_moved_to_another_time(visitor: Visitor) -> None:
    booked(visitor)
    page = visitor.open("/visits/1/move?day=2026-03-05")

    moved = take(visitor, page, {"slot": slots(page)[3]})

    assert "Thursday 5 March 2026" in moved.text
    text = moved.root.all("pre", id="confirmation")[0].text
    assert "To cancel or move it without a fee, call by Wednesday 4 March 2026, 09:30" in text
    assert "Choose one of the free times" in take(visitor, page, {"slot": "1 x"}).text


def test_running_late_moves_the_window_and_gives_the_text_to_say(visitor: Visitor) -> None:
    booked(visitor)
    page = visitor.open("/visits/1/late")
    for wrong in ("", "soon", "-1", "481"):
        assert "must be a whole number, 0 to 480" in visitor.send(page, {"minutes": wrong}).text

    late = visitor.send(page, {"minutes": "40"})

    assert "40 minutes late" in late.text
    assert "now arrives between 09:40 and 11:40" in late.root.all("p", id="late-text")[0].text


def test_cancelled_visit_needs_a_reason_and_can_be_booked_again(visitor: Visitor) -> None:
    booked(visitor)
    page = visitor.open("/visits/1/cancel")
    assert "Enter why it is cancelled" in visitor.send(page, {"reason": " "}).text

    cancelled = visitor.send(page, {"reason": "customer is ill"})

    assert "Cancelled" in cancelled.text
    assert "/calls/1/book" in cancelled.links()
    assert "To be booked" in visitor.open("/").text
    assert take(visitor, visitor.open("/calls/1/book"), {}).heading == "Visit 2: Zoë Åström"


def test_nobody_is_missed_before_the_visit_has_begun(app: Flask, visitor: Visitor) -> None:
    free = to_booking(visitor)
    page = take(visitor, free, {"slot": slots(free)[4]})

    early = visitor.send(page, {}, action="/missed")
    assert "has not begun" in early.text
    object.__setattr__(
        app.extensions[EXTENSION], "clock", lambda: datetime(2026, 3, 2, 16, tzinfo=NINE.tzinfo)
    )
    missed = visitor.send(visitor.open("/visits/1"), {}, action="/missed")

    assert "Nobody was there" in missed.text


def test_visit_stands_on_its_day_and_in_its_week(visitor: Visitor) -> None:
    booked(visitor)

    day, week = visitor.open("/visits"), visitor.open("/visits/week?day=2026-03-04")

    assert "Zoë Åström" in day.root.all("tbody")[0].text
    assert "Heron Lane 4, Mill End" in day.text
    assert "Zoë Åström" in week.root.all("table", class_="week")[0].text
    assert "Nothing is booked" in visitor.open("/visits?day=2026-03-03").text
    assert visitor.open("/visits?day=someday").heading == day.heading


def test_calendar_file_and_feed_are_calendars_and_the_feed_needs_no_sign_in(
    visitor: Visitor, stranger: Visitor
) -> None:
    booked(visitor)
    van = visitor.open("/vans/1")
    address = van.root.all("p", class_="copied-text")[0].text.removeprefix("http://localhost")

    file, feed = visitor.client.get("/visits/1/visit.ics"), stranger.client.get(address)

    for response in (file, feed):
        assert response.content_type == "text/calendar; charset=utf-8"
        assert len(list(Calendar.from_ical(response.data).walk("VEVENT"))) == 1
    visitor.send(van, {}, action="/calendar")
    assert stranger.client.get(address).status_code == 404
    assert stranger.client.get("/visits/1/visit.ics").status_code == 303


def test_van_is_added_changed_and_keeps_its_name_to_itself(visitor: Visitor) -> None:
    with_van(visitor)
    page = visitor.open("/vans")
    assert "Enter the name of the van" in visitor.send(page, {"name": " "}).text
    assert "There is a van" in visitor.send(page, {"name": "north"}).text

    listed = visitor.send(visitor.open("/vans/1"), {"name": "Old north", "is_active": []})

    assert "Old north" in listed.text
    assert "not in use" in listed.text
    assert visitor.open("/vans/9").status == 404
    assert visitor.open("/visits/9").status == 404


def test_only_the_owner_sees_the_addresses_of_calendars(visitor_as: VisitorAs) -> None:
    with_van(visitor_as("owner"))

    assert visitor_as("dispatcher").open("/vans").status == 403
    assert "/vans" not in visitor_as("dispatcher").open("/visits").links()
    assert "/vans" in visitor_as("owner").open("/visits").links()
