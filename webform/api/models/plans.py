"""Models of rankings and plans; what is told has the keys of docs/json.md."""

from typing import Annotated, Any

from pydantic import Field

from webform.api.models.base import Id, Sent, Told, text


class SafetyGiven(Sent):
    """Answers to all safety questions, by flag.

    ``confirmed_by`` names who confirmed that the machine was made safe.
    """

    answers: Annotated[dict[str, bool], Field(max_length=50)]
    confirmed_by: Annotated[str, text(100)] = ""


class FindingGiven(Sent):
    """An observation with its answer; a number is a meter reading in the network's unit."""

    observation: Id
    answer: Annotated[str, Field(min_length=1, max_length=200)] | float


class RepairGiven(Sent):
    """A repair that was done; what follows is found on the repaired machine."""

    repair: Id


class CaseGiven(Sent):
    """A case: safety answers, then findings and repairs in order."""

    safety: SafetyGiven
    findings: list[FindingGiven | RepairGiven] = Field(default_factory=list, max_length=200)


class RankGiven(CaseGiven):
    """A case to rank; ``limit`` is the length of each list."""

    limit: Annotated[int, Field(ge=1, le=100)] = 10


class PlanGiven(CaseGiven):
    """A case to plan for; ``plate`` is what the plate of the machine says."""

    plate: Annotated[str, text(300)] = ""


class CauseTold(Told):
    """A cause with its probability."""

    mode: str
    title: str
    probability: float
    word: str
    before: float | None


class FindingTold(Told):
    """An observation with its answer, and who gave it."""

    observation: str
    answer: str | float
    by: str


class MissingMassTold(Told):
    """Probability that the list of hypotheses leaves out."""

    share: float | None
    certainty: str
    sentence: str


class ConflictTold(Told):
    """How far the findings disagree."""

    bits: float
    threshold_bits: float
    is_suspicious: bool
    least_likely: str | None
    sentence: str


class NextTold(Told):
    """An observation worth making."""

    observation: str
    channel: str
    title: str
    wording: str
    answers: dict[str, str]
    minutes: float
    gain_bits: float
    class_gain_bits: float | None
    reason: str


class ExplainedTold(Told):
    """What a finding says of the leading cause."""

    finding: FindingTold
    mode: str
    decibans: float
    alone_decibans: float
    sentence: str


class HypothesisTold(Told):
    """Failure modes that would explain the call together."""

    modes: list[str]
    probability: float


class RankingTold(Told):
    """A ranking, as ``triage rank`` tells it."""

    network: str
    version: int
    findings: list[FindingTold]
    causes: list[CauseTold]
    nothing_failed: float
    hypotheses: list[HypothesisTold]
    missing_mass: MissingMassTold
    conflict: ConflictTold
    next_questions: list[NextTold]
    next_tests: list[NextTold]
    questions_that_pay: int
    explanation: list[ExplainedTold]


class OfferTold(Told):
    """What is said before a visit is booked."""

    slot_minutes: int
    price_sentence: str
    preparation: list[str]
    script: list[str]


class EndingTold(Told):
    """A way to end the call and what it costs."""

    kind: str
    title: str
    expected_cost_minor: int
    difference_minor: int
    sentence: str


class PartTold(Told):
    """A part to take along or to look for."""

    part: str
    title: str
    number: str
    take: int
    probability: float
    on_van: str
    where: str
    reason: str


class PlanTold(Told):
    """First visit plan with its offer, as ``triage plan`` tells it."""

    network: str
    version: int
    outcome: str
    outcome_title: str
    reasons: list[str]
    endings: list[EndingTold]
    tests: list[dict[str, Any]]
    parts: list[PartTold]
    load: dict[str, Any]
    caller_steps: list[dict[str, Any]]
    cautions: list[str]
    minutes_expected: float
    minutes_p50: float
    minutes_p80: float
    minutes_p95: float
    first_visit_share: float
    price_range_minor: Annotated[list[int], Field(min_length=2, max_length=2)]
    declined_share: float
    repair_or_replace: dict[str, Any] | None
    currency: str
    offer: OfferTold


class GapTold(Told):
    """How far a plan is from the best possible at most."""

    cost_at_most_minor: float
    cost_at_least_minor: float
    excess_share: float | None
    is_proved_best: bool


class InOrderTold(Told):
    """A repair of an ordered list, and what is checked before it."""

    repair: str
    checks: list[str]


class CheckTold(Told):
    """What to check before a repair."""

    repair: str
    tests: list[str]
    sentence: str


class BranchTold(Told):
    """A step of the branching plan."""

    number: int
    depth: int
    came_from: int | None
    came_by: str
    probability: float
    kind: str
    title: str
    observation: str | None
    repair: str | None
    parts: list[str]
    minutes: float
    setup_minutes: float
    preparations: list[str]
    sure: float
    unheld_share: float
    price_minor: list[int] | None
    in_order: list[InOrderTold]


class BranchesTold(Told):
    """Branching plan, as ``triage plan --branches`` tells it."""

    network: str
    version: int
    beyond: float
    currency: str
    gap: GapTold
    steps: list[BranchTold]
    listed: float
    checks: list[CheckTold]


class StepTold(Told):
    """A step that can be taken now; ``id`` is null where it is to stop."""

    kind: str
    id: str | None
    title: str
    minutes: float
    setup_minutes: float
    preparations: list[str]
    preconditions: list[str]
    cautions: list[str]
    acceptance: str
    parts: list[str]
    answers: dict[str, float]
    needed_share: float
    gain_bits: float
    extra_minor: float


class NextStepTold(Told):
    """What to do now: the first of ``steps`` is recommended; none is left if there is none."""

    network: str
    version: int
    steps: list[StepTold]
    expected_minor: float
    gap: GapTold
    basis: str
    well_share: float
    currency: str
