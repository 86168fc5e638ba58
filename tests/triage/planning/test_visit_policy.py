"""Set-ups, bounds, screening and the policy of a visit, against brute force over every policy."""

from dataclasses import replace

import numpy as np
import pytest

from triage.planning.policy.bounds import BoundTable, CertifiedGap
from triage.planning.policy.lookahead import TwoStep
from triage.planning.policy.next_steps import next_steps
from triage.planning.policy.optimum import Optimum
from triage.planning.policy.screening import UNTESTED, Screening
from triage.planning.policy.site import ActionKind, BasePolicy, policy_cost
from triage.planning.policy.value import ValueTable
from triage.planning.policy.visit import Basis, VisitPolicy
from triage.planning.problem.arrays import (
    FREE,
    Belief,
    TroubleshootingProblem,
    after_repair_done,
    after_test,
    repair_cost_from,
)
from triage.planning.problem.arrays import test_costs_from as costs_of_tests
from triage.planning.visit.certificate import certified_gap, lower_bound, plan_cost_at_most
from triage.planning.visit.tree import plan_tree
from triage.simulation.problems import random_problem

RETURN_TRIP = 60.0


def drawn(
    seed: int, faults_max: int, *, repairs: int = 3, tests: int = 2
) -> TroubleshootingProblem:
    """A random problem with a panel, two facets of set-up, and repairs that may not hold."""
    rng = np.random.default_rng([seed, faults_max])
    bare = random_problem(rng, repairs=repairs, tests=tests, faults_max=faults_max)
    success = rng.uniform(0.7, 1.0, repairs)
    return replace(
        bare,
        repair_cost=bare.repair_cost + (1.0 - success) * RETURN_TRIP,
        access_of_test=rng.integers(FREE, 1, tests),
        access_of_repair=rng.integers(FREE, 1, repairs),
        access_cost=np.array([rng.uniform(5.0, 30.0)]),
        setup_of_test=rng.integers(FREE, 2, (tests, 2)),
        setup_cost=rng.uniform(1.0, 20.0, (2, 2)),
        setup_after_repair=(1, FREE),
        setup_start=(1, FREE),
    )


def cheapest(problem: TroubleshootingProblem, belief: Belief) -> float:
    """Least cost over every policy, by plain recursion without bounds or memory."""
    if belief.mass == 0.0:
        return 0.0
    options = [belief.mass * problem.stop_cost]
    for test in belief.open_tests(problem).tolist():
        cost = belief.mass * float(costs_of_tests(problem, belief, [test])[0])
        branches = after_test(problem, belief, test)
        options.append(cost + sum(cheapest(problem, then) for _, then in branches))
    for repair in range(problem.repair_count):
        if repair not in belief.repaired:
            cost = belief.mass * repair_cost_from(problem, belief, repair)
            options.append(cost + cheapest(problem, after_repair_done(problem, belief, repair)))
    return min(options)


CASES = [(seed, faults) for seed in range(3) for faults in (1, 2)]


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_optimum_with_setups_equals_brute_force_over_all_policies(seed: int, faults: int) -> None:
    problem = drawn(seed, faults)

    proved = Optimum(problem).cost(problem.start())

    assert proved == pytest.approx(cheapest(problem, problem.start()), rel=1e-12)


def test_optimum_of_three_faults_and_four_repairs_equals_brute_force() -> None:
    problem = drawn(7, 3, repairs=3, tests=2)

    proved = Optimum(problem).cost(problem.start())

    assert proved == pytest.approx(cheapest(problem, problem.start()), rel=1e-12)


