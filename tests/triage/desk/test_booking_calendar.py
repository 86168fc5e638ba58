"""Claims about calendars, read back with the library and against RFC 5545 [RFC5545]_."""

from datetime import UTC, timedelta

import pytest
from icalendar import Calendar

from tests.triage.desk.booking_shop import (
    CHICAGO,
    MONDAY_SIX,
    booked,
    call_for_visit,
    desk,
    local,
    now_page,
    page,
    vans,
)
from triage.errors import UnknownFeedError, UnknownVanError, VanNameTakenError
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.booking.calendar import customer_calendar, van_calendar
from triage.services.booking.offer import USUAL_MINUTES, SlotSearch, booking_offer
from triage.services.booking.overview import van_days, visit_of_call, visits_of_feed
from triage.services.booking.vans import (
    VanEntered,
    add_van,
    change_van,
    find_van,
    find_vans,
    renew_feed,
)
from triage.services.booking.visits import SlotWanted, cancel_visit, move_visit, run_late
from triage.services.calls.calls import Database
from triage.services.customers.calls import put_on_record
from triage.services.customers.records import CustomerEntered, MachineEntered
from triage.services.people.audit import ActFilter, find_acts

LINE_OCTETS = 75  # longest line without its break, RFC 5545 section 3.1
STREET = "Heron Lane 4, the yellow house behind the chapel on the left"
YEAR = timedelta(days=366)


def events_of(text: bytes) -> list[object]:
    return list(Calendar.from_ical(text).walk("VEVENT"))


def feed_of(database: Database, van_id: int) -> bytes:
    secret = find_van(database, van_id).feed_secret
    van, found = visits_of_feed(database, secret, MONDAY_SIX - YEAR, MONDAY_SIX + YEAR)
    return van_calendar(van.name, found)


def visit_with_address(database: Database) -> int:
    van, _ = vans(database)
    call_id = call_for_visit(database, ended=False)
    customer = CustomerEntered(
        name="Zoë; Åström, family", phone="2025550143", street=STREET, town="Larkham Hollow"
    )
    machine = MachineEntered(network_id="gas_dryer", place="in the cellar, behind the stairs")
    put_on_record(database, call_id, customer, machine, "US", now_page(database, call_id))
    return booked(database, van, local(3, 10), call_id=call_id)


def test_customer_gets_the_window_in_utc(database: Database) -> None:
    visit = visit_of_call(database, visit_with_address(database))

    text = customer_calendar(visit, "The Quiet Drum")

    (event,) = events_of(text)
    assert b"DTSTART:20260303T160000Z\r\n" in text
    assert b"DTEND:20260303T180000Z\r\n" in text
    assert event["SUMMARY"] == "The Quiet Drum: repair visit"  # type: ignore[index]
    assert event["UID"] == visit.visit.uid  # type: ignore[index]


def test_calendar_keeps_the_rules_of_the_format(database: Database) -> None:
    visit_with_address(database)

    text = feed_of(database, 1)

    lines = text.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert lines[-2:] == [b"END:VCALENDAR", b""]
    assert b"\n" not in text.replace(b"\r\n", b"")
    assert all(len(line) <= LINE_OCTETS for line in lines)
    assert any(line.startswith(b" ") for line in lines), "no line was long enough to be folded"
    assert Calendar.from_ical(text).get("VERSION") == "2.0"
    assert b"VTIMEZONE" not in text
    for name in (b"UID:", b"DTSTAMP:", b"SEQUENCE:0", b"STATUS:CONFIRMED"):
        assert any(line.startswith(name) for line in lines), name


def test_technician_gets_the_slot_with_who_and_where(database: Database) -> None:
    visit_with_address(database)

    (event,) = events_of(feed_of(database, 1))

    assert event["SUMMARY"] == "Gas dryer: Zoë; Åström, family"  # type: ignore[index]
    assert event["LOCATION"] == f"{STREET}, Larkham Hollow"  # type: ignore[index]
    assert event["DTSTART"].dt == local(3, 10).astimezone(UTC)  # type: ignore[index]
    assert event["DTEND"].dt == local(3, 11).astimezone(UTC)  # type: ignore[index]


