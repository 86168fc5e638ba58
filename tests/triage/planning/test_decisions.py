"""Values, policies, optimum and load against published rules, hand sums and brute force."""

from itertools import combinations, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.planning.parts.load import JobType, best_load, load_of
from triage.planning.policy.optimum import Optimum
from triage.planning.policy.site import (
    ActionKind,
    BasePolicy,
    Rollout,
    policy_cost,
)
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import (
    SOLVED,
    TroubleshootingProblem,
    after_repair_done,
    after_test,
)
from triage.planning.visit.tree import STILL_BROKEN, WORKS, plan_tree
from triage.simulation.problems import random_problem

NO_TESTS = np.zeros((0, 1, 1))


def _single_faults(
    probabilities: list[float], costs: list[float], stop_cost: float = np.inf
) -> TroubleshootingProblem:
    """One fault, one repair each, no tests."""
    count = len(costs)
    after = np.tile(np.arange(count), (count, 1))
    np.fill_diagonal(after, SOLVED)
    return TroubleshootingProblem(
        weights=np.array(probabilities),
        needs=np.arange(count)[:, None, None],
        after=after,
        repair_cost=np.array(costs),
        test_cost=np.zeros(0),
        sign_of_test=np.zeros(0, dtype=np.int64),
        local=np.zeros((0, count, 1)),
        answers=NO_TESTS,
        stop_cost=stop_cost,
    )


def _independent_faults(priors: list[float], costs: list[float]) -> TroubleshootingProblem:
    """Independent faults, given at least one; the machine works when all are repaired."""
    count = len(costs)
    sets = [s for size in range(1, count + 1) for s in combinations(range(count), size)]
    place = {chosen: row for row, chosen in enumerate(sets)}
    p = np.array(priors)
    weights = np.array(
        [np.prod([p[k] if k in s else 1 - p[k] for k in range(count)]) for s in sets]
    )
    needs = np.full((len(sets), count), count)
    after = np.empty((count, len(sets)), dtype=np.int64)
    for row, chosen in enumerate(sets):
        needs[row, : len(chosen)] = chosen
        for repair in range(count):
            left = tuple(k for k in chosen if k != repair)
            after[repair, row] = place[left] if left else SOLVED
    return TroubleshootingProblem(
        weights=weights / weights.sum(),
        needs=needs[:, :, None],
        after=after,
        repair_cost=np.array(costs),
        test_cost=np.zeros(0),
        sign_of_test=np.zeros(0, dtype=np.int64),
        local=np.zeros((0, len(sets), 1)),
        answers=NO_TESTS,
    )


def _value(problem: TroubleshootingProblem) -> float:
    return float(ValueTable(problem).expected_cost(problem.weights[None, :])[0])


FOUR = ([0.40, 0.30, 0.20, 0.10], [120.0, 45.0, 20.0, 40.0])


def test_four_faults_cost_what_the_best_order_costs() -> None:
    # Own instance, by hand: p/C orders 3, 2, 1, 4: .2*20 + .3*65 + .4*185 + .1*225 = 120.
    assert _value(_single_faults(*FOUR)) == pytest.approx(120.0, abs=1e-9)


@pytest.mark.parametrize(
    ("stop_cost", "expected"),
    [
        (100.0, 100.0),
        (110.0, 108.0),
        (119.0, 115.2),
        (121.0, 116.5),
        (125.0, 118.5),
        (127.0, 119.5),
        (130.0, 120.0),
    ],
)
def test_way_out_is_taken_after_the_right_number_of_repairs(
    stop_cost: float, expected: float
) -> None:
    # Own instance: up to 100 give up at once; to 120 after the third fault's repair; to 128 after
    # the second's too; beyond that never. Each value by hand from the prefixes of the order.
    assert _value(_single_faults(*FOUR, stop_cost)) == pytest.approx(expected, abs=1e-9)