def test_setup_is_paid_when_it_changes_and_only_then() -> None:
    problem = replace(
        drawn(0, 1),
        access_cost=np.zeros(1),
        setup_of_test=np.array([[0, FREE], [0, 1]]),
        setup_cost=np.array([[5.0, 7.0], [11.0, 13.0]]),
    )
    start = problem.start()
    own = problem.test_cost

    first = costs_of_tests(problem, start, [0, 1])
    after = after_test(problem, start, 0)[0][1]
    second = costs_of_tests(problem, after, [1])
    repaired = after_repair_done(problem, after, 0)

    assert first == pytest.approx(own + np.array([5.0, 5.0 + 13.0]))
    assert second == pytest.approx(own[1:] + 13.0)  # unplugged already; the water is not in yet
    assert after.setup == (0, FREE)
    assert repaired.setup == (1, FREE)  # the check run leaves it plugged in


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_bounds_stay_below_the_optimum_and_above_the_known_fault(seed: int, faults: int) -> None:
    problem = drawn(seed, faults, repairs=4, tests=3)
    start = problem.start()
    values = ValueTable(problem)

    known = float(values.lower_bound(start.weights[None, :])[0])
    bound = BoundTable(values).lower_of(start)
    ahead = lower_bound(problem, start)
    best = Optimum(problem).cost(start)

    assert known < bound <= best + 1e-9
    assert bound <= ahead <= best + 1e-9


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_bound_holds_at_every_belief_of_a_plan(seed: int, faults: int) -> None:
    problem = drawn(seed, faults, repairs=4, tests=3)
    optimum, bounds = Optimum(problem), BoundTable(ValueTable(problem))
    tree = plan_tree(BasePolicy(problem), covered_share=1.0, nodes_max=60)

    for steps, _ in tree.paths():
        for node in steps:
            assert bounds.lower_of(node.belief) <= optimum.cost(node.belief) + 1e-9


def _followed(
    screening: Screening, belief: Belief, ends: list[Belief], at: int = 0, look: int = 0
) -> float:
    """Cost of going through a screening's list, answer by answer; where that ends goes to ends."""
    problem, order = screening.problem, screening.order(screening.belief)
    if belief.mass == 0.0:
        return 0.0
    if at == len(order):
        ends.append(belief)
        return 0.0
    repair = order[at]
    if look == 2:
        cost = belief.mass * repair_cost_from(problem, belief, repair)
        then = after_repair_done(problem, belief, repair)
        return cost + _followed(screening, then, ends, at + 1)
    own = screening.looks[look]
    if own.test[repair] == UNTESTED:
        return _followed(screening, belief, ends, at, look + 1)
    test = int(own.test[repair])
    cost = belief.mass * float(costs_of_tests(problem, belief, [test])[0])
    for answer, then in after_test(problem, belief, test):
        ahead = (at, look + 1) if own.speaks[repair, answer] else (at + 1, 0)
        cost += _followed(screening, then, ends, *ahead)
    return cost


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("faults", [1, 2])
def test_screening_costs_what_following_its_list_costs(seed: int, faults: int) -> None:
    rng = np.random.default_rng([seed, faults])
    drawn_problem = random_problem(rng, repairs=4, tests=5, faults_max=faults)
    problem = replace(drawn_problem, stop_cost=np.inf)
    start = problem.start()
    screening = Screening(ValueTable(problem), start)

    found = screening.listed_costs([start])[0]
    ends: list[Belief] = []
    followed = _followed(screening, start, ends)

    left = sum((end.weights for end in ends), np.zeros_like(start.weights))
    rest = float(screening.values.expected_cost(left[None, :])[0])
    assert found == pytest.approx(followed + rest, rel=1e-12)


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_screening_costs_no_less_than_the_optimum_and_no_more_than_bare_repairs(
    seed: int, faults: int
) -> None:
    problem = drawn(seed, faults, repairs=4, tests=3)
    start = problem.start()
    values = ValueTable(problem)

    found = float(Screening(values, start).costs([start])[0])

    assert Optimum(problem).cost(start) <= found + 1e-9
    assert found <= values.cost_of(start) + 1e-9


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_screening_of_later_beliefs_costs_no_less_than_their_optimum(
    seed: int, faults: int
) -> None:
    problem = drawn(seed, faults, repairs=4, tests=3)
    start = problem.start()
    screening, optimum = Screening(ValueTable(problem), start), Optimum(problem)
    later = [then for test in range(3) for _, then in after_test(problem, start, test)]
    later += [
        then for repair in range(4) if (then := after_repair_done(problem, start, repair)).mass
    ]

    for belief, cost in zip(later, screening.costs(later), strict=True):
        assert optimum.cost(belief) <= cost + 1e-9


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_certified_gap_encloses_the_optimum_and_the_policy(seed: int, faults: int) -> None:
    problem = drawn(seed, faults, repairs=4, tests=3)
    policy = TwoStep(problem, 3)
    best, followed = Optimum(problem).cost(problem.start()), policy_cost(policy, problem.start())

    short = certified_gap(problem, plan_tree(policy, nodes_max=2))
    whole = plan_tree(policy, covered_share=1.0, nodes_max=10_000)

    assert short.lower_minor <= best + 1e-9
    assert best <= short.upper_minor + 1e-9
    assert plan_cost_at_most(problem, whole) == pytest.approx(followed, rel=1e-9)


