"""The policy of a visit: proved where it can be, else two steps ahead, improved by short rollouts.

1. Rows lighter than a share of the belief are left out, repairs nothing needs and tests that tell
   nothing with them.
2. If few repairs and tests are left, the cheapest plan is **proved** (``optimum``), unless the
   search takes more than a set number of nodes.
3. Else the best repairs and tests are valued **two steps** ahead (``lookahead``), and the best of
   them once more by **rollout**: each is followed by the base policy, the most probable beliefs
   first, for a set number of nodes; beyond them at most one more test follows.

Work is counted in nodes, not in time: the same belief gives the same step on every machine.
"""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import count

import numpy as np

from triage.planning.policy.lookahead import TwoStep, best_place
from triage.planning.policy.optimum import Optimum
from triage.planning.policy.site import Action, ActionKind, outcome
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import Belief, Focus, TroubleshootingProblem, focus

IGNORED_SHARE = 1e-3  # of a belief, left out of its decision
CANDIDATES = 3  # tests and repairs looked at two steps ahead
ROLLED = 3  # actions valued by rollout
PROVED_REPAIRS_MAX = 6
PROVED_TESTS_MAX = 5
NODES_OF_PROOF = 150
NODES_OF_ROLLOUT = 30
SEARCHED_SHARE = 0.3  # of visits; beliefs of a plan that more come to are searched
NODES_PER_SECOND = 400  # of rollout, on one slow core; services turn milliseconds into nodes by it


class Basis(StrEnum):
    """How a step was found."""

    PROVED = "proved"
    ROLLOUT = "rollout"
    TWO_STEPS = "two_steps"


@dataclass(frozen=True, slots=True)
class Decision:
    """A step, and how it was found; ``rolled`` are actions with their rollout's cost per visit."""

    action: Action
    basis: Basis
    rolled: tuple[tuple[Action, float], ...] = ()


class VisitPolicy:
    """Names the next step of a visit.

    Parameters
    ----------
    problem : TroubleshootingProblem
    ignored_share : float
        Rows lighter than this share of a belief are left out of its decision.
    nodes_of_proof, nodes_of_rollout : int
        Most beliefs looked at in either search; 0 leaves it out.
    """

    def __init__(
        self,
        problem: TroubleshootingProblem,
        ignored_share: float = IGNORED_SHARE,
        *,
        nodes_of_proof: int = NODES_OF_PROOF,
        nodes_of_rollout: int = NODES_OF_ROLLOUT,
        values: ValueTable | None = None,
    ) -> None:
        self.problem = problem
        self.ignored_share = ignored_share
        self.nodes_of_proof = nodes_of_proof
        self.nodes_of_rollout = nodes_of_rollout
        self.values = values or ValueTable(problem)

    def action(self, belief: Belief) -> Action:
        """Next step from a belief with some mass."""
        return self.decision(belief).action

    def decision(self, belief: Belief) -> Decision:
        """Next step from a belief with some mass, and how it was found."""
        near = focus(self.problem, belief, self.ignored_share)
        found = self._decision(near.problem, near.belief(belief), self.values.within(near))
        rolled = tuple((in_whole(near, action), cost) for action, cost in found.rolled)
        return Decision(in_whole(near, found.action), found.basis, rolled)

    def _decision(
        self, problem: TroubleshootingProblem, belief: Belief, values: ValueTable
    ) -> Decision:
        if self.nodes_of_proof and is_small(problem, belief):
            proved = Optimum(problem, values, self.nodes_of_proof).proved(belief)
            if proved is not None:
                return Decision(proved[0], Basis.PROVED)
        ahead = TwoStep(problem, CANDIDATES, values=values)
        actions = ahead.candidates(belief)
        costs = ahead.base.step_values(belief, actions)
        first = best_place(costs, belief.mass)
        if not self.nodes_of_rollout:
            return Decision(actions[first], Basis.TWO_STEPS)
        order = [first, *(k for k in np.argsort(costs, kind="stable").tolist() if k != first)]
        rolled = [actions[place] for place in order[:ROLLED]]
        nodes = self.nodes_of_rollout // len(rolled)
        values_rolled = [rollout_cost(ahead, belief, action, nodes) for action in rolled]
        best = rolled[best_place(values_rolled, belief.mass)]
        costs_rolled = zip(rolled, [cost / belief.mass for cost in values_rolled], strict=True)
        return Decision(best, Basis.ROLLOUT, tuple(costs_rolled))


class PlanPolicy:
    """The policy of a visit as a plan spells it out.

    Beliefs that at least ``SEARCHED_SHARE`` of the visits come to are searched as on site, so that
    the plan begins as the visit will; the others are looked at two steps ahead, which is faster.
    """

    def __init__(self, problem: TroubleshootingProblem, values: ValueTable | None = None) -> None:
        self.problem = problem
        self.values = values or ValueTable(problem)
        self.searched = VisitPolicy(problem, values=self.values)
        self.looked_at = VisitPolicy(
            problem, nodes_of_proof=0, nodes_of_rollout=0, values=self.values
        )
        self.mass_at_start = problem.start().mass

    def action(self, belief: Belief) -> Action:
        """Next step from a belief with some mass."""
        is_likely = belief.mass >= SEARCHED_SHARE * self.mass_at_start
        return (self.searched if is_likely else self.looked_at).action(belief)


def is_small(problem: TroubleshootingProblem, belief: Belief) -> bool:
    """Whether so few repairs and telling tests are left that the optimum may be proved."""
    if problem.repair_count > PROVED_REPAIRS_MAX:
        return False
    return len(telling_tests(problem, belief)) <= PROVED_TESTS_MAX


def telling_tests(problem: TroubleshootingProblem, belief: Belief) -> Sequence[int]:
    """Open tests whose answers differ between the rows of a problem."""
    tests = belief.open_tests(problem)
    spread = np.ptp(problem.answer_tables[tests], axis=1).max(axis=1, initial=0.0)
    return [int(test) for test in tests[spread > 0.0]]


def rollout_cost(ahead: TwoStep, belief: Belief, action: Action, nodes: int) -> float:
    """Cost of an action followed by the base policy for some nodes, then at most one more test.

    The most probable beliefs are followed first. Weighed by the mass of the belief.
    """
    base = ahead.base
    cost, branches = outcome(base.problem, belief, action)
    order = count()
    open_beliefs = [(-then.mass, next(order), then) for then in branches]
    heapq.heapify(open_beliefs)
    for _ in range(nodes):
        if not open_beliefs:
            return cost
        _, _, then = heapq.heappop(open_beliefs)
        own, further = outcome(base.problem, then, base.action(then))
        cost += own
        for branch in further:
            heapq.heappush(open_beliefs, (-branch.mass, next(order), branch))
    return cost + float(base.one_test_values([then for _, _, then in open_beliefs]).sum())


def in_part(near: Focus, action: Action) -> Action:
    """The action of the whole problem as one of the smaller."""
    if action.kind is ActionKind.REPAIR:
        return Action(ActionKind.REPAIR, int(np.flatnonzero(near.repairs == action.place)[0]))
    return action


def in_whole(near: Focus, action: Action) -> Action:
    """The action of a smaller problem as one of the whole."""
    if action.kind is ActionKind.REPAIR:
        return Action(ActionKind.REPAIR, int(near.repairs[action.place]))
    return action
