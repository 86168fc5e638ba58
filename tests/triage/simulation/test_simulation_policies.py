"""The policies to compare with: what each looks at, and where it must not lose."""

from collections.abc import Callable

import numpy as np
import pytest

from triage.planning.policy.lookahead import TwoStep
from triage.planning.policy.optimum import Optimum
from triage.planning.policy.site import STOP, Action, ActionKind, BasePolicy, Policy, policy_cost
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import (
    SOLVED,
    Belief,
    TroubleshootingProblem,
    after_repair_done,
    after_test,
)
from triage.simulation.policies import (
    FixedSequence,
    GainToThreshold,
    GatedGain,
    MostProbableFirst,
    OneTestValue,
    RepairsByOdds,
    gains_bits,
)
from triage.simulation.problems import random_problem

EVERY: dict[str, Callable[[TroubleshootingProblem], Policy]] = {
    "fixed": FixedSequence,
    "most probable": MostProbableFirst,
    "by odds": RepairsByOdds,
    "gain": lambda problem: GainToThreshold(problem, 0.7, per_cost=False),
    "gain per cost": lambda problem: GainToThreshold(problem, 0.7, per_cost=True),
    "gated": GatedGain,
    "one test": OneTestValue,
    "two steps": lambda problem: TwoStep(problem, 3),
}


def drawn(seed: int, faults_max: int = 1) -> TroubleshootingProblem:
    rng = np.random.default_rng([seed, faults_max])
    return random_problem(rng, repairs=4, tests=3, faults_max=faults_max)


def two_faults(*, test_cost: float = 1.0, stop_cost: float = np.inf) -> TroubleshootingProblem:
    """Faults of 0.6 and 0.4, cured for 50 and 10; one test that tells them apart for sure."""
    return TroubleshootingProblem(
        weights=np.array([0.6, 0.4]),
        needs=np.array([[[0]], [[1]]]),
        after=np.array([[SOLVED, 1], [0, SOLVED]]),
        repair_cost=np.array([50.0, 10.0]),
        test_cost=np.array([test_cost]),
        sign_of_test=np.array([0]),
        local=np.array([[[1.0, 0.0], [0.0, 1.0]]]),
        answers=np.eye(2)[None],
        stop_cost=stop_cost,
    )


def first(policy: Policy) -> Action:
    return policy.action(policy.problem.start())


@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("faults_max", [1, 3])
def test_no_policy_beats_the_proved_optimum(name: str, faults_max: int) -> None:
    problem = drawn(4, faults_max)

    cost = policy_cost(EVERY[name](problem), problem.start())

    assert cost >= Optimum(problem).cost(problem.start()) - 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_repairs_by_odds_cost_what_the_value_table_says(seed: int) -> None:
    problem = drawn(seed)

    cost = policy_cost(RepairsByOdds(problem), problem.start())

    assert cost == pytest.approx(ValueTable(problem).cost_of(problem.start()), rel=1e-9)


@pytest.mark.parametrize("policy", [GatedGain, OneTestValue])
@pytest.mark.parametrize("faults_max", [1, 2])
@pytest.mark.parametrize("seed", range(3))
def test_tests_that_must_be_worth_their_cost_never_make_a_plan_dearer(
    seed: int, faults_max: int, policy: Callable[[TroubleshootingProblem], Policy]
) -> None:
    problem = drawn(seed, faults_max)

    cost = policy_cost(policy(problem), problem.start())

    assert cost <= policy_cost(RepairsByOdds(problem), problem.start()) + 1e-9


@pytest.mark.parametrize("seed", range(3))
def test_two_steps_never_cost_more_than_one_test_and_repairs(seed: int) -> None:
    problem = drawn(seed)

    cost = policy_cost(TwoStep(problem, 3), problem.start())

    assert cost <= BasePolicy(problem).one_test_value(problem.start()) + 1e-9


def test_two_steps_decide_the_same_without_rows_that_weigh_nothing() -> None:
    problem = drawn(2, faults_max=3)

    action = TwoStep(problem, 3, ignored_share=1e-9).action(problem.start())

    assert action == TwoStep(problem, 3).action(problem.start())


def test_most_probable_and_best_per_cost_differ_as_their_names_say() -> None:
    problem = two_faults()

    assert first(MostProbableFirst(problem)) == Action(ActionKind.REPAIR, 0)  # 0.6 against 0.4
    assert first(RepairsByOdds(problem)) == Action(ActionKind.REPAIR, 1)  # 0.4/10 against 0.6/50


def test_test_that_tells_for_sure_gains_the_whole_entropy() -> None:
    problem = two_faults()

    gains = gains_bits(problem, problem.start(), np.array([0]))

    # -0.6 log2 0.6 - 0.4 log2 0.4, by hand.
    assert gains[0] == pytest.approx(0.970950594, abs=1e-9)


def test_threshold_decides_between_test_and_repair() -> None:
    problem = two_faults()

    assert first(GainToThreshold(problem, 0.59, per_cost=True)).kind is ActionKind.REPAIR
    assert first(GainToThreshold(problem, 0.61, per_cost=True)).kind is ActionKind.TEST


def test_gated_gain_asks_only_what_saves_more_than_it_costs() -> None:
    # Without the test 10 + 0.6 * 50 = 40, with it 0.6 * 50 + 0.4 * 10 = 34: it saves 6.
    assert first(GatedGain(two_faults(test_cost=5.9))).kind is ActionKind.TEST
    assert first(GatedGain(two_faults(test_cost=6.1))).kind is ActionKind.REPAIR


@pytest.mark.parametrize("policy", [RepairsByOdds, MostProbableFirst, GatedGain, OneTestValue])
def test_giving_up_is_chosen_where_it_costs_less(
    policy: Callable[[TroubleshootingProblem], Policy],
) -> None:
    assert first(policy(two_faults(test_cost=9.0, stop_cost=5.0))) == STOP


def fixed_steps(problem: TroubleshootingProblem, answers: list[int]) -> tuple[list[Action], Belief]:
    """Actions of the fixed sequence while its tests answer as told."""
    policy, belief, actions = FixedSequence(problem), problem.start(), []
    for answer in answers:
        actions.append(policy.action(belief))
        belief = dict(after_test(problem, belief, actions[-1].place))[answer]
    return [*actions, policy.action(belief)], belief


def test_fixed_sequence_tests_in_order_until_one_fails() -> None:
    problem = drawn(1)

    actions, _ = fixed_steps(problem, [0, 1])

    kinds = [ActionKind.TEST, ActionKind.TEST, ActionKind.REPAIR]
    assert [action.kind for action in actions] == kinds
    assert [action.place for action in actions[:2]] == [0, 1]


def test_fixed_sequence_repairs_what_the_failed_test_points_at_then_the_rest() -> None:
    problem = drawn(1)
    policy = FixedSequence(problem)
    # The generator draws a sensitivity of at least 0.80 for a covered fault, a false alarm of at
    # most 0.10 for another; so one half tells which faults the test covers.
    covered = {k for k in range(4) if problem.local[1, k, 1] > 0.5}
    actions, belief = fixed_steps(problem, [0, 1])

    repaired = []
    while (action := policy.action(belief)).kind is ActionKind.REPAIR:
        repaired.append(action.place)
        belief = after_repair_done(problem, belief, action.place)
        if belief.mass == 0.0:
            break

    assert actions[-1].place == repaired[0]
    assert set(repaired[: len(covered)]) == covered
