"""What a customer was promised, in figures: they are kept with the booking and held to at the end.

Sentences can be read again, figures can be compared: what the visit took and cost is set against
what was said, whatever the owner's prices, the settings or the network have become since.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from triage.inference.engine import Cause
from triage.services.plan.visit import VisitPlan

CAUSES_KEPT = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Promised:
    """What was known and said when the visit was booked, to be compared with what happened.

    ``parts`` are pieces to take along or to look for, by part or the shop's own number; ``causes``
    the chances of the first causes. ``minutes_p95`` is None in what was kept before it was said.
    """

    minutes_p50: float
    minutes_p80: float
    minutes_p95: float | None = None
    price_low_minor: int
    price_high_minor: int
    first_visit_share: float
    parts: tuple[str, ...]
    causes: Mapping[str, float]
    settings_version: int
    network_version: int


def promise_of(
    plan: VisitPlan, causes: Sequence[Cause], *, settings_version: int, network_version: int
) -> Promised:
    """Figures that a plan promises, with the versions it rests on.

    Parameters
    ----------
    plan : VisitPlan
        As the customer heard of it.
    causes : sequence of Cause
        The most likely first; the first ten are kept.
    settings_version, network_version : int
        0 for settings that the owner never saved.
    """
    low, high = plan.price_range_minor
    return Promised(
        minutes_p50=round(plan.minutes_p50, 1),
        minutes_p80=round(plan.minutes_p80, 1),
        minutes_p95=round(plan.minutes_p95, 1),
        price_low_minor=low,
        price_high_minor=high,
        first_visit_share=round(plan.first_visit_share, 4),
        parts=tuple(dict.fromkeys(part.number or part.part.id for part in plan.parts)),
        causes={cause.mode: round(cause.probability, 6) for cause in causes[:CAUSES_KEPT]},
        settings_version=settings_version,
        network_version=network_version,
    )


def promised_as_json(found: Promised | None) -> dict[str, Any]:
    """Promise as the store keeps it; empty if there is none."""
    if found is None:
        return {}
    return {**asdict(found), "parts": list(found.parts), "causes": dict(found.causes)}


def promised_of(kept: Mapping[str, Any]) -> Promised | None:
    """Promise as it was before it was stored."""
    if not kept:
        return None
    return Promised(**{**kept, "parts": tuple(kept["parts"]), "causes": dict(kept["causes"])})
