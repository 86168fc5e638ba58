"""How far a plan is from the best possible at most: its cost against a proved lower bound.

The plan's cost is exact where it is spelt out, lists included. An open end counts as screening
(``triage.planning.policy.screening``) or repairing without tests, the likeliest ends also as one
more test if that is cheaper: plans one could follow from there, so that the sum is what a plan
costs that begins as this one does. The lower bound looks one step ahead: every first action costs
its own price and the bounds of where it leads (``triage.planning.policy.bounds``).

Both speak of the problem they are given: its rows, its tests, its costs.
"""

from collections.abc import Iterator

import numpy as np

from triage.planning.policy.bounds import BoundTable, CertifiedGap
from triage.planning.policy.screening import Screening
from triage.planning.policy.site import Action, ActionKind, BasePolicy, outcome
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import Belief, TroubleshootingProblem
from triage.planning.visit.tree import PlanNode, PlanTree

BLOCK = 64  # open ends valued at once
LOOKED_AHEAD = 16  # open ends valued with one more test too


def certified_gap(
    problem: TroubleshootingProblem, tree: PlanTree, values: ValueTable | None = None
) -> CertifiedGap:
    """Cost of a plan at most, and of every plan at least.

    Parameters
    ----------
    problem : TroubleshootingProblem
    tree : PlanTree
        The plan, spelt out from the start of the problem.
    values : ValueTable, optional
        Of the problem, where there is one already.
    """
    values = values or ValueTable(problem)
    lower = lower_bound(problem, tree.root.belief, values)
    upper = plan_cost_at_most(problem, tree, values)
    return CertifiedGap(upper_minor=upper, lower_minor=min(lower, upper))


def plan_cost_at_most(
    problem: TroubleshootingProblem, tree: PlanTree, values: ValueTable | None = None
) -> float:
    """Cost of a plan that begins as a tree does, its open ends by the best simple plan."""
    values = values or ValueTable(problem)
    cost = 0.0
    ends: list[Belief] = []
    for node in _nodes(tree.root):
        if node.action is not None:
            cost += outcome(problem, node.belief, node.action)[0]
        elif node.ending is not None:
            cost += node.ending.cost
        elif node.belief.mass > 0.0:
            ends.append(node.belief)
    if not ends:
        return cost
    ends.sort(key=lambda belief: -belief.mass)
    screening = Screening(values, tree.root.belief)
    blocks = [ends[first : first + BLOCK] for first in range(0, len(ends), BLOCK)]
    onward = np.concatenate([screening.costs(block) for block in blocks])
    likeliest = BasePolicy(problem, values=values).one_test_values(ends[:LOOKED_AHEAD])
    onward[:LOOKED_AHEAD] = np.minimum(onward[:LOOKED_AHEAD], likeliest)
    return cost + float(onward.sum())


def lower_bound(
    problem: TroubleshootingProblem, belief: Belief, values: ValueTable | None = None
) -> float:
    """What every plan from a belief costs at least, one step looked ahead."""
    if belief.mass == 0.0:
        return 0.0
    values = values or ValueTable(problem)
    bounds = BoundTable(values)
    needed = np.flatnonzero(belief.weights @ values.is_needed).tolist()
    actions = [Action(ActionKind.REPAIR, place) for place in needed]
    telling = np.intersect1d(belief.open_tests(problem), bounds.telling).tolist()
    actions += [Action(ActionKind.TEST, test) for test in telling]
    steps = [outcome(problem, belief, action) for action in actions]
    branches = [branch.weights for _, own in steps for branch in own]
    onward = bounds.lower(np.stack(branches), belief.made) if branches else np.zeros(0)
    least, place = belief.mass * problem.stop_cost, 0
    for cost, own in steps:
        least = min(least, cost + float(onward[place : place + len(own)].sum()))
        place += len(own)
    return max(least, bounds.lower_of(belief))


def _nodes(root: PlanNode) -> Iterator[PlanNode]:
    stack = [root]
    while stack:
        node = stack.pop()
        yield node
        stack.extend(node.branches.values())
