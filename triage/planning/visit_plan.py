"""The first visit plan: tests in order of value, parts worth loading, outcome of the call.

The plan follows the base policy (``policy``) from what is known now. At each test it says what
every result would lead to, and goes on along the most probable result after which testing still
pays. It is the trunk of the branching plan, not a second way of deciding.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from triage.inference.engine import Assessment, Engine
from triage.inference.evidence import Evidence, Finding
from triage.network.values import Observation, Part, Repair, RepairBy
from triage.planning.costs import CostModel
from triage.planning.policy import SitePolicy, Step

TESTS_MAX = 8
TECHNICIAN = "technician"
RESULT_PROBABILITY_MIN = 0.005  # rarer results are not spelt out; the sheet says "anything else"


class OutcomeKind(StrEnum):
    """How a call ends."""

    SOLVE_BY_PHONE = "solve_by_phone"
    VISIT = "visit"
    VISIT_NOT_WORTH_REPAIRING = "visit_not_worth_repairing"
    REFER_OUT = "refer_out"


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to end the call with its expected cost to shop and customer, minor units."""

    kind: OutcomeKind
    expected_cost_minor: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """Recommended ending; ``share`` is the probability behind it (solved, referred, too dear)."""

    kind: OutcomeKind
    share: float
    alternatives: tuple[Alternative, ...]


@dataclass(frozen=True, slots=True)
class TestResult:
    """What a result would lead to: the next test, or a repair with its probability."""

    __test__ = False

    answer: str
    label: str
    probability: float
    next_test: Observation | None
    next_repair: Repair | None
    repair_probability: float


@dataclass(frozen=True, slots=True)
class PlannedTest:
    """A test of the plan with its value in minor units, its gain in bits, and its results."""

    observation: Observation
    saving_minor: float
    gain_bits: float
    results: tuple[TestResult, ...]


@dataclass(frozen=True, slots=True)
class LoadedPart:
    """A part worth having on the van: P(needed) and the repair that needs it."""

    part: Part
    probability: float
    repairs: tuple[Repair, ...]


@dataclass(frozen=True, slots=True)
class CallerStep:
    """Something the caller can do now, and the probability that it is what is needed."""

    repair: Repair
    probability: float


@dataclass(frozen=True, slots=True)
class VisitPlan:
    """First visit plan. Costs and prices in minor units of ``currency``."""

    outcome: Outcome
    tests: tuple[PlannedTest, ...]
    first_repair: Repair | None
    first_repair_probability: float
    parts: tuple[LoadedPart, ...]
    caller_steps: tuple[CallerStep, ...]
    minutes_expected: float
    price_range_minor: tuple[int, int]
    currency: str


