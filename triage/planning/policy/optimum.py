"""The cheapest plan of a small problem, proved, by depth-first search with bounds.

Nodes are beliefs (OR: choose an action) and actions (AND: every answer must be handled). Beliefs
are bounded from below by ``triage.planning.policy.bounds``. An action is dropped as soon as its
cost plus the bounds of its branches reach the best action found; beliefs met again by another order
of the same tests are remembered. The result is exact. Exponential in tests and repairs: for
problems of about six of each. A search may be given a number of nodes; it ends without a result
when they are used up, at the same place on every machine.
"""

import numpy as np

from triage.planning.policy.bounds import BoundTable
from triage.planning.policy.site import STOP, Action, ActionKind, outcome
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import Belief, TroubleshootingProblem

KEY_DIGITS = 12  # beliefs equal to this many digits are the same node


class _NodesUsedUp(Exception):  # noqa: N818
    """Ends a search; never leaves this module."""


class Optimum:
    """Exact expected cost and best action of every belief of one problem."""

    def __init__(
        self,
        problem: TroubleshootingProblem,
        values: ValueTable | None = None,
        nodes_max: int | None = None,
    ) -> None:
        self.problem = problem
        self.values = values or ValueTable(problem)
        self.bounds = BoundTable(self.values)
        self.nodes_max = nodes_max
        self._begun = 0
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

    def proved(self, belief: Belief) -> tuple[Action, float] | None:
        """Best action and its cost, weighed by the mass; None if the nodes do not suffice."""
        try:
            return self.action(belief), self.cost(belief)
        except _NodesUsedUp:
            return None

    def _solve(self, belief: Belief) -> tuple[float, Action]:
        """Least cost per unit of mass and its action."""
        mass = belief.mass
        state = (belief.made, belief.opened, belief.setup)
        key = (*state, np.round(belief.weights / mass, KEY_DIGITS).tobytes())
        if key not in self._known:
            self._known[key] = self._search(belief)
        return self._known[key]

    def _search(self, belief: Belief) -> tuple[float, Action]:
        if self._begun == self.nodes_max:
            raise _NodesUsedUp
        self._begun += 1
        mass = belief.mass
        best = (np.inf, STOP)
        if np.isfinite(self.problem.stop_cost):
            best = (self.problem.stop_cost * mass, STOP)
        for action, cost, branches, bounds in self._by_promise(belief):
            total = cost + sum(bounds)
            for branch, bound in zip(branches, bounds, strict=True):
                if total >= best[0]:
                    break
                total += self.cost(branch) - bound
            else:
                if total < best[0]:
                    best = (total, action)
        return best[0] / mass, best[1]

    def _by_promise(
        self, belief: Belief
    ) -> list[tuple[Action, float, tuple[Belief, ...], list[float]]]:
        """Actions with their cost, branches and bounds of these, most promising first."""
        needed = np.flatnonzero(belief.weights @ self.values.is_needed).tolist()
        actions = [Action(ActionKind.REPAIR, repair) for repair in needed]
        tests = np.intersect1d(belief.open_tests(self.problem), self.bounds.telling)
        actions += [Action(ActionKind.TEST, test) for test in tests.tolist()]
        found, promise = [], []
        for action in actions:
            cost, branches = outcome(self.problem, belief, action)
            bounds: list[float] = []
            onward = 0.0
            if branches:
                weights = np.stack([branch.weights for branch in branches])
                bounds = self.bounds.lower(weights, branches[0].made).tolist()
                onward = float(self.values.expected_cost(weights, branches[0].opened).sum())
            found.append((action, cost, branches, bounds))
            promise.append(cost + onward)
        return [found[place] for place in np.argsort(promise, kind="stable")]
