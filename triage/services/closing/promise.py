"""What was known and said when the visit was booked, worked out again from what the call holds.

Nothing has to be stored at the booking: the findings of the phone are in the log of the call, the
settings of that day are an older version in the store, and the plan follows from both.
"""

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from triage.errors import ImpossibleEvidenceError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.calls.calls import Database
from triage.services.closing.story import Story, evidence_of
from triage.services.closing.values import Promised
from triage.services.networks.in_use import engine_of_call
from triage.services.plan.visit import VisitPlan, first_visit_plan
from triage.services.shop.settings import check_text
from triage.store.shop import settings_at

CAUSES_KEPT = 10
PLANS_KEPT = 64


def promised(database: Database, story: Story, plate: str) -> Promised | None:
    """What was promised, or None if the call never ended in something to promise.

    ``plate`` is what the plate of the machine says, if it was read out.
    """
    if story.ended_at is None:
        return None
    with database.reading() as session:
        stored = settings_at(session, story.ended_at)
    found = None if stored is None else check_text(stored.text).settings
    settings = found or DEFAULT_SETTINGS
    call = story.call
    engine = engine_of_call(database, call.network_id, call.network_version, settings)
    evidence = evidence_of(story.known_when_booked(), engine.network)
    try:
        plan = _plan(engine, evidence, settings, plate)
        causes = engine.assess(evidence).causes[:CAUSES_KEPT]
    except ImpossibleEvidenceError:
        return None  # what the caller said excluded itself; no plan was shown either
    low, high = plan.price_range_minor
    return Promised(
        minutes_p50=round(plan.minutes_p50, 1),
        minutes_p80=round(plan.minutes_p80, 1),
        price_low_minor=low,
        price_high_minor=high,
        first_visit_share=round(plan.first_visit_share, 4),
        parts=tuple(dict.fromkeys(part.number or part.part.id for part in plan.parts)),
        causes={cause.mode: round(cause.probability, 6) for cause in causes},
        settings_version=0 if stored is None else stored.version,
        network_version=engine.network.version,
    )


@lru_cache(maxsize=PLANS_KEPT)
def _plan(engine: Engine, evidence: Evidence, settings: ShopSettings, plate: str) -> VisitPlan:
    """Plan of the first visit; jobs that begin with the same words are common."""
    return first_visit_plan(engine, evidence, settings, plate=plate)


def promised_as_json(found: Promised | None) -> dict[str, Any]:
    """Promise as the store keeps it; empty if there is none."""
    if found is None:
        return {}
    return {
        "minutes_p50": found.minutes_p50,
        "minutes_p80": found.minutes_p80,
        "price_low_minor": found.price_low_minor,
        "price_high_minor": found.price_high_minor,
        "first_visit_share": found.first_visit_share,
        "parts": list(found.parts),
        "causes": dict(found.causes),
        "settings_version": found.settings_version,
        "network_version": found.network_version,
    }


def promised_of(kept: Mapping[str, Any]) -> Promised | None:
    """Promise as it was before it was stored."""
    if not kept:
        return None
    return Promised(**{**kept, "parts": tuple(kept["parts"]), "causes": dict(kept["causes"])})