def first_visit_plan(engine: Engine, evidence: Evidence, costs: CostModel) -> VisitPlan:
    """Plan of the first visit from what is known.

    Parameters
    ----------
    engine : Engine
    evidence : Evidence
    costs : CostModel

    Returns
    -------
    VisitPlan
        At most ``TESTS_MAX`` tests, in the order in which the policy takes them.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    policy = SitePolicy(engine, costs)
    assessment = engine.assess(evidence, check_missing_mass=False)
    needed = _needed_probability(policy, assessment)
    first = policy.next_step(evidence)
    tests = tuple(_trunk(policy, evidence, first))
    steps = _caller_steps(engine, needed, costs)
    leading = max(engine.network.repairs.values(), key=lambda repair: needed[repair.id])
    return VisitPlan(
        outcome=_outcome(engine, needed, first, steps, costs),
        tests=tests,
        first_repair=leading,
        first_repair_probability=needed[leading.id],
        parts=_parts(engine, needed, costs),
        caller_steps=steps,
        minutes_expected=_minutes(engine, needed, tests, costs),
        price_range_minor=_price_range(engine, needed, costs),
        currency=engine.network.currency,
    )


def _needed_probability(policy: SitePolicy, assessment: Assessment) -> dict[str, float]:
    posterior = assessment.posterior
    needed = policy.repairs.needed(posterior.state.table.members)
    probability = policy.repairs.needed_probability(posterior.weights[None, :], needed)[0]
    return dict(zip(policy.repairs.ids, probability.tolist(), strict=True))


def _trunk(policy: SitePolicy, evidence: Evidence, step: Step) -> Iterator[PlannedTest]:
    """Tests along the most probable results after which testing still pays."""
    for _ in range(TESTS_MAX):
        if step.test is None:
            return
        observation = step.test.observation
        assessment = policy.engine.assess(evidence, check_missing_mass=False)
        place = list(policy.engine.network.observations).index(observation.id)
        chances = assessment.gains.answer_probabilities[place]
        results, onward = [], []
        for column, (answer, label) in enumerate(observation.answers.items()):
            probability = float(chances[column])
            if probability < RESULT_PROBABILITY_MIN:
                continue
            then = evidence.adding(Finding(observation.id, answer, by=TECHNICIAN))
            following = policy.next_step(then)
            results.append(_result(answer, label, probability, following))
            onward.append((probability, -column, then, following))
        yield PlannedTest(
            observation, step.test.saving_minor, float(assessment.gains.bits[place]), tuple(results)
        )
        testing = [entry for entry in onward if entry[3].test is not None]
        if not testing:
            return
        _, _, evidence, step = max(testing, key=lambda entry: entry[:2])


def _result(answer: str, label: str, probability: float, following: Step) -> TestResult:
    return TestResult(
        answer,
        label,
        probability,
        following.test.observation if following.test else None,
        following.repair,
        following.repair_probability,
    )


def _caller_steps(
    engine: Engine, needed: dict[str, float], costs: CostModel
) -> tuple[CallerStep, ...]:
    """Steps of the caller that pay: probability times a visit spared exceeds their minutes."""
    steps = []
    for repair in engine.network.repairs.values():
        if repair.by is not RepairBy.CALLER or not repair.caller_steps:
            continue
        saved = needed[repair.id] * repair.success * _visit_for(repair, costs)
        if saved > costs.on_phone_minor(repair.minutes):
            steps.append(CallerStep(repair, needed[repair.id]))
    return tuple(sorted(steps, key=lambda step: (-step.probability, step.repair.id)))


def _parts(engine: Engine, needed: dict[str, float], costs: CostModel) -> tuple[LoadedPart, ...]:
    """Parts whose absence would cost more (return trip times P(needed)) than taking them along."""
    loaded = []
    for part in engine.network.parts.values():
        repairs = tuple(
            repair for repair in engine.network.repairs.values() if part.id in repair.parts
        )
        absent = np.prod([1.0 - needed[repair.id] for repair in repairs])
        probability = 1.0 - float(absent)
        carrying = max(costs.carrying_minor(part), costs.carry_minor)
        if probability * costs.return_trip_minor > carrying:
            loaded.append(LoadedPart(part, probability, repairs))
    return tuple(sorted(loaded, key=lambda entry: (-entry.probability, entry.part.id)))


def _outcome(
    engine: Engine,
    needed: dict[str, float],
    first: Step,
    steps: Sequence[CallerStep],
    costs: CostModel,
) -> Outcome:
    """Compare the endings by expected cost; a repair that is too dear is told apart after."""
    visit = costs.trip_minor + first.expected_cost_minor
    solved = min(1.0, sum(step.probability * step.repair.success for step in steps))
    alternatives = [Alternative(OutcomeKind.VISIT, round(visit))]
    if steps:
        saved = sum(
            step.probability * step.repair.success * _visit_for(step.repair, costs)
            - costs.on_phone_minor(step.repair.minutes)
            for step in steps
        )
        alternatives.append(Alternative(OutcomeKind.SOLVE_BY_PHONE, round(visit - saved)))
    other_trade = [
        repair for repair in engine.network.repairs.values() if repair.by is RepairBy.LICENSED_TRADE
    ]
    referred = min(1.0, sum(needed[repair.id] for repair in other_trade))
    spared = sum(needed[repair.id] * _visit_for(repair, costs) for repair in other_trade)
    referral = visit - spared + (1.0 - referred) * costs.service_fee_minor  # their visit, in vain
    alternatives.append(Alternative(OutcomeKind.REFER_OUT, round(referral)))
    alternatives.sort(key=lambda entry: entry.expected_cost_minor)
    best = alternatives[0].kind
    if best is OutcomeKind.SOLVE_BY_PHONE and solved < 0.5:
        best = OutcomeKind.VISIT  # the steps are still worth trying first, the visit is the ending
    share = {OutcomeKind.SOLVE_BY_PHONE: solved, OutcomeKind.REFER_OUT: referred}.get(best, 1.0)
    if best is OutcomeKind.VISIT:
        too_dear = _too_dear_share(engine, needed, costs)
        if too_dear >= 0.5:
            best, share = OutcomeKind.VISIT_NOT_WORTH_REPAIRING, too_dear
    return Outcome(best, share, tuple(alternatives))


def _visit_for(repair: Repair, costs: CostModel) -> float:
    """Cost of a visit that ends with work the shop need not have come for."""
    return costs.trip_minor + costs.on_site_minor(repair.minutes + costs.verification_minutes)


def _too_dear_share(engine: Engine, needed: dict[str, float], costs: CostModel) -> float:
    """Probability that the repair costs the customer more than the set share of a new machine."""
    limit = costs.worth_repairing_share * costs.replacement_minor
    return min(
        1.0,
        sum(
            needed[repair.id]
            for repair in engine.network.repairs.values()
            if (
                _price(engine, repair, costs, high=False) + _price(engine, repair, costs, high=True)
            )
            > 2.0 * limit
        ),
    )


def _price(engine: Engine, repair: Repair, costs: CostModel, *, high: bool) -> int:
    parts = tuple(engine.network.parts[part] for part in repair.parts)
    return costs.price_minor(repair, parts, high=high)


def _price_range(engine: Engine, needed: dict[str, float], costs: CostModel) -> tuple[int, int]:
    """10th percentile of the low prices and 90th of the high ones over the repairs needed."""
    repairs = [repair for repair in engine.network.repairs.values() if needed[repair.id] > 0.0]
    weights = np.array([needed[repair.id] for repair in repairs])
    low = np.array([_price(engine, repair, costs, high=False) for repair in repairs])
    high = np.array([_price(engine, repair, costs, high=True) for repair in repairs])
    return _quantile(low, weights, 0.1), _quantile(high, weights, 0.9)


def _quantile(values: np.ndarray, weights: np.ndarray, level: float) -> int:
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order]) >= level * weights.sum()
    return int(values[order][np.argmax(reached)])


def _minutes(
    engine: Engine, needed: dict[str, float], tests: Sequence[PlannedTest], costs: CostModel
) -> float:
    """Expected minutes on site: tests of the trunk, repairs needed, one check run."""
    testing = sum(test.observation.minutes for test in tests)
    repairing = sum(
        needed[repair.id] * repair.minutes for repair in engine.network.repairs.values()
    )
    return testing + repairing + costs.verification_minutes