@given(
    probabilities=st.lists(st.floats(0.01, 1.0), min_size=4, max_size=4),
    costs=st.lists(st.floats(1.0, 200.0), min_size=4, max_size=4),
)
@settings(max_examples=60, deadline=None)
def test_order_by_probability_per_cost_is_best_for_one_fault(
    probabilities: list[float], costs: list[float]
) -> None:
    # Kadane & Simon (1977): one fault, each repair cures exactly one, costs fixed.
    weights = [p / sum(probabilities) for p in probabilities]

    found = _value(_single_faults(weights, costs))

    best = min(
        sum(weights[k] * sum(costs[j] for j in order[: n + 1]) for n, k in enumerate(order))
        for order in permutations(range(4))
    )
    assert found == pytest.approx(best, rel=1e-9)


@pytest.mark.parametrize(
    ("priors", "costs", "expected"),
    [
        ([0.80, 0.30, 0.10], [100.0, 25.0, 7.0], 111.384439),
        ([0.30, 0.20, 0.10, 0.05], [100.0, 40.0, 15.0, 30.0], 118.06983883),
    ],
)
def test_independent_faults_are_repaired_by_odds_per_cost(
    priors: list[float], costs: list[float], expected: float
) -> None:
    # Srinivas (UAI 1995): odds per cost; own instances, brute force over all orders. Marginal per
    # cost would give 123.13 in the first, the worst of its six orders.
    assert _value(_independent_faults(priors, costs)) == pytest.approx(expected, abs=1e-5)


def _question_then_repair() -> TroubleshootingProblem:
    """Three faults, one test."""
    bare = _single_faults([0.5, 0.3, 0.2], [90.0, 60.0, 30.0])
    positive = np.array([0.9, 0.2, 0.1])
    return TroubleshootingProblem(
        weights=bare.weights,
        needs=bare.needs,
        after=bare.after,
        repair_cost=bare.repair_cost,
        test_cost=np.array([10.0]),
        sign_of_test=np.array([0]),
        local=np.stack([1 - positive, positive], axis=1)[None],
        answers=np.eye(2)[None],
    )


def test_one_question_then_repair() -> None:
    # Form of Heckerman, Breese & Rommelse (1995), own numbers: without the test 120.0, with it
    # 99.1; the optimum over all policies is 99.1 too (brute force).
    problem = _question_then_repair()
    values = ValueTable(problem)

    assert _value(problem) == pytest.approx(120.0, abs=1e-9)
    assert values.test_costs(problem.start(), np.array([0]))[0] == pytest.approx(99.1, abs=1e-9)
    assert Optimum(problem).cost(problem.start()) == pytest.approx(99.1, abs=1e-9)
    assert policy_cost(BasePolicy(problem), problem.start()) == pytest.approx(99.1, abs=1e-9)


def _cheapest_by_brute_force(problem: TroubleshootingProblem, belief) -> float:  # type: ignore[no-untyped-def]
    """Least cost over every policy, by plain recursion without bounds or memory."""
    if belief.mass == 0.0:
        return 0.0
    options = []
    if np.isfinite(problem.stop_cost):
        options.append(belief.mass * problem.stop_cost)
    for test in belief.open_tests(problem):
        cost = belief.mass * problem.test_cost[test]
        branches = after_test(problem, belief, int(test))
        options.append(cost + sum(_cheapest_by_brute_force(problem, b) for _, b in branches))
    for repair in range(problem.repair_count):
        if repair not in belief.repaired:
            then = after_repair_done(problem, belief, repair)
            cost = belief.mass * problem.repair_cost[repair]
            options.append(cost + _cheapest_by_brute_force(problem, then))
    return min(options)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("faults_max", [1, 2])
