"""The first visit plan: tests in order of value, parts worth loading, outcome of the call.

The plan is the trunk of the branching plan (``plan_tree``): from what is known now along the most
probable results after which testing still pays, with what every other result leads to.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import Observation, OnVan, Part, Repair, RepairBy
from triage.planning.costs import CostModel
from triage.planning.load import JobType, best_load
from triage.planning.plan_tree import PlanNode, plan_tree
from triage.planning.site_policy import ActionKind, BasePolicy
from triage.planning.site_problem import SiteProblem, site_problem
from triage.planning.visit_outcomes import visit_forecast

TESTS_MAX = 8
TRUNK_NODES = 40  # steps spelt out to find the trunk and what its results lead to
IGNORED_SHARE = 1e-3  # of a belief, left out when a step is chosen
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
    """What a result would lead to: the next test, or a repair with its probability.

    Neither where the plan is not spelt out further, or gives up.
    """

    __test__ = False

    answer: str
    label: str
    probability: float
    next_test: Observation | None
    next_repair: Repair | None
    repair_probability: float


@dataclass(frozen=True, slots=True)
class PlannedTest:
    """A test of the plan, the probability of coming to it, and its results."""

    observation: Observation
    probability: float
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
    """First visit plan. Costs and prices in minor units of ``currency``.

    ``well_share`` is P(nothing is wrong any more), after repairs; the tests are for the case that
    something still is.

    ``minutes_p50`` and ``minutes_p80`` on site; ``price_range_minor`` from the 10th to the 90th
    percentile; ``first_visit_share`` is P(the machine works after one visit with the parts loaded).
    """

    outcome: Outcome
    tests: tuple[PlannedTest, ...]
    well_share: float
    first_repair: Repair | None
    first_repair_probability: float
    parts: tuple[LoadedPart, ...]
    caller_steps: tuple[CallerStep, ...]
    minutes_expected: float
    minutes_p50: float
    minutes_p80: float
    price_range_minor: tuple[int, int]
    first_visit_share: float
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
    site = site_problem(engine, evidence, costs)
    policy = BasePolicy(site.problem, IGNORED_SHARE)
    tree = plan_tree(policy, nodes_max=TRUNK_NODES)
    needed = _needed_probability(site)
    tests = tuple(_trunk(site, tree.root))
    steps = _caller_steps(engine, needed, costs)
    leading = max(site.repairs, key=lambda repair: needed[repair.id])
    still_wrong = 1.0 - site.well_share
    visit = costs.trip_minor + still_wrong * policy.one_test_value(site.problem.start())
    parts = _parts(engine, site, needed, costs)
    forecast = visit_forecast(site, tree, dict(engine.network.parts), costs)
    return VisitPlan(
        outcome=_outcome(engine, needed, visit, steps, costs),
        tests=tests,
        well_share=site.well_share,
        first_repair=leading if needed[leading.id] > 0.0 else None,
        first_repair_probability=needed[leading.id],
        parts=parts,
        caller_steps=steps,
        minutes_expected=forecast.minutes_expected,
        minutes_p50=forecast.minutes(0.5),
        minutes_p80=forecast.minutes(0.8),
        price_range_minor=forecast.price_minor(0.1, 0.9),
        first_visit_share=forecast.first_visit_share(_aboard(engine, parts)),
        currency=engine.network.currency,
    )


def _needed_probability(site: SiteProblem) -> dict[str, float]:
    """P(repair needed) by repair id; a need counts for the cheapest repair that meets it."""
    problem = site.problem
    needed = np.zeros(problem.repair_count + 1)
    for column in problem.needs[:, :, 0].T:
        needed += np.bincount(column, problem.weights, problem.repair_count + 1)
    needed *= 1.0 - site.well_share
    return {repair.id: float(p) for repair, p in zip(site.repairs, needed, strict=False)}


def _trunk(site: SiteProblem, node: PlanNode) -> Iterator[PlannedTest]:
    """Tests along the most probable results after which testing still pays."""
    for _ in range(TESTS_MAX):
        if node.action is None or node.action.kind is not ActionKind.TEST:
            return
        observation = site.tests[node.action.place]
        labels = list(observation.answers.items())
        results = tuple(
            _result(site, *labels[answer], branch, branch.probability / node.probability)
            for answer, branch in node.branches.items()
            if branch.probability > RESULT_PROBABILITY_MIN * node.probability
        )
        yield PlannedTest(observation, node.probability, results)
        onward = [
            branch
            for branch in node.branches.values()
            if branch.action is not None and branch.action.kind is ActionKind.TEST
        ]
        if not onward:
            return
        node = max(onward, key=lambda branch: branch.probability)


def _result(
    site: SiteProblem, answer: str, label: str, branch: PlanNode, probability: float
) -> TestResult:
    action = branch.action
    if action is None or action.kind is ActionKind.STOP:
        return TestResult(answer, label, probability, None, None, 0.0)
    if action.kind is ActionKind.TEST:
        return TestResult(answer, label, probability, site.tests[action.place], None, 0.0)
    needs = (site.problem.needs == action.place).any(axis=(1, 2))
    sure = float(branch.belief.weights[needs].sum() / branch.belief.mass)
    return TestResult(answer, label, probability, None, site.repairs[action.place], sure)


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


def _parts(
    engine: Engine, site: SiteProblem, needed: dict[str, float], costs: CostModel
) -> tuple[LoadedPart, ...]:
    """Parts worth taking along: minimum cut over the sets of parts the jobs may need."""
    network = engine.network
    holding = {
        part.id: max(costs.carrying_minor(part), costs.carry_minor)
        for part in network.parts.values()
    }
    load = best_load(_job_types(site), holding, costs.return_trip_minor)
    loaded = []
    for name in load.parts:
        repairs = tuple(repair for repair in site.repairs if name in repair.parts)
        absent = np.prod([1.0 - min(1.0, needed[repair.id]) for repair in repairs])
        loaded.append(LoadedPart(network.parts[name], 1.0 - float(absent), repairs))
    return tuple(sorted(loaded, key=lambda entry: (-entry.probability, entry.part.id)))


def _aboard(engine: Engine, loaded: Sequence[LoadedPart]) -> frozenset[str]:
    """Parts on the van: those loaded for this visit, and those usually carried."""
    usual = {part.id for part in engine.network.parts.values() if part.on_van is OnVan.USUALLY}
    return frozenset(usual | {entry.part.id for entry in loaded})


def _job_types(site: SiteProblem) -> tuple[JobType, ...]:
    """Sets of parts the hypotheses need, equal sets merged, in order of first mention."""
    jobs: dict[frozenset[str], float] = {}
    for weight, needs in zip(site.problem.weights, site.problem.needs[:, :, 0], strict=True):
        repairs = [site.repairs[place] for place in needs if place < len(site.repairs)]
        parts = frozenset(part for repair in repairs for part in repair.parts)
        jobs[parts] = jobs.get(parts, 0.0) + float(weight) * (1.0 - site.well_share)
    return tuple(JobType(probability, parts) for parts, probability in jobs.items())


def _outcome(
    engine: Engine,
    needed: dict[str, float],
    visit: float,
    steps: Sequence[CallerStep],
    costs: CostModel,
) -> Outcome:
    """Compare the endings by expected cost; a repair that is too dear is told apart after."""
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