def test_gap_of_equal_bounds_is_proved_best_and_nothing_above() -> None:
    gap = CertifiedGap(120.0, 120.0)

    assert gap.is_proved_best
    assert gap.excess_share == 0.0


def test_gap_is_a_share_of_the_least_possible() -> None:
    gap = CertifiedGap(150.0, 100.0)

    assert not gap.is_proved_best
    assert gap.excess_share == pytest.approx(0.5)


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_policy_of_a_small_visit_is_the_proved_optimum(seed: int, faults: int) -> None:
    problem = drawn(seed, faults)
    policy = VisitPolicy(problem, 0.0, nodes_of_proof=10_000)

    assert policy.decision(problem.start()).basis is Basis.PROVED
    assert policy_cost(policy, problem.start()) == pytest.approx(
        Optimum(problem).cost(problem.start()), rel=1e-9
    )


def test_policy_falls_back_when_the_nodes_of_the_proof_are_used_up() -> None:
    problem = drawn(1, 2, repairs=4, tests=3)

    assert Optimum(problem, nodes_max=2).proved(problem.start()) is None
    short = VisitPolicy(problem, nodes_of_proof=2).decision(problem.start())
    bare = VisitPolicy(problem, nodes_of_proof=0, nodes_of_rollout=0).decision(problem.start())
    assert short.basis is Basis.ROLLOUT
    assert bare.basis is Basis.TWO_STEPS
    assert bare.action == TwoStep(problem, 3, 1e-3).action(problem.start())


def test_short_rollouts_come_closer_to_the_optimum_than_the_policy_they_follow() -> None:
    rolled, base = 0.0, 0.0
    for seed in range(8):
        problem = random_problem(np.random.default_rng(seed), repairs=5, tests=4, faults_max=1)
        best = Optimum(problem).cost(problem.start())
        rolled += policy_cost(VisitPolicy(problem, nodes_of_proof=0), problem.start()) / best - 1.0
        base += policy_cost(BasePolicy(problem), problem.start()) / best - 1.0

    assert rolled < base


def test_same_belief_gives_the_same_step_every_time() -> None:
    problem = drawn(3, 2, repairs=5, tests=4)

    decisions = {VisitPolicy(problem, nodes_of_proof=0).decision(problem.start()) for _ in range(3)}

    assert len(decisions) == 1


def test_next_steps_begin_with_the_policys_and_cost_no_less() -> None:
    problem = drawn(2, 2, repairs=5, tests=4)
    policy = VisitPolicy(problem)

    found = next_steps(policy, problem.start())

    assert found.options[0].action == policy.action(problem.start())
    assert found.options[0].extra_minor == 0.0
    extras = [option.extra_minor for option in found.options[1:]]
    assert extras == sorted(extras)
    assert len({option.action for option in found.options}) == len(found.options)
    assert {option.action.kind for option in found.options} >= {ActionKind.TEST, ActionKind.REPAIR}


def test_next_steps_are_no_more_than_asked_for() -> None:
    problem = drawn(2, 2, repairs=5, tests=4)

    found = next_steps(VisitPolicy(problem), problem.start(), 3)

    assert len(found.options) == 3
    assert all(option.gain_bits >= 0.0 for option in found.options)


def test_repair_says_how_probable_it_is_to_be_needed() -> None:
    problem = drawn(2, 1, repairs=4, tests=3)

    found = next_steps(VisitPolicy(problem), problem.start(), 8)

    for option in found.options:
        if option.action.kind is ActionKind.REPAIR:
            assert option.needed_share == pytest.approx(problem.weights[option.action.place])


def test_giving_up_ties_with_repairing_when_repairing_ends_in_giving_up() -> None:
    problem = random_problem(np.random.default_rng([5, 4, 2, 12]), repairs=5, tests=4, faults_max=2)
    hopeless = replace(problem, stop_cost=1.0)
    values = ValueTable(hopeless)

    for test in range(4):
        for _, then in after_test(hopeless, hopeless.start(), test):
            assert values.cost_of(then) == then.mass * hopeless.stop_cost