def test_change_keeps_the_uid_and_counts_up_and_cancelling_says_so(database: Database) -> None:
    visit = booked(database, vans(database)[0], local(3, 10))
    (before,) = events_of(feed_of(database, 1))

    run_late(database, visit, 30, now_page(database, 1))
    (late,) = events_of(feed_of(database, 1))
    slot = SlotWanted(van_id=1, starts_at=local(4, 9), minutes=60)
    move_visit(database, visit, slot, desk(), now_page(database, 1))
    cancel_visit(database, visit, "ill", now_page(database, 1))
    (after,) = events_of(feed_of(database, 1))

    assert before["UID"] == after["UID"]  # type: ignore[index]
    assert [one["SEQUENCE"] for one in (before, late, after)] == [0, 1, 3]  # type: ignore[index]
    assert late["DTSTART"].dt == local(3, 10, 30).astimezone(UTC)  # type: ignore[index]
    assert after["STATUS"] == "CANCELLED"  # type: ignore[index]


def test_feed_ends_when_its_address_is_renewed_or_the_van_goes_out_of_use(
    database: Database,
) -> None:
    van, other = vans(database)
    old = find_van(database, van).feed_secret
    unused = find_van(database, other).feed_secret

    renew_feed(database, van, page())
    change_van(database, other, VanEntered(name="South", is_active=False), page())

    for secret in (old, unused, "guessed", ""):
        with pytest.raises(UnknownFeedError, match="not in use"):
            visits_of_feed(database, secret, MONDAY_SIX, MONDAY_SIX + YEAR)
    assert feed_of(database, van)


def test_secrets_are_long_and_differ(database: Database) -> None:
    secrets = [find_van(database, van).feed_secret for van in vans(database)]

    assert len(set(secrets)) == 2
    assert all(len(secret) >= 40 for secret in secrets)


def test_van_keeps_its_own_name_and_not_that_of_another(database: Database) -> None:
    van, _ = vans(database)
    change_van(database, van, VanEntered(name="North"), page())

    with pytest.raises(VanNameTakenError, match='There is a van "south" already'):
        change_van(database, van, VanEntered(name="south"), page())
    with pytest.raises(VanNameTakenError):
        add_van(database, VanEntered(name=" North "), page())
    with pytest.raises(UnknownVanError):
        find_van(database, 9)
    assert [one.name for one in find_vans(database)] == ["North", "South"]


def test_what_is_done_to_vans_stands_in_the_audit_trail(database: Database) -> None:
    van, _ = vans(database)

    renew_feed(database, van, page())

    acts = [(act.action, act.subject) for act in find_acts(database, ActFilter()).acts]
    assert acts == [("calendar_renewed", "North"), ("van_added", "South"), ("van_added", "North")]


def test_day_shows_each_van_with_its_visits_in_order(database: Database) -> None:
    van, _ = vans(database)
    booked(database, van, local(3, 14))
    booked(database, van, local(3, 9))
    booked(database, van, local(4, 9))

    days = van_days(database, desk().settings, CHICAGO, [local(3, 9).date()])

    assert [(day.van.name, len(day.visits)) for day in days] == [("North", 2), ("South", 0)]
    assert [one.visit.starts_at for one in days[0].visits] == [local(3, 9), local(3, 14)]


def test_offer_proposes_the_slot_of_the_plan_and_what_to_say(database: Database) -> None:
    vans(database)
    call_id = call_for_visit(database)

    offer = booking_offer(database, call_id, SlotSearch(), DEFAULT_SETTINGS, desk(), now=MONDAY_SIX)

    assert offer.minutes == offer.proposed_minutes
    assert offer.proposed_minutes % 15 == 0
    assert offer.promised["price"]
    assert offer.script
    assert {slot.time.length for day in offer.days for slot in day.slots} == {
        timedelta(minutes=offer.minutes)
    }


def test_offer_without_a_plan_is_an_hour(database: Database) -> None:
    vans(database)
    call_id = call_for_visit(database, network="gas_dryer", asked=False)

    offer = booking_offer(database, call_id, SlotSearch(), DEFAULT_SETTINGS, desk(), now=MONDAY_SIX)

    assert offer.minutes == USUAL_MINUTES
    assert offer.script == ()
