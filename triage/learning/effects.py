"""What a new version would have said in past calls: which recommendations change."""

from collections.abc import Sequence
from dataclasses import dataclass

from triage.errors import EvidenceError
from triage.inference.engine import Assessment, Engine
from triage.inference.evidence import Evidence


@dataclass(frozen=True, slots=True)
class Recommendation:
    """First cause with its probability, and the observation to make next; None if none is open."""

    cause: str
    title: str
    probability: float
    next_observation: str | None


@dataclass(frozen=True, slots=True)
class ChangedCall:
    """A past call (its place in the list) whose recommendation changes."""

    call: int
    before: Recommendation
    after: Recommendation

    @property
    def cause_changes(self) -> bool:
        """Whether another cause comes first."""
        return self.before.cause != self.after.cause

    @property
    def next_step_changes(self) -> bool:
        """Whether another observation comes next."""
        return self.before.next_observation != self.after.next_observation


@dataclass(frozen=True, slots=True)
class Effects:
    """Past calls that change, how many were looked at, and places of those that fit no longer."""

    changed: tuple[ChangedCall, ...]
    calls: int
    unusable: tuple[int, ...]


def effects(before: Engine, after: Engine, calls: Sequence[Evidence]) -> Effects:
    """Compare the recommendations of two versions on past calls.

    A call whose findings one of the versions cannot take is listed as unusable.
    """
    changed, unusable = [], []
    for place, evidence in enumerate(calls):
        try:
            old, new = recommendation(before, evidence), recommendation(after, evidence)
        except EvidenceError:
            unusable.append(place)
            continue
        if (old.cause, old.next_observation) != (new.cause, new.next_observation):
            changed.append(ChangedCall(place, old, new))
    return Effects(tuple(changed), len(calls), tuple(unusable))


def recommendation(engine: Engine, evidence: Evidence) -> Recommendation:
    """First cause and next observation (largest gain per minute) of a version."""
    assessment: Assessment = engine.assess(evidence, check_missing_mass=False)
    first = assessment.causes[0]
    following = assessment.open_observations
    return Recommendation(
        first.mode,
        first.title,
        first.probability,
        following[0].observation.id if following else None,
    )
