"""Other ways to choose the next step, to measure the planner's policies against.

Each looks at a belief and names a step, as ``triage.planning.policy.site.Policy`` does. From the
plainest to the most careful:

========================  ==========================================================================
policy                    next step
========================  ==========================================================================
``FixedSequence``         the tests in a fixed order; at the first that fails, what it points at;
                          then the rest by probability per cost
``MostProbableFirst``     the most probable repair, no tests
``RepairsByOdds``         the repair with the best probability per cost, no tests
``GainToThreshold``       the test that tells most (per cost), until one repair is probable enough
``GatedGain``             the test that tells most per cost among those worth their cost
``OneTestValue``          the test that lowers the expected cost most, while one does
========================  ==========================================================================

Gain is expected information gain about the row, in bits [Lindley1956]_. The expected cost of repair
is that of ``triage.planning.policy.value``; all give up when that costs no more.
"""

import numpy as np
from numpy.typing import NDArray

from triage.planning.policy.next_steps import gains_bits
from triage.planning.policy.site import (
    GAIN_TOLERANCE,
    STOP,
    Action,
    ActionKind,
)
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import (
    Belief,
    TroubleshootingProblem,
    repair_cost_from,
    test_costs_from,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

GAIN_MIN_BITS = 0.005  # a test that tells less is not worth the look at its result
POINTS_AT = 0.5  # a test points at a repair whose need alone shows in it more often than not


class RepairsByOdds:
    """Repairs by probability per cost, without tests."""

    def __init__(self, problem: TroubleshootingProblem) -> None:
        self.problem = problem
        self.values = ValueTable(problem)

    def action(self, belief: Belief) -> Action:
        """First repair of the order, or giving up where that costs no more."""
        if belief.mass * self.problem.stop_cost <= self.values.cost_of(belief):
            return STOP
        return Action(ActionKind.REPAIR, self.values.best_repair(belief))


class MostProbableFirst(RepairsByOdds):
    """The most probable repair first, whatever it costs, without tests."""

    def action(self, belief: Belief) -> Action:
        """Most probable repair; ties in the order of the problem."""
        if super().action(belief) == STOP:
            return STOP
        return Action(ActionKind.REPAIR, int(np.argmax(belief.weights @ self.values.is_needed)))


class FixedSequence(RepairsByOdds):
    """Tests in the order of the problem; at the first that fails, the repairs it points at."""

    def __init__(self, problem: TroubleshootingProblem) -> None:
        super().__init__(problem)
        needs_only = (self.values.is_needed.sum(axis=1) == 1.0)[:, None] * self.values.is_needed
        bad = 1.0 - problem.local[problem.sign_of_test, :, 0]  # (T, R)
        rows = np.maximum(needs_only.sum(axis=0), 1.0)  # (Q,)
        self.points_at = bad @ needs_only / rows > POINTS_AT  # (T, Q)

    def action(self, belief: Belief) -> Action:
        """Next test until one has failed, then repairs."""
        for test in range(self.problem.test_count):
            if test not in belief.made:
                return Action(ActionKind.TEST, test)
            if self._has_failed(belief, test):
                return self._repair(belief, test)
        return super().action(belief)

    def _has_failed(self, belief: Belief, test: int) -> bool:
        """Whether the answers so far speak for a state other than the normal one."""
        seen = belief.seen[int(self.problem.sign_of_test[test])]
        return bool(seen[1:].max() > seen[0])

    def _repair(self, belief: Belief, test: int) -> Action:
        """What the test points at, by probability per cost; then the rest likewise."""
        finishing = belief.weights @ self.values.completes
        suspects = [int(k) for k in np.flatnonzero(self.points_at[test] & (finishing > 0.0))]
        if not suspects:
            return super().action(belief)
        ranks = [finishing[k] / repair_cost_from(self.problem, belief, k) for k in suspects]
        return Action(ActionKind.REPAIR, suspects[int(np.argmax(ranks))])


class GainToThreshold(RepairsByOdds):
    """The test that tells most until one repair is probable enough, then repairs.

    Parameters
    ----------
    problem : TroubleshootingProblem
    threshold : float
        Probability that one repair alone finishes the job at which testing ends.
    per_cost : bool
        Whether tests are ranked by gain per cost instead of by gain.
    """

    def __init__(
        self, problem: TroubleshootingProblem, threshold: float, *, per_cost: bool
    ) -> None:
        super().__init__(problem)
        self.threshold = threshold
        self.per_cost = per_cost

    def action(self, belief: Belief) -> Action:
        """Best test below the threshold, else a repair."""
        tests = belief.open_tests(self.problem)
        certain = float((belief.weights @ self.values.completes).max()) / belief.mass
        if certain < self.threshold and len(tests):
            gains = gains_bits(self.problem, belief, tests)
            if gains.max() >= GAIN_MIN_BITS:
                rank = (
                    gains / test_costs_from(self.problem, belief, tests) if self.per_cost else gains
                )
                return Action(ActionKind.TEST, int(tests[np.argmax(rank)]))
        return super().action(belief)


class GatedGain(RepairsByOdds):
    """The largest gain per cost among tests that lower the expected cost by more than their own."""

    def action(self, belief: Belief) -> Action:
        """Best test that is worth its cost, else a repair."""
        tests = belief.open_tests(self.problem)
        if len(tests):
            saved = self.values.cost_of(belief) - self.values.test_costs(belief, tests)
            worth = saved > GAIN_TOLERANCE * belief.mass
            if worth.any():
                gains = gains_bits(self.problem, belief, tests)
                rank = np.where(
                    worth, gains / test_costs_from(self.problem, belief, tests), -np.inf
                )
                return Action(ActionKind.TEST, int(tests[np.argmax(rank)]))
        return super().action(belief)


class OneTestValue(RepairsByOdds):
    """The test that lowers the expected cost most [HeckermanBreeseRommelse1995]_."""

    def action(self, belief: Belief) -> Action:
        """Best test while one lowers the expected cost, else a repair."""
        tests = belief.open_tests(self.problem)
        if len(tests):
            costs = self.values.test_costs(belief, tests)
            if costs.min() < self.values.cost_of(belief) - GAIN_TOLERANCE * belief.mass:
                return Action(ActionKind.TEST, int(tests[np.argmin(costs)]))
        return super().action(belief)
