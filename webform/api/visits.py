"""Free times, visits, vans."""

from collections.abc import Mapping
from typing import Any

from triage.services.booking import overview, visits
from triage.services.booking.days import day_of
from triage.services.booking.offer import SlotSearch
from triage.services.booking.overview import VisitOfCall
from triage.services.booking.slots import FreeSlot
from triage.services.booking.vans import StoredVan, find_vans
from triage.services.calls.calls import Entry
from webform.api.models import visits as models
from webform.api.models.base import Submitted
from webform.api.operations import CALL, VISIT, entry_for, operation
from webform.desk import desk
from webform.offers import offer_for

Json = Mapping[str, Any]
ONE = f"/visits/{VISIT}"


@operation("GET", "/vans", gives=models.Vans)
def vans() -> Json:
    """List the vans."""
    return {"vans": [_van(one) for one in find_vans(desk().database)]}


@operation("GET", "/visits", asked=models.DayAsked, gives=models.Visits)
def visits_of_day(asked: models.DayAsked) -> Json:
    """List the visits of a day, van by van."""
    here, day = desk(), asked.day or day_of(desk().clock(), desk().time_zone)
    found = overview.van_days(
        here.database, here.desk_settings(), here.time_zone, [day], van_id=asked.van
    )
    lines = [{**_van(one.van), "visits": [_visit(each) for each in one.visits]} for one in found]
    return {"day": day, "vans": lines}


@operation("GET", f"/calls/{CALL}/slots", asked=models.SlotsAsked, gives=models.Slots)
def slots(call_id: int, asked: models.SlotsAsked) -> Json:
    """Look for free times for a call, with what to tell the customer."""
    wanted = SlotSearch(minutes=asked.minutes, from_day=asked.from_day, van_id=asked.van)
    offer = offer_for(call_id, wanted)
    days = [{"day": one.day, "slots": [_slot(each) for each in one.slots]} for one in offer.days]
    return {
        "call": call_id,
        "version": offer.booking.state.version,
        "proposed_minutes": offer.proposed_minutes,
        "minutes": offer.minutes,
        "days": days,
        "script": offer.script,
        "promised": dict(offer.promised),
    }


@operation(
    "POST",
    f"/calls/{CALL}/visits",
    body=models.VisitGiven,
    gives=models.VisitShown,
    makes="/visits/{visit}",
)
def book(call_id: int, sent: models.VisitGiven) -> Json:
    """Book a visit for a call; what the customer was promised is kept with it."""
    offer = offer_for(call_id, SlotSearch(minutes=sent.minutes))
    wanted = visits.BookingWanted(
        call_id=call_id,
        slot=_wanted(sent),
        note=sent.note,
        promised=offer.promised,
        figures=offer.figures,
    )
    return _shown(visits.book_visit(desk().database, wanted, desk().booking_rules(), _entry(sent)))


@operation("GET", ONE, gives=models.VisitShown)
def visit(visit_id: int) -> Json:
    """Look at a visit."""
    return _shown(visit_id)


@operation("POST", f"{ONE}/move", body=models.SlotGiven, gives=models.VisitShown)
def move(visit_id: int, sent: models.SlotGiven) -> Json:
    """Move a booked visit to another time or van."""
    visits.move_visit(
        desk().database, visit_id, _wanted(sent), desk().booking_rules(), _entry(sent)
    )
    return _shown(visit_id)


@operation("POST", f"{ONE}/late", body=models.LateGiven, gives=models.VisitShown)
def late(visit_id: int, sent: models.LateGiven) -> Json:
    """Say by how much the technician comes later."""
    visits.run_late(desk().database, visit_id, sent.minutes, _entry(sent))
    return _shown(visit_id)


@operation("POST", f"{ONE}/cancel", body=models.CancelGiven, gives=models.VisitShown)
def cancel(visit_id: int, sent: models.CancelGiven) -> Json:
    """Cancel a booked visit; its time is free again."""
    visits.cancel_visit(desk().database, visit_id, sent.reason, _entry(sent))
    return _shown(visit_id)


@operation("POST", f"{ONE}/missed", body=Submitted, gives=models.VisitShown)
def missed(visit_id: int, sent: Submitted) -> Json:
    """Record that nobody was there."""
    visits.miss_visit(desk().database, visit_id, _entry(sent))
    return _shown(visit_id)


def _wanted(sent: models.SlotGiven) -> visits.SlotWanted:
    return visits.SlotWanted(
        van_id=sent.van,
        starts_at=sent.starts_at,
        minutes=sent.minutes,
        outside_hours=sent.outside_hours,
    )


def _entry(sent: Submitted) -> Entry:
    return entry_for(sent.client_id, sent.shown_version)


def _shown(visit_id: int) -> Json:
    return _visit(overview.visit_of_call(desk().database, visit_id))


def _van(van: StoredVan) -> dict[str, Any]:
    return {
        "van": van.id,
        "van_name": van.name,
        "technician": van.technician,
        "is_active": van.is_active,
    }


def _slot(slot: FreeSlot) -> dict[str, Any]:
    return {
        "van": slot.van_id,
        "van_name": slot.van,
        "starts_at": slot.time.begins,
        "ends_at": slot.time.ends,
        "window_starts_at": slot.window.begins,
        "window_ends_at": slot.window.ends,
    }


def _visit(found: VisitOfCall) -> dict[str, Any]:
    visit = found.visit
    return {
        "visit": visit.id,
        "call": visit.call_id,
        "version": found.state.version,
        "van": visit.van_id,
        "van_name": visit.van,
        "technician": visit.technician,
        "state": visit.state,
        "starts_at": visit.starts_at,
        "ends_at": visit.ends_at,
        "window_starts_at": visit.window_starts_at,
        "window_ends_at": visit.window_ends_at,
        "late_minutes": visit.late_minutes,
        "note": visit.note,
        "network": found.state.network_id,
        "appliance": found.appliance,
        "who": found.who,
        "phone": found.customer.phone_text if found.customer else "",
        "address": found.address,
    }
