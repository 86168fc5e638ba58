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

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from triage.planning.problem.arrays import (
    FREE,
    SOLVED,
    Belief,
    Focus,
    TroubleshootingProblem,
    answer_probabilities,
    test_costs_from,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class ValueTable:
    """What valuing beliefs of one problem needs.

    Rows with the same needs are one **kind** to every order of repairs; ``kinds`` (R,) numbers
    them, where that is known already.
    """

    def __init__(self, problem: TroubleshootingProblem, kinds: IntArray | None = None) -> None:
        self.problem = problem
        rows, count = len(problem.needs), problem.repair_count
        ways = problem.needs.reshape(rows, problem.needs.shape[1] * problem.needs.shape[2])
        self.kinds = _kinds(ways) if kinds is None else kinds
        _, first, kind = np.unique(self.kinds, return_index=True, return_inverse=True)
        helps = np.zeros((rows, count + 1))
        np.put_along_axis(helps, ways, 1.0, axis=1)
        self.is_needed = helps[:, :count]  # (R, Q): it meets some need of the row
        self.completes = (problem.after == SOLVED).T.astype(np.float64)  # (R, Q)
        self.full_cost = self._cost_if_known(ways)
        self._of_kind = np.zeros((rows, len(first)))  # (R, G)
        self._of_kind[np.arange(rows), kind] = 1.0
        self._kind_needed, self._kind_completed = self.is_needed[first], self.completes[first]
        has_need = problem.needs[first, :, :1] < count
        self._kind_needs = np.where(has_need, problem.needs[first], count + 1)  # (G, K, M)
        self._panels = sorted({int(g) for g in problem.access_of_repair if g != FREE})

    def within(self, near: Focus) -> "ValueTable":
        """Table of the part of the problem that still matters."""
        return ValueTable(near.problem, self.kinds[near.rows])

    def expected_cost(
        self, weights: FloatArray, opened: frozenset[int] = frozenset()
    ) -> FloatArray:
        """Expected cost of repair, shape ``(B,)``, of unnormalised beliefs ``(B, R)``.

        ``opened`` are the panels open already.
        """
        costs = self._costs_by_length(weights, opened)[1]
        return np.asarray(costs.min(axis=1))

    def repairs_until(self, belief: Belief) -> tuple[IntArray, bool]:
        """Repairs of the cheapest order, and whether what they leave is given up then."""
        order, costs = self._costs_by_length(belief.weights[None, :], belief.opened)
        count = self.problem.repair_count
        length = int(np.argmin(costs[0]))
        if length <= count:
            return order[0, :length], True
        helping = belief.weights @ self.is_needed
        return np.array([k for k in order[0] if helping[k] > 0.0], dtype=np.int64), False

    def _costs_by_length(
        self, weights: FloatArray, opened: frozenset[int]
    ) -> tuple[IntArray, FloatArray]:
        """Order of repairs (B, Q); cost (B, Q+2) of 0 to Q of them, then giving up, and of all."""
        problem, count = self.problem, self.problem.repair_count
        kinds = weights @ self._of_kind  # (B, G)
        order = self._order(kinds, opened)  # (B, Q)
        cumulative = np.cumsum(self._prices(order, opened), axis=1)  # (B, Q)
        place = np.empty((count + 2, len(weights)), dtype=np.int64)
        np.put_along_axis(place[:count], order.T, np.arange(count)[:, None], axis=0)
        place[count], place[count + 1] = count, -1  # a way less, a need less
        last = place[self._kind_needs].min(axis=2).max(axis=1)  # (G, K, M, B) to (G, B)
        cells = np.arange(len(weights))[:, None] * count + np.maximum(last, 0).T
        mass = np.bincount(cells.ravel(), kinds.ravel(), len(weights) * count).reshape(-1, count)
        finished = np.cumsum(mass * cumulative, axis=1)
        costs = np.full((len(weights), count + 2), np.inf)
        costs[:, -1] = finished[:, -1]
        if np.isfinite(problem.stop_cost):
            total = weights.sum(axis=1)  # as a belief sums its mass, so that ties with it hold
            left = np.maximum(total[:, None] - np.cumsum(mass, axis=1), 0.0)
            costs[:, 0] = total * problem.stop_cost
            costs[:, 1:-1] = finished + left * (cumulative + problem.stop_cost)
        return order, costs

    def cost_of(self, belief: Belief) -> float:
        """Expected cost of repair of one belief, weighed by its mass."""
        return float(self.expected_cost(belief.weights[None, :], belief.opened)[0])

    def lower_bound(self, weights: FloatArray) -> FloatArray:
        """Cost if what is wrong were known: no plan is cheaper. Shape ``(B,)``."""
        return np.asarray(weights @ np.minimum(self.full_cost, self.problem.stop_cost))

    def best_repair(self, belief: Belief) -> int:
        """First repair of the order; the problem's order breaks ties."""
        return int(self.repair_order(belief)[0])

    def repair_order(self, belief: Belief) -> IntArray:
        """Order in which repairs are tried without further tests, shape ``(Q,)``."""
        kinds = belief.weights[None, :] @ self._of_kind
        return np.asarray(self._order(kinds, belief.opened)[0])

    def test_costs(self, belief: Belief, tests: IntArray) -> FloatArray:
        """Expected cost of each test, then repairing without further tests; shape ``(T',)``."""
        return self.test_costs_of([(belief, tests)])[0]

    def test_costs_of(self, asked: Sequence[tuple[Belief, IntArray]]) -> list[FloatArray]:
        """The same of several beliefs with the same panels open, each with its tests."""
        stacked = []
        for belief, tests in asked:
            probability = answer_probabilities(self.problem, belief, tests)  # (T', R, A)
            beliefs = (probability * belief.weights[None, :, None]).transpose(0, 2, 1)
            stacked.append(beliefs.reshape(-1, beliefs.shape[2]))  # (T' A, R)
        every = np.concatenate(stacked)
        possible = every.any(axis=1)
        after = np.zeros(len(every))
        after[possible] = self.expected_cost(every[possible], asked[0][0].opened)
        costs, place = [], 0
        for (belief, tests), beliefs in zip(asked, stacked, strict=True):
            own = test_costs_from(self.problem, belief, tests) * belief.mass
            answers = self.problem.answers.shape[2]
            onward = after[place : place + len(beliefs)].reshape(len(tests), answers)
            costs.append(np.asarray(own + onward.sum(axis=1)))
            place += len(beliefs)
        return costs

    def _prices(self, order: IntArray, opened: frozenset[int]) -> FloatArray:
        """Cost of each repair in order, ``(B, Q)``; a panel is paid for by the first behind it."""
        problem = self.problem
        prices = problem.repair_cost[order]
        for panel in self._panels:
            behind = problem.access_of_repair[order] == panel  # (B, Q)
            if panel not in opened:
                first = behind & (np.cumsum(behind, axis=1) == 1)
                prices = prices + problem.access_cost[panel] * first
        return np.asarray(prices)

    def _order(self, kinds: FloatArray, opened: frozenset[int]) -> IntArray:
        access = np.append(self.problem.access_cost, 0.0)
        access[list(opened)] = 0.0
        cost = self.problem.repair_cost + access[self.problem.access_of_repair]
        finishing = kinds @ self._kind_completed / cost
        helping = kinds @ self._kind_needed / cost
        return np.lexsort((-helping, -finishing), axis=1)

    def _cost_if_known(self, ways: IntArray) -> FloatArray:
        """Cost of the repairs of each row if the row were known, or less, shape ``(R,)``.

        The cheapest repair of each need, added up; where one repair meets two needs of a row, the
        dearest of them alone, which no repair can beat.
        """
        problem = self.problem
        prices = np.append(problem.repair_cost, np.inf)[problem.needs].min(axis=2)  # (R, K)
        prices = np.where(problem.needs[:, :, 0] < problem.repair_count, prices, 0.0)
        used = np.sort(ways, axis=1)
        repeated = (used[:, 1:] == used[:, :-1]) & (used[:, 1:] < problem.repair_count)
        cost = np.where(repeated.any(axis=1), prices.max(axis=1), prices.sum(axis=1))
        return np.asarray(cost, dtype=np.float64)


def _kinds(ways: IntArray) -> IntArray:
    """Number of the kind of each row: rows with the same needs, shape ``(R,)``."""
    if len(ways) == 0:
        return np.zeros(0, dtype=np.int64)
    return np.asarray(np.unique(ways, axis=0, return_inverse=True)[1]).ravel()
