"""Offer of a visit for a call, for pages and programs alike."""

from triage.services.booking.offer import BookingOffer, SlotSearch
from triage.services.job.board import job_offer
from webform.desk import desk


def offer_for(call_id: int, wanted: SlotSearch) -> BookingOffer:
    """Free times for a call under the settings and rules that hold now."""
    here = desk()
    return job_offer(
        here.database, call_id, wanted, here.settings(), here.booking_rules(), now=here.clock()
    )
