"""What was wrong, as far as the job tells: proposed causes, and what spoke for a cause."""

from collections.abc import Sequence

from triage.errors import ImpossibleEvidenceError
from triage.inference.engine import Cause, Engine
from triage.inference.evidence import Evidence
from triage.inference.explanation import weights_of_evidence
from triage.network.values import ComponentKind
from triage.services.closing.story import Story, is_on_site
from triage.services.closing.values import CauseClosed, Degree
from triage.services.job.events import RepairDone, Verified

SPEAKS_DECIBANS = 2.0  # "somewhat", as explanations say
LIKELY = 0.5
AS_GOOD_AS_SEEN = 0.9  # with a test on site; below it the technician judges


def ranked_causes(engine: Engine, evidence: Evidence) -> tuple[Cause, ...]:
    """Causes, most probable first; findings that exclude each other are left out altogether."""
    try:
        return engine.assess(evidence).causes
    except ImpossibleEvidenceError:
        return engine.assess(Evidence()).causes


def proposed_causes(
    story: Story, engine: Engine, ranked: Sequence[Cause]
) -> tuple[CauseClosed, ...]:
    """Causes that are ticked at first.

    Of each repair that was not in vain, the most probable of the causes it cures. Without a repair
    the most probable cause, if it is more likely than not.
    """
    chances = {cause.mode: cause.probability for cause in ranked}
    found: dict[str, CauseClosed] = {}
    for done in story.repairs:
        repair = engine.network.repairs.get(done.repair)
        if repair is None or done.verified is Verified.STILL_BROKEN:
            continue
        cause = max(repair.cures, key=lambda mode: chances.get(mode, 0.0))
        works = done.verified is Verified.WORKS
        found[cause] = CauseClosed(cause, Degree.WORKS_AFTER_REPAIR if works else Degree.JUDGED)
    if found or story.repairs or not ranked:
        return tuple(found.values())
    return _without_repair(story, engine, ranked[0])


def _without_repair(story: Story, engine: Engine, first: Cause) -> tuple[CauseClosed, ...]:
    if first.probability < LIKELY or is_no_fault(engine, first.mode):
        return ()
    was_tested = any(
        is_on_site(engine.network.observations[one.event.observation].channel)
        for one in story.before_first_repair
        if not isinstance(one.event, RepairDone)
        and one.event.observation in engine.network.observations
    )
    is_seen = was_tested and first.probability >= AS_GOOD_AS_SEEN
    return (CauseClosed(first.mode, Degree.SEEN if is_seen else Degree.JUDGED),)


def is_no_fault(engine: Engine, mode: str) -> bool:
    """Whether a cause is a way in which nothing has failed."""
    return engine.compiled.index.component_of[mode].kind is ComponentKind.NOTHING_FAILED


def what_spoke_for(engine: Engine, evidence: Evidence, mode: str) -> tuple[str, ...]:
    """Observations on site that spoke for a cause; those of the phone if there are none on site."""
    try:
        weights = weights_of_evidence(engine, evidence, mode)
    except ImpossibleEvidenceError:
        return ()
    speaking = [
        weight.finding.observation for weight in weights if weight.decibans >= SPEAKS_DECIBANS
    ]
    observations = engine.network.observations
    on_site = [name for name in speaking if is_on_site(observations[name].channel)]
    return tuple(dict.fromkeys(on_site or speaking))
