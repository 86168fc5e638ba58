"""Lists that end a plan: their cost is that of doing what they say, told step by step."""

import itertools

import numpy as np
import pytest

from tests.triage.planning.test_visit_policy import CASES, drawn
from triage.planning.policy.optimum import Optimum
from triage.planning.policy.screening import Screening
from triage.planning.policy.site import STOP, BasePolicy
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import (
    Belief,
    TroubleshootingProblem,
    after_repair_done,
    after_test,
    repair_cost_from,
)
from triage.planning.problem.arrays import test_costs_from as costs_of_tests
from triage.planning.visit.certificate import plan_cost_at_most
from triage.planning.visit.repair_lists import RepairList, repair_lists, untested_list
from triage.planning.visit.tree import PlanNode, plan_tree, with_lists


def cost_of_doing(
    problem: TroubleshootingProblem, screening: Screening, belief: Belief, told: RepairList
) -> float:
    """Cost of a list by following every way through it, test by test and repair by repair."""
    beliefs, cost = [belief], 0.0
    for entry in told.entries:
        onward = []
        for here in beliefs:
            tried = [here]
            for test in entry.looks:
                look = next(own for own in screening.looks if own.test[entry.repair] == test)
                next_tried = []
                for known in tried:
                    cost += known.mass * float(costs_of_tests(problem, known, [test])[0])
                    for answer, then in after_test(problem, known, test):
                        speaks = look.speaks[entry.repair, answer]
                        (next_tried if speaks else onward).append(then)
                tried = next_tried
            for known in tried:
                cost += known.mass * repair_cost_from(problem, known, entry.repair)
                onward.append(after_repair_done(problem, known, entry.repair))
        beliefs = [one for one in onward if one.mass > 0.0]
    left = sum(one.mass for one in beliefs)
    assert told.gives_up or left == pytest.approx(0.0, abs=1e-12)
    return cost + (left * problem.stop_cost if told.gives_up else 0.0)


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_list_costs_no_less_than_doing_what_it_says(seed: int, faults: int) -> None:
    problem = drawn(seed, faults, repairs=4, tests=3)
    screening = Screening(ValueTable(problem), problem.start())

    (told,) = repair_lists(screening, [problem.start()])

    # A set-up is charged where it may be lacking, so that the list may cost a little less.
    done = cost_of_doing(problem, screening, problem.start(), told)
    assert done <= told.cost + 1e-9
    assert told.cost <= float(screening.costs([problem.start()])[0]) + 1e-9


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_list_without_tests_costs_just_what_doing_it_costs(seed: int, faults: int) -> None:
    problem = drawn(seed, faults, repairs=4, tests=3)
    values = ValueTable(problem)

    told = untested_list(values, problem.start())

    screening = Screening(values, problem.start())
    done = cost_of_doing(problem, screening, problem.start(), told)
    assert told.cost == pytest.approx(values.cost_of(problem.start()), rel=1e-12)
    assert done == pytest.approx(told.cost, rel=1e-9)
    assert [entry.reached[0] for entry in told.entries[:1]] in ([], [pytest.approx(1.0)])


@pytest.mark.parametrize(("seed", "faults"), CASES)
def test_plan_that_ends_in_lists_leaves_nothing_open_and_is_no_cheaper_than_the_best(
    seed: int, faults: int
) -> None:
    problem = drawn(seed, faults, repairs=4, tests=3)
    values = ValueTable(problem)
    policy = BasePolicy(problem)
    short = plan_tree(policy, covered_share=1.0, nodes_max=2)
    before = sorted(_masses(short.root))

    whole = with_lists(short, Screening(values, problem.start()), rare_share=0.05)

    assert whole.beyond == 0.0
    ends = [node for _, node in whole.paths()]
    assert all(node.is_solved or node.action is not None or node.ending for node in ends)
    assert sum(_masses(whole.root)) == pytest.approx(sum(before), rel=1e-12)
    told = plan_cost_at_most(problem, whole, values)
    assert Optimum(problem).cost(problem.start()) <= told + 1e-9


def test_rare_answers_share_one_list_and_equal_lists_are_one() -> None:
    seeds = itertools.product(range(6), (1, 2))
    merged = 0
    for seed, faults in seeds:
        problem = drawn(seed, faults, repairs=4, tests=3)
        tree = plan_tree(BasePolicy(problem), covered_share=1.0, nodes_max=2)
        with_lists(tree, Screening(ValueTable(problem), problem.start()), rare_share=0.9)
        for steps, _ in tree.paths():
            for node in steps:
                told = [b.ending.steps for b in node.branches.values() if b.ending]
                assert len(set(told)) == len(told)
                merged += sum(len(branch.answers) > 1 for branch in node.branches.values())

    assert merged > 0


def _masses(root: PlanNode) -> list[float]:
    """Mass of every open end or list below a node."""
    stack, found = [root], []
    while stack:
        node = stack.pop()
        stack += node.branches.values()
        if node.is_open or node.ending is not None or node.action == STOP:
            found.append(float(np.sum(node.belief.weights)))
    return found
