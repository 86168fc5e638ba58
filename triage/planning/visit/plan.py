"""The first visit plan: tests in order of value, parts worth loading, outcome of the call.

The plan is the trunk of the branching plan (``plan_tree``): from what is known now along the most
probable results after which testing still pays, with what every other result leads to.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import FaultNetwork, Observation, Repair, RepairBy
from triage.planning.parts.tour import TourLoad
from triage.planning.parts.van import VisitNeeds, best_load_of_day, van_with, visit_needs, with_van
from triage.planning.policy.site import ActionKind, BasePolicy
from triage.planning.policy.value import ValueTable
from triage.planning.policy.visit import PlanPolicy
from triage.planning.problem.arrays import SOLVED
from triage.planning.problem.site import SiteProblem, site_problem
from triage.planning.shop.costs import CostModel
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.planning.visit.endings import Outcome, VisitChoice, outcome_of_call
from triage.planning.visit.outcomes import VisitForecast, visit_forecast
from triage.planning.visit.replacement import (
    ReplacementAdvice,
    Rule,
    Verdict,
    advice_on_site,
    age_found,
)
from triage.planning.visit.tree import PlanNode, PlanTree, plan_tree

TESTS_MAX = 8
COVERED_SHARE = 0.99  # of the visits that the forecast spells out, within so many steps
NODES_MAX = 30
PLAYED_IGNORED_SHARE = 0.01  # of a belief, left out of the decisions of visits played on
RESULT_PROBABILITY_MIN = 0.005  # rarer results are not spelt out; the sheet says "anything else"


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
class CallerStep:
    """Something the caller can do now, and the probability that it is all that is needed."""

    repair: Repair
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitPlan:
    """First visit plan. Costs and prices in minor units of ``currency``.

    ``well_share`` is P(nothing is wrong any more), after repairs; the tests are for the case that
    something still is. ``needs`` and ``load`` say what the visit may need and what is taken along.

    ``minutes_p50``, ``minutes_p80`` and ``minutes_p95`` on site; ``price_range_minor`` from the
    10th to the 90th percentile; ``first_visit_share`` is P(the machine works after one visit with
    the parts loaded | the quote is not declined); ``declined_share`` is the share of quotes that
    customers decline. ``advice`` is whether to repair, None where no new machine is known.
    """

    outcome: Outcome
    tests: tuple[PlannedTest, ...]
    well_share: float
    first_repair: Repair | None
    first_repair_probability: float
    needs: VisitNeeds
    load: TourLoad
    caller_steps: tuple[CallerStep, ...]
    minutes_expected: float
    minutes_p50: float
    minutes_p80: float
    minutes_p95: float
    price_range_minor: tuple[int, int]
    first_visit_share: float
    declined_share: float
    advice: ReplacementAdvice | None
    currency: str


def first_visit_plan(
    engine: Engine,
    evidence: Evidence,
    settings: ShopSettings = DEFAULT_SETTINGS,
    *,
    plate: str = "",
) -> VisitPlan:
    """Plan of the first visit from what is known.

    Parameters
    ----------
    engine : Engine
        Of a network under the settings of the shop (``ShopSettings.applied_to``).
    evidence : Evidence
    settings : ShopSettings
    plate : str
        What the machine's plate says; empty if nobody has read it yet.

    Returns
    -------
    VisitPlan
        At most ``TESTS_MAX`` tests, in the order in which the policy takes them.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    network = engine.network
    costs = settings.costs_for(network.id)
    at_hand = site_problem(engine, evidence, costs)
    needs = visit_needs(at_hand, network, settings, plate)
    load = best_load_of_day([needs], settings)
    ready = van_with(needs, load.take, settings).ready
    site = with_van(at_hand, ready, costs.return_trip_minor)
    needed = _needed_probability(site)
    steps = _caller_steps(site, costs)
    tree, forecast = _forecast(site, network, costs, settings.quote_declined_share)
    advice = advice_on_site(site, network, settings, age_found(network, evidence))
    choice = VisitChoice(
        engine=engine,
        site=at_hand,
        costs=costs,
        ready=ready,
        ready_as_is=van_with(needs, {}, settings).ready,
        carrying_minor=needs.carrying_minor(load.take, settings),
        first=tree.root.action,
    )
    leading = max(site.repairs, key=lambda repair: needed[repair.id])
    return VisitPlan(
        outcome=outcome_of_call(choice, [step.repair for step in steps], _too_dear(advice)),
        tests=tuple(_trunk(site, tree.root)),
        well_share=site.well_share,
        first_repair=leading if needed[leading.id] > 0.0 else None,
        first_repair_probability=needed[leading.id],
        needs=needs,
        load=load,
        caller_steps=steps,
        minutes_expected=forecast.minutes_expected,
        minutes_p50=forecast.minutes(0.5),
        minutes_p80=forecast.minutes(0.8),
        minutes_p95=forecast.minutes(0.95),
        price_range_minor=forecast.price_minor(0.1, 0.9),
        first_visit_share=forecast.first_visit_share(ready),
        declined_share=settings.quote_declined_share,
        advice=advice,
        currency=network.currency,
    )


def _forecast(
    site: SiteProblem, network: FaultNetwork, costs: CostModel, declined_share: float
) -> tuple[PlanTree, VisitForecast]:
    """The plan spelt out, and the ways the visit may go by it."""
    values = ValueTable(site.problem)
    tree = plan_tree(
        PlanPolicy(site.problem, values),
        covered_share=COVERED_SHARE,
        nodes_max=NODES_MAX,
        holds=site.holds,
    )
    on_site = BasePolicy(site.problem, PLAYED_IGNORED_SHARE, values)
    parts = dict(network.parts)
    return tree, visit_forecast(site, tree, on_site, parts, costs, declined_share)


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


def _caller_steps(site: SiteProblem, costs: CostModel) -> tuple[CallerStep, ...]:
    """Steps of the caller that pay: probability times a visit spared exceeds their minutes.

    A step counts with P(it alone puts everything right), whatever the technician would do instead.
    """
    problem = site.problem
    steps = []
    for place, repair in enumerate(site.repairs):
        if repair.by is not RepairBy.CALLER or not repair.caller_steps:
            continue
        cures = problem.weights[problem.after[place] == SOLVED].sum()
        probability = float(cures) * (1.0 - site.well_share)
        saved = probability * repair.success * _visit_for(repair, costs)
        if saved > costs.on_phone_minor(repair.minutes):
            steps.append(CallerStep(repair, probability))
    return tuple(sorted(steps, key=lambda step: (-step.probability, step.repair.id)))


def _visit_for(repair: Repair, costs: CostModel) -> float:
    """Cost of a visit that ends with work the shop need not have come for."""
    return costs.trip_minor + costs.on_site_minor(repair.minutes + costs.verification_minutes)


def _too_dear(advice: ReplacementAdvice | None) -> float:
    """P(too dear by the plain rule) where all rules speak for a new machine, else 0."""
    if advice is None or advice.verdict is not Verdict.REPLACE:
        return 0.0
    return next(entry.share_above for entry in advice.rules if entry.rule is Rule.PLAIN_HALF)
