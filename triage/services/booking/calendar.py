"""Visits as iCalendar [RFC5545]_, for the calendars of customers and technicians.

Times are in UTC, so that no definition of a time zone has to go along. ``UID`` stays with a visit
for ever and ``SEQUENCE`` goes up with every change, so that a calendar takes the change over
instead of showing the visit twice.
"""

from collections.abc import Iterable
from datetime import UTC, timedelta

from icalendar import Calendar, Event

from triage.services.booking.overview import VisitOfCall
from triage.store.visits import CANCELLED, NO_SHOW

PRODUCT = "-//Washer triage//Visits//EN"
CALLED_OFF = (CANCELLED, NO_SHOW)


def customer_calendar(shown: VisitOfCall, shop: str) -> bytes:
    """Visit for the calendar of the customer: the window in which the technician arrives."""
    visit = shown.visit
    event = _event(shown)
    event.add("summary", f"{shop}: repair visit" if shop else "Repair visit")
    event.add("dtstart", visit.window_starts_at.astimezone(UTC))
    event.add("dtend", visit.window_ends_at.astimezone(UTC))
    event.add("description", f"{shown.appliance}. The technician arrives within this time.")
    return _calendar("Repair visit", [event])


def van_calendar(name: str, visits: Iterable[VisitOfCall]) -> bytes:
    """Visits of a van for the calendar of its technician: the slots, where, for whom, what."""
    events = []
    for shown in visits:
        visit, late = shown.visit, timedelta(minutes=shown.visit.late_minutes)
        event = _event(shown)
        event.add("summary", f"{shown.appliance}: {shown.who}")
        event.add("dtstart", (visit.starts_at + late).astimezone(UTC))
        event.add("dtend", (visit.ends_at + late).astimezone(UTC))
        if shown.address:
            event.add("location", shown.address)
        phone = f"\nPhone: {shown.customer.phone_text}" if shown.customer else ""
        event.add("description", f"Call {visit.call_id}. “{shown.state.words}”{phone}")
        events.append(event)
    return _calendar(name, events)


def _event(shown: VisitOfCall) -> Event:
    visit = shown.visit
    event = Event()
    event.add("uid", visit.uid)
    event.add("sequence", visit.sequence)
    event.add("dtstamp", visit.changed_at.astimezone(UTC))
    event.add("status", "CANCELLED" if visit.state in CALLED_OFF else "CONFIRMED")
    return event


def _calendar(name: str, events: Iterable[Event]) -> bytes:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", name)
    for event in events:
        calendar.add_component(event)
    text: bytes = calendar.to_ical()
    return text
