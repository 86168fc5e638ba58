"""Two steps ahead: the action that is cheapest if at most one more test follows it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from triage.planning.policy.site import (
    GAIN_TOLERANCE,
    STOP,
    Action,
    ActionKind,
    BasePolicy,
)
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import (
    Belief,
    TroubleshootingProblem,
    focus,
    repair_cost_from,
)

FloatArray = NDArray[np.float64]


def best_place(costs: Sequence[float] | FloatArray, mass: float) -> int:
    """First place whose cost no later one undercuts by more than rounding."""
    best = 0
    for place, cost in enumerate(costs):
        if cost < costs[best] - GAIN_TOLERANCE * mass:
            best = place
    return best


class TwoStep:
    """The action that is cheapest if at most one more test follows it: two steps, many actions.

    Parameters
    ----------
    problem : TroubleshootingProblem
    most : int
        So many tests and so many repairs are looked at: the tests that leave the least expected
        cost, the repairs that come first by probability per cost.
    ignored_share : float
        Rows lighter than this share of a belief are left out of its decision.
    """

    def __init__(
        self,
        problem: TroubleshootingProblem,
        most: int,
        ignored_share: float = 0.0,
        values: ValueTable | None = None,
    ) -> None:
        self.problem = problem
        self.most = most
        self.ignored_share = ignored_share
        self.base = BasePolicy(problem, values=values)

    def action(self, belief: Belief) -> Action:
        """Cheapest action; ties go to repairs, then to tests, the better first."""
        if self.ignored_share == 0.0:
            return self._action(belief)
        near = focus(self.problem, belief, self.ignored_share)
        values = self.base.values.within(near)
        action = TwoStep(near.problem, self.most, values=values)._action(near.belief(belief))
        if action.kind is ActionKind.REPAIR:
            return Action(ActionKind.REPAIR, int(near.repairs[action.place]))
        return action

    def _action(self, belief: Belief) -> Action:
        actions = self.candidates(belief)
        return actions[best_place(self.base.step_values(belief, actions), belief.mass)]

    def candidates(self, belief: Belief) -> tuple[Action, ...]:
        """Actions looked at: repairs, tests, the better first, and giving up."""
        stop = [STOP] if np.isfinite(self.problem.stop_cost) else []
        return (*self._repairs(belief), *self._tests(belief), *stop)

    def _repairs(self, belief: Belief) -> list[Action]:
        helping = belief.weights @ self.base.values.is_needed
        needed = np.flatnonzero(helping)
        costs = np.array([repair_cost_from(self.problem, belief, int(k)) for k in needed])
        best = needed[np.argsort(-helping[needed] / costs, kind="stable")[: self.most]]
        return [Action(ActionKind.REPAIR, int(place)) for place in best]

    def _tests(self, belief: Belief) -> list[Action]:
        tests = belief.open_tests(self.problem)
        if len(tests) == 0:
            return []
        costs = self.base.values.test_costs(belief, tests)
        best = tests[np.argsort(costs, kind="stable")[: self.most]]
        return [Action(ActionKind.TEST, int(test)) for test in best]
