"""The cheapest plan of a small problem, proved, by depth-first search with bounds.

Nodes are beliefs (OR: choose an action) and actions (AND: every answer must be handled). The lower
bound of a belief is the cost if what is wrong were known. An action is dropped as soon as its cost
plus the bounds of its branches reach the best action found; beliefs met again by another order of
the same tests are remembered. The result is exact. Exponential in tests and repairs: for problems
of about six of each.
"""

import numpy as np
from numpy.typing import NDArray

from triage.planning.problem import (
    Belief,
    TroubleshootingProblem,
    after_repair_done,
    after_test,
    repair_cost_from,
    test_costs_from,
)
from triage.planning.site_policy import STOP, Action, ActionKind
from triage.planning.value import ValueTable

FloatArray = NDArray[np.float64]

KEY_DIGITS = 12  # beliefs equal to this many digits are the same node


class Optimum:
    """Exact expected cost and best action of every belief of one problem."""

    def __init__(self, problem: TroubleshootingProblem) -> None:
        self.problem = problem
        self.values = ValueTable(problem)
        self._known: dict[tuple[object, ...], tuple[float, Action]] = {}

    @property
    def nodes(self) -> int:
        """Number of beliefs solved so far."""
        return len(self._known)

    def cost(self, belief: Belief) -> float:
        """Least expected cost from a belief, weighed by its mass."""
        return self._solve(belief)[0] * belief.mass if belief.mass > 0.0 else 0.0

    def action(self, belief: Belief) -> Action:
        """A best action from a belief with some mass."""
        return self._solve(belief)[1]

    def _solve(self, belief: Belief) -> tuple[float, Action]:
        """Least cost per unit of mass and its action."""
        mass = belief.mass
        state = (belief.made, belief.opened, belief.setup)
        key = (*state, np.round(belief.weights / mass, KEY_DIGITS).tobytes())
        if key not in self._known:
            self._known[key] = self._search(belief)
        return self._known[key]

    def _search(self, belief: Belief) -> tuple[float, Action]:
        mass = belief.mass
        best = (np.inf, STOP)
        if np.isfinite(self.problem.stop_cost):
            best = (self.problem.stop_cost * mass, STOP)
        for _, action, cost, branches in self._by_promise(belief):
            total = cost + sum(self._bound(branch) for branch in branches)
            for branch in branches:
                if total >= best[0]:
                    break
                total += self.cost(branch) - self._bound(branch)
            else:
                if total < best[0]:
                    best = (total, action)
        return best[0] / mass, best[1]

    def _by_promise(self, belief: Belief) -> list[tuple[float, Action, float, list[Belief]]]:
        """Actions with their cost and branches, most promising first."""
        problem, mass = self.problem, belief.mass
        found = []
        for repair in np.flatnonzero(belief.weights @ self.values.is_needed):
            branch = after_repair_done(problem, belief, int(repair))
            branches = [branch] if branch.mass > 0.0 else []
            cost = mass * repair_cost_from(problem, belief, int(repair))
            found.append((Action(ActionKind.REPAIR, int(repair)), cost, branches))
        for test in belief.open_tests(problem):
            branches = [branch for _, branch in after_test(problem, belief, int(test))]
            cost = mass * float(test_costs_from(problem, belief, [int(test)])[0])
            found.append((Action(ActionKind.TEST, int(test)), cost, branches))
        ranked = [
            (cost + self._promise(branches), action, cost, branches)
            for action, cost, branches in found
        ]
        return sorted(ranked, key=lambda entry: entry[0])

    def _promise(self, branches: list[Belief]) -> float:
        if not branches:
            return 0.0
        return sum(self.values.cost_of(branch) for branch in branches)

    def _bound(self, belief: Belief) -> float:
        return float(self.values.lower_bound(belief.weights[None, :])[0])
