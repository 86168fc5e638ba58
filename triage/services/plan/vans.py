"""The van that a visit is planned with: loaded from what is known before somebody drives."""

from functools import lru_cache

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.planning.parts import van as planning
from triage.planning.parts.van import Van
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings

VANS_KEPT = 128  # pages ask for the van from the same evidence again and again


def loaded_van(
    engine: Engine, evidence: Evidence, settings: ShopSettings = DEFAULT_SETTINGS, plate: str = ""
) -> Van:
    """Van with the load of ``triage load`` for this visit alone.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    return _loaded_van(engine, evidence, settings, plate.strip())


def before_the_visit(engine: Engine, evidence: Evidence) -> Evidence:
    """What was known when the van was loaded: all before the first test or repair on site."""
    observations = engine.network.observations
    for place, event in enumerate(evidence.events):
        if not isinstance(event, Finding) or observations[event.observation].channel.is_on_site:
            return Evidence(evidence.events[:place])
    return evidence


@lru_cache(maxsize=VANS_KEPT)
def _loaded_van(engine: Engine, evidence: Evidence, settings: ShopSettings, plate: str) -> Van:
    return planning.loaded_van(engine, evidence, settings, plate)
