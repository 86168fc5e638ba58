r"""Values of beliefs: expected cost of repair with a way out, and a lower bound.

**Expected cost of repair** [HeckermanBreeseRommelse1995]_. Repairs are tried in an order until the
machine works. With the running cost ``cum`` of the order and ``m(h)`` the place at which the last
need of ``h`` is met, doing the first ``n`` and then giving up at cost ``S`` costs

.. math:: \mathrm{E}_n = \sum_h w(h)\,\big(\mathrm{cum}_{\min(m(h), n)} + S\,[m(h) > n]\big)

and the value is the least over ``n``. The order is by P(this repair alone finishes the job) per
cost: with one failure the rule of Kadane and Simon, with independent failures odds per cost, both
optimal; repairs that never finish it alone come after, by P(it helps) per cost. Where repairs
overlap the order is the greedy one, the value still that of the order.

Axes: ``B`` beliefs, ``R`` rows, ``Q`` repairs, ``K`` needs of a row.
"""

import numpy as np
from numpy.typing import NDArray

from triage.planning.problem import (
    SOLVED,
    Belief,
    TroubleshootingProblem,
    answer_probabilities,
    test_costs_from,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class ValueTable:
    """What valuing beliefs of one problem needs."""

    def __init__(self, problem: TroubleshootingProblem) -> None:
        self.problem = problem
        rows, count = len(problem.needs), problem.repair_count
        self.ways = problem.needs.reshape(rows, problem.needs.shape[1] * problem.needs.shape[2])
        self.has_need = problem.needs[:, :, 0] < count  # (R, K)
        helps = np.zeros((rows, count + 1))
        np.put_along_axis(helps, self.ways, 1.0, axis=1)
        self.is_needed = helps[:, :count]  # (R, Q): it meets some need of the row
        self.completes = (problem.after == SOLVED).T.astype(np.float64)  # (R, Q)
        self.full_cost = self._cost_if_known()

    def expected_cost(
        self, weights: FloatArray, opened: frozenset[int] = frozenset()
    ) -> FloatArray:
        """Expected cost of repair, shape ``(B,)``, of unnormalised beliefs ``(B, R)``.

        ``opened`` are the panels open already.
        """
        problem, count = self.problem, self.problem.repair_count
        order = self._order(weights, opened)  # (B, Q)
        cumulative = np.cumsum(self._prices(order, opened), axis=1)  # (B, Q)
        place = np.full((len(weights), count + 1), count)
        np.put_along_axis(place, order, np.arange(count)[None, :], axis=1)
        met = np.where(self.has_need, place[:, problem.needs].min(axis=3), -1)  # (B, R, K)
        last = met.max(axis=2)  # (B, R)
        belief = np.arange(len(weights))[:, None]
        cells = (belief * count + np.maximum(last, 0)).ravel()
        mass = np.bincount(cells, weights.ravel(), len(weights) * count).reshape(-1, count)
        finished = np.cumsum(mass * cumulative, axis=1)
        whole = finished[:, -1]
        if not np.isfinite(problem.stop_cost):
            return np.asarray(whole)
        left = weights.sum(axis=1, keepdims=True) - np.cumsum(mass, axis=1)
        with_stop = finished + np.maximum(left, 0.0) * (cumulative + problem.stop_cost)
        at_once = weights.sum(axis=1) * problem.stop_cost
        return np.asarray(np.minimum(np.minimum(with_stop.min(axis=1), at_once), whole))

    def cost_of(self, belief: Belief) -> float:
        """Expected cost of repair of one belief, weighed by its mass."""
        return float(self.expected_cost(belief.weights[None, :], belief.opened)[0])

    def lower_bound(self, weights: FloatArray) -> FloatArray:
        """Cost if what is wrong were known: no plan is cheaper. Shape ``(B,)``."""
        return np.asarray(weights @ np.minimum(self.full_cost, self.problem.stop_cost))

    def best_repair(self, belief: Belief) -> int:
        """First repair of the order; the problem's order breaks ties."""
        return int(self._order(belief.weights[None, :], belief.opened)[0, 0])

    def test_costs(self, belief: Belief, tests: IntArray) -> FloatArray:
        """Expected cost of each test, then repairing without further tests; shape ``(T',)``."""
        problem = self.problem
        probability = answer_probabilities(problem, belief, tests)  # (T', R, A)
        beliefs = (probability * belief.weights[None, :, None]).transpose(0, 2, 1)  # (T', A, R)
        stacked = beliefs.reshape(-1, beliefs.shape[2])
        after = self.expected_cost(stacked, belief.opened).reshape(len(tests), -1).sum(axis=1)
        return np.asarray(test_costs_from(problem, belief, tests) * belief.mass + after)

    def _prices(self, order: IntArray, opened: frozenset[int]) -> FloatArray:
        """Cost of each repair in order, ``(B, Q)``; a panel is paid for by the first behind it."""
        problem = self.problem
        prices = problem.repair_cost[order]
        for panel, cost in enumerate(problem.access_cost):
            behind = problem.access_of_repair[order] == panel  # (B, Q)
            if panel not in opened and behind.any():
                first = behind & (np.cumsum(behind, axis=1) == 1)
                prices = prices + cost * first
        return np.asarray(prices)

    def _order(self, weights: FloatArray, opened: frozenset[int]) -> IntArray:
        access = np.append(self.problem.access_cost, 0.0)
        access[list(opened)] = 0.0
        cost = self.problem.repair_cost + access[self.problem.access_of_repair]
        finishing = weights @ self.completes / cost
        helping = weights @ self.is_needed / cost
        return np.lexsort((-helping, -finishing), axis=1)

    def _cost_if_known(self) -> FloatArray:
        """Cost of the repairs of each row if the row were known, or less, shape ``(R,)``.

        The cheapest repair of each need, added up; where one repair meets two needs of a row, the
        dearest of them alone, which no repair can beat.
        """
        problem = self.problem
        prices = np.append(problem.repair_cost, np.inf)[problem.needs].min(axis=2)  # (R, K)
        prices = np.where(self.has_need, prices, 0.0)
        used = np.sort(self.ways, axis=1)
        repeated = (used[:, 1:] == used[:, :-1]) & (used[:, 1:] < problem.repair_count)
        cost = np.where(repeated.any(axis=1), prices.max(axis=1), prices.sum(axis=1))
        return np.asarray(cost, dtype=np.float64)