def test_optimum_equals_brute_force_over_all_policies(seed: int, faults_max: int) -> None:
    problem = random_problem(np.random.default_rng(seed), repairs=3, tests=2, faults_max=faults_max)

    proved = Optimum(problem).cost(problem.start())

    assert proved == pytest.approx(_cheapest_by_brute_force(problem, problem.start()), rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_bound_optimum_rollout_base_and_bare_repairs_come_in_this_order(seed: int) -> None:
    problem = random_problem(np.random.default_rng(seed), repairs=4, tests=3, faults_max=2)
    base = BasePolicy(problem)
    start = problem.start()

    bound = float(ValueTable(problem).lower_bound(start.weights[None, :])[0])
    best = Optimum(problem).cost(start)
    rollout = policy_cost(Rollout(base), start)
    followed = policy_cost(base, start)

    assert bound <= best + 1e-9
    assert best <= rollout + 1e-9
    assert rollout <= followed + 1e-9
    assert followed <= _value(problem) + 1e-9


@pytest.mark.parametrize("seed", range(3))
def test_plan_never_costs_more_when_a_repair_gets_cheaper(seed: int) -> None:
    problem = random_problem(np.random.default_rng(seed), repairs=4, tests=3, faults_max=1)
    cheaper = TroubleshootingProblem(
        **{
            **{name: getattr(problem, name) for name in problem.__dataclass_fields__},
            "repair_cost": problem.repair_cost * np.array([0.5, 1.0, 1.0, 1.0]),
        }
    )

    assert Optimum(cheaper).cost(cheaper.start()) <= Optimum(problem).cost(problem.start()) + 1e-9


def test_leaving_out_rows_without_weight_changes_no_decision() -> None:
    problem = random_problem(np.random.default_rng(1), repairs=5, tests=4, faults_max=3)
    start = problem.start()

    assert BasePolicy(problem).action(start) == BasePolicy(problem, 1e-9).action(start)


@pytest.mark.parametrize("seed", range(3))
def test_tree_spelt_out_to_the_end_covers_everything(seed: int) -> None:
    problem = random_problem(np.random.default_rng(seed), repairs=4, tests=3, faults_max=2)
    policy = BasePolicy(problem)

    tree = plan_tree(policy, covered_share=1.0, nodes_max=10_000)

    ends = [end.probability for _, end in tree.paths()]
    assert tree.beyond == pytest.approx(0.0, abs=1e-9)
    assert sum(ends) == pytest.approx(1.0, abs=1e-9)
    cost = 0.0
    for steps, end in tree.paths():
        for node in (*steps, end):
            if node.action is None:
                continue
            prices = {ActionKind.TEST: problem.test_cost, ActionKind.REPAIR: problem.repair_cost}
            is_stop = node.action.kind is ActionKind.STOP
            price = problem.stop_cost if is_stop else prices[node.action.kind][node.action.place]
            cost += end.probability * price
    assert cost == pytest.approx(policy_cost(policy, problem.start()), rel=1e-9)


def test_tree_cut_short_says_how_much_it_leaves_out() -> None:
    problem = random_problem(np.random.default_rng(0), repairs=5, tests=4, faults_max=2)

    tree = plan_tree(BasePolicy(problem), nodes_max=3)

    open_ends = [
        end.probability for _, end in tree.paths() if end.action is None and not end.is_solved
    ]
    assert tree.beyond == pytest.approx(sum(open_ends), abs=1e-9)
    assert tree.beyond > 0.05


def test_repair_in_the_tree_branches_into_works_and_still_broken() -> None:
    problem = _single_faults([0.9, 0.1], [10.0, 50.0])

    root = plan_tree(BasePolicy(problem), covered_share=1.0).root

    assert root.branches[WORKS].probability == pytest.approx(0.9)
    assert root.branches[WORKS].is_solved
    assert root.branches[STILL_BROKEN].probability == pytest.approx(0.1)


KIT_JOBS = (
    JobType(0.30, frozenset({"pump"})),
    JobType(0.20, frozenset({"belt"})),
    JobType(0.10, frozenset({"belt", "motor"})),
    JobType(0.15, frozenset({"board"})),
    JobType(0.05, frozenset({"pump", "board"})),
    JobType(0.12, frozenset({"valve"})),
    JobType(0.08, frozenset({"motor"})),
)
KIT_HOLDING = {"pump": 9.0, "belt": 5.0, "motor": 26.0, "board": 22.0, "valve": 10.0}


def test_load_of_the_five_part_example() -> None:
    # Own instance, maximum closure (Picard 1976), brute force over 32 loads: value 52.4, fill .82.
    load = best_load(KIT_JOBS, KIT_HOLDING, 120.0)

    assert set(load.parts) == {"belt", "board", "pump", "valve"}
    assert load.value == pytest.approx(52.4, abs=1e-9)
    assert load.fill_rate == pytest.approx(0.82, abs=1e-9)


def test_parts_worth_taking_only_together_are_taken() -> None:
    # Own instance: {a} -17.6, {b} -12, {a, b} +6.4; one part at a time would load nothing.
    jobs = (JobType(0.30, frozenset({"a", "b"})), JobType(0.02, frozenset({"a"})))
    holding = {"a": 20.0, "b": 12.0}

    load = best_load(jobs, holding, 120.0)

    assert set(load.parts) == {"a", "b"}
    assert load.value == pytest.approx(6.4, abs=1e-9)
    assert load_of(["a"], jobs, holding, 120.0).value == pytest.approx(-17.6, abs=1e-9)


@given(seed=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_load_equals_brute_force(seed: int) -> None:
    rng = np.random.default_rng(seed)
    parts = list("abcdef")
    jobs = tuple(
        JobType(float(p), frozenset(rng.choice(parts, size=rng.integers(1, 4), replace=False)))
        for p in rng.dirichlet(np.ones(7))
    )
    holding = {part: float(rng.uniform(1, 30)) for part in parts}
    every = [s for size in range(7) for s in combinations(parts, size)]

    found = best_load(jobs, holding, 100.0)

    best = max(load_of(chosen, jobs, holding, 100.0).value for chosen in every)
    assert found.value == pytest.approx(best, abs=1e-4)


def _cabinet() -> TroubleshootingProblem:
    """Two faults behind one panel (opening it costs 30), one outside."""
    bare = _single_faults([0.5, 0.2, 0.3], [10.0, 5.0, 20.0])
    return TroubleshootingProblem(
        weights=bare.weights,
        needs=bare.needs,
        after=bare.after,
        repair_cost=bare.repair_cost,
        test_cost=bare.test_cost,
        sign_of_test=bare.sign_of_test,
        local=bare.local,
        answers=bare.answers,
        access_of_repair=np.array([0, 0, -1]),
        access_cost=np.array([30.0]),
    )


def test_panel_is_paid_for_once() -> None:
    # Own instance: orders a,b,x 48.5 (best); b,a,x 49.0; x,a,b 49.0; x,b,a 49.5 (by hand).
    problem = _cabinet()

    assert Optimum(problem).cost(problem.start()) == pytest.approx(48.5, abs=1e-9)
    assert _value(problem) == pytest.approx(49.0, abs=1e-9)  # x first: dearer by one per cent
    assert policy_cost(BasePolicy(problem), problem.start()) <= 49.0 + 1e-9


def test_overlapping_repairs_are_valued_in_the_greedy_order() -> None:
    # Own instance: faults .25 .25 .20 .15 .15; unit-cost repairs a{1,3} b{2,4} c{1,2} d{3} e{5}
    # g{4}: the best order a, b, e costs 1.70 (brute force); greedy by probability starts with c.
    shares = np.array([0.25, 0.25, 0.20, 0.15, 0.15])
    cures = [{0, 2}, {1, 3}, {0, 1}, {2}, {4}, {3}]
    after = np.array(
        [[SOLVED if fault in cured else fault for fault in range(5)] for cured in cures]
    )
    meets = [[k for k, cured in enumerate(cures) if fault in cured] for fault in range(5)]
    needs = np.array([[[*ways, *([6] * (2 - len(ways)))]] for ways in meets])
    problem = TroubleshootingProblem(
        weights=shares,
        needs=needs,
        after=after,
        repair_cost=np.ones(6),
        test_cost=np.zeros(0),
        sign_of_test=np.zeros(0, dtype=np.int64),
        local=np.zeros((0, 5, 1)),
        answers=NO_TESTS,
    )

    assert Optimum(problem).cost(problem.start()) == pytest.approx(1.70, abs=1e-9)
    assert _value(problem) <= 4 * 1.70  # Feige, Lovasz & Tetali (2004): greedy within factor 4
    assert policy_cost(BasePolicy(problem), problem.start()) == pytest.approx(1.95, abs=0.26)
