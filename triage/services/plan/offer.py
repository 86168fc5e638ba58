"""What the dispatcher offers the caller: slot, price, what to prepare, and a sentence for each."""

import math
from dataclasses import dataclass

from triage.services.plan.visit import VisitPlan
from triage.services.wording import money_range, percent

SLOT_STEP_MINUTES = 15
ROOM = (
    "Make room to stand in front of the machine and to move it out.",
    "Could you clear the way to the machine and take away what stands on and beside it?",
)
EMPTY = (
    "Take the laundry out if the door opens.",
    "Please take the laundry out if the door opens; we test it empty.",
)
SHUT_OFF = (
    "Know where the breaker, and the taps or the gas valve, are; leave the machine off.",
    "Leave the machine off until we come, and find out where its breaker and its shut-off are.",
)
HOME = (
    "An adult who may decide about the repair is at home, and pets are kept away.",
    "Somebody has to be there who may say yes to the price; please keep pets in another room.",
)
PLATE = (
    "Send a photo of the plate: which part fits depends on it.",
    "Could you send us a photo of the plate with its numbers? Then we bring the part that fits.",
)


@dataclass(frozen=True, slots=True)
class VisitOffer:
    """What is said before a visit is booked.

    ``slot_minutes`` keep eight of ten visits, in whole quarters of an hour. ``preparation`` is what
    the caller sees to; ``script`` are the sentences to say, in order.
    """

    slot_minutes: int
    slot_sentence: str
    price_sentence: str
    preparation: tuple[str, ...]
    script: tuple[str, ...]


def visit_offer(plan: VisitPlan) -> VisitOffer:
    """Offer that follows from a plan."""
    slot = max(1, math.ceil(plan.minutes_p80 / SLOT_STEP_MINUTES)) * SLOT_STEP_MINUTES
    slot_sentence = f"Allow {slot} minutes; eight of ten such visits are over by then."
    fee = money_range(plan.service_fee_minor, plan.service_fee_minor, plan.currency)
    price = money_range(*plan.price_range_minor, plan.currency)
    price_sentence = (
        f"Coming and finding the fault costs {fee}. With the repair eight of ten such jobs end at "
        f"{price}; you hear the price before anything is repaired."
    )
    asks_for_plate = any(visit.asks for visit in plan.load.visits)
    prepared = (ROOM, EMPTY, SHUT_OFF, HOME, *((PLATE,) if asks_for_plate else ()))
    once = percent(plan.first_visit_share)
    return VisitOffer(
        slot_minutes=slot,
        slot_sentence=slot_sentence,
        price_sentence=price_sentence,
        preparation=tuple(what for what, _ in prepared),
        script=(
            f"The visit takes about {slot} minutes; one visit is enough with {once} probability.",
            price_sentence,
            *(sentence for _, sentence in prepared),
        ),
    )


def offer_as_json(offer: VisitOffer) -> dict[str, object]:
    """Offer as plain values; keys are stable (docs/json.md)."""
    return {
        "slot_minutes": offer.slot_minutes,
        "price_sentence": offer.price_sentence,
        "preparation": list(offer.preparation),
        "script": list(offer.script),
    }
