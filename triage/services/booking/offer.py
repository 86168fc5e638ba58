"""What the booking page offers for a call: length of the slot, free times, what is promised."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from triage.errors import ImpossibleEvidenceError
from triage.inference.evidence import Evidence
from triage.planning.shop.settings import ShopSettings
from triage.services.booking.overview import BookingOfCall, booking_of_call
from triage.services.booking.promise import Promised, promise_of
from triage.services.booking.slots import FreeDay, next_free_days
from triage.services.booking.visits import BookingRules
from triage.services.calls.board import CallPlan, plan_of
from triage.services.calls.calls import may_rank
from triage.services.calls.help import access_notes
from triage.store.database import Database
from triage.store.shop import newest_settings

USUAL_MINUTES = 60  # a visit without a plan; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotSearch:
    """What is looked for: ``minutes`` 0 is the proposed length, ``van_id`` 0 any van."""

    minutes: int = 0
    from_day: date | None = None
    van_id: int = 0
    except_visit: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingOffer:
    """A call that is to be booked, its free times, and what to tell the customer.

    ``proposed_minutes`` is the slot of the visit plan. ``promised`` is what the customer is told
    and ``figures`` the numbers behind it, None without a plan; both are kept with the booking.
    """

    booking: BookingOfCall
    proposed_minutes: int
    minutes: int
    days: tuple[FreeDay, ...]
    script: tuple[str, ...]
    promised: Mapping[str, Any]
    figures: Promised | None


def booking_offer(
    database: Database,
    call_id: int,
    wanted: SlotSearch,
    settings: ShopSettings,
    rules: BookingRules,
    *,
    now: datetime,
    evidence: Evidence | None = None,
) -> BookingOffer:
    """Put the offer for a call together.

    ``evidence`` is what is known where somebody was at the machine already; else the answers of
    the call.

    Raises
    ------
    UnknownCallError
    """
    booking = booking_of_call(database, call_id)
    plan = _plan_of(database, booking, settings, evidence)
    proposed = USUAL_MINUTES if plan is None else plan.offer.slot_minutes
    minutes = wanted.minutes or proposed
    return BookingOffer(
        booking=booking,
        proposed_minutes=proposed,
        minutes=minutes,
        days=next_free_days(
            database,
            rules.settings,
            rules.zone,
            minutes,
            now=now,
            from_day=wanted.from_day,
            van_id=wanted.van_id,
            except_visit=wanted.except_visit,
        ),
        script=() if plan is None else plan.offer.script,
        promised=_promised(booking, plan, minutes),
        figures=None if plan is None else _figures(database, plan),
    )


def _plan_of(
    database: Database,
    booking: BookingOfCall,
    settings: ShopSettings,
    evidence: Evidence | None,
) -> CallPlan | None:
    state = booking.state
    if not may_rank(database, state):
        return None
    machine = next(
        (
            one
            for one in (booking.customer.machines if booking.customer else ())
            if one.id == state.machine_id
        ),
        None,
    )
    plate = machine.plate_text if machine else ""
    try:
        return plan_of(database, state, plate=plate, settings=settings, evidence=evidence)
    except ImpossibleEvidenceError:
        return None  # what the caller said excludes itself; a visit can be booked all the same


def _figures(database: Database, plan: CallPlan) -> Promised:
    """What the plan promises, with the versions of settings and network it was made from."""
    with database.reading() as session:
        newest = newest_settings(session)
    return promise_of(
        plan.plan,
        plan.causes,
        settings_version=0 if newest is None else newest.version,
        network_version=plan.network.version,
    )


def _promised(booking: BookingOfCall, plan: CallPlan | None, minutes: int) -> dict[str, Any]:
    """What the customer is told, as the event of the booking keeps it."""
    ways = [note.for_caller for note in access_notes(booking.state)]
    told: dict[str, Any] = {"minutes": minutes, "price": "", "preparation": ways}
    if plan is not None:
        told["price"] = plan.offer.price_sentence
        told["preparation"] = [*plan.offer.preparation, *ways]
    return told
