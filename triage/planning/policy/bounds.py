r"""Lower bounds: what no plan can do better than.

**Known fault**: if what is wrong were known, row ``h`` would cost ``full(h)``, or giving up,
``S``; write ``m(h)`` for the lesser. No plan is cheaper than the mean of ``m``. What a plan costs
above that is its **extra**: tests, and repairs that did not help. Two bounds of the extra are
added, the larger of them.

**First step.** The first step is a test that tells something (cost at least that of the cheapest),
a repair ``r`` (wasted on every row it does not help), or giving up:

.. math:: \min\big(\tau\,w,\ \min_r C_r\,w(\text{not helped by } r),\ \sum_h w_h (S - m_h)\big)

**Code.** Let ``tau`` be the least of cost / log2(answers) over the tests. The tests before the
first repair are a code: with ``x`` their cost at each end, the sum of ``2^(-x/tau)`` over the ends
is at most 1 (Kraft's inequality, [CoverThomas2006]_). A row whose end begins with a repair that
does not help it wastes at least ``d``, the cheapest such repair, or what giving up loses. Rows with
one need are put into classes no repair is shared between; with ``p`` their weights

.. math:: \min \sum_g p_g \min(x_g, d_g) \quad\text{subject to}\quad \sum_g 2^{-x_g/\tau} \le 1

Its Lagrangian is separable and bounds it from below for every multiplier, so that nothing hangs on
finding the best one. Access, set-up and rows with several needs add nothing: both stay below.

Axes: ``B`` beliefs, ``R`` rows, ``Q`` repairs, ``G`` classes, ``L`` multipliers.
"""

from dataclasses import dataclass

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import Belief

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FLAT = 1e-12  # answers of a test that differ less between rows tell nothing
COVERED_TRIED = (1.0, 0.9, 0.75, 0.5)  # shares of the weight that may find their repair first


@dataclass(frozen=True, slots=True)
class CertifiedGap:
    """Between what a plan costs at most and what every plan costs at least, in minor units."""

    upper_minor: float
    lower_minor: float

    @property
    def excess_share(self) -> float:
        """By what share of the least possible the plan may be dearer, at most."""
        if self.upper_minor <= self.lower_minor:
            return 0.0
        return self.upper_minor / self.lower_minor - 1.0 if self.lower_minor > 0.0 else np.inf

    @property
    def is_proved_best(self) -> bool:
        """Whether no plan is cheaper, rounding apart."""
        return self.upper_minor - self.lower_minor <= PROVED_MINOR


PROVED_MINOR = 1e-6


class BoundTable:
    """What bounding beliefs of one problem needs."""

    def __init__(self, values: ValueTable) -> None:
        problem = self.problem = values.problem
        self.known = np.minimum(values.full_cost, problem.stop_cost)  # (R,)
        self.unhelped = 1.0 - values.is_needed  # (R, Q)
        self.lost_by_stopping = (
            problem.stop_cost - self.known if np.isfinite(problem.stop_cost) else None
        )
        spread = np.ptp(problem.answer_tables, axis=1).max(axis=1, initial=0.0)  # (T,)
        self.telling = np.flatnonzero(spread > FLAT)
        outcomes = (problem.answers.sum(axis=1) > 0.0).sum(axis=1)  # (T,)
        self.per_bit = problem.test_cost / np.log2(np.maximum(outcomes, 2))
        self.of_class, self.wasted = self._classes(values)

    def lower(self, weights: FloatArray, made: frozenset[int] = frozenset()) -> FloatArray:
        """Lower bound of each belief, shape ``(B,)``, ``weights`` (B, R) unnormalised."""
        still_open = [test for test in self.telling.tolist() if test not in made]
        extra = np.maximum(
            self._first_step(weights, still_open), self._code(weights @ self.of_class, still_open)
        )
        return np.asarray(weights @ self.known + extra)

    def lower_of(self, belief: Belief) -> float:
        """Lower bound of one belief, weighed by its mass."""
        return float(self.lower(belief.weights[None, :], belief.made)[0])

    def _first_step(self, weights: FloatArray, tests: list[int]) -> FloatArray:
        wasted = (weights @ self.unhelped * self.problem.repair_cost).min(axis=1, initial=np.inf)
        if tests:
            cheapest = float(self.problem.test_cost[tests].min())
            wasted = np.minimum(wasted, cheapest * weights.sum(axis=1))
        if self.lost_by_stopping is not None:
            wasted = np.minimum(wasted, weights @ self.lost_by_stopping)
        return np.asarray(wasted)

    def _code(self, classes: FloatArray, tests: list[int]) -> FloatArray:
        """Least extra by the code, shape ``(B,)``, of weights of classes ``(B, G)``."""
        best = np.zeros(len(classes))
        if classes.shape[1] < 2:
            return best
        tau = float(self.per_bit[tests].min()) if tests else np.inf
        given_up = classes * self.wasted  # (B, G)
        if tau == 0.0:
            return best
        if not np.isfinite(tau):  # no test is left: one class comes first, the others waste
            return np.asarray(given_up.sum(axis=1) - given_up.max(axis=1))
        total = classes.sum(axis=1, keepdims=True)
        for share in COVERED_TRIED:
            price = np.maximum(share * total * tau / np.log(2.0), 1e-300)  # the multiplier
            odds = np.maximum(price * np.log(2.0) / (tau * np.maximum(classes, 1e-300)), 1.0)
            length = tau * np.log2(odds)
            found = classes * length + price / odds
            bound = np.minimum(found, given_up).sum(axis=1) - price[:, 0]
            best = np.maximum(best, bound)
        return best

    def _classes(self, values: ValueTable) -> tuple[FloatArray, FloatArray]:
        """Rows of each class ``(R, G)``, and what a row of it wastes at least ``(G,)``."""
        problem = self.problem
        single = np.flatnonzero((problem.needs[:, :, 0] < problem.repair_count).sum(axis=1) == 1)
        graph = nx.Graph()
        for row in single:
            helpful = np.flatnonzero(values.is_needed[row]).tolist()
            nx.add_path(graph, helpful) if len(helpful) > 1 else graph.add_node(helpful[0])
        groups = [sorted(group) for group in nx.connected_components(graph)]
        of_repair = np.zeros(problem.repair_count, dtype=np.int64)
        for place, group in enumerate(groups):
            of_repair[group] = place
        of_class = np.zeros((len(problem.needs), len(groups)))
        wasted = np.full(len(groups), np.inf)
        for row in single:
            place = of_repair[problem.needs[row, :, 0].min()]
            of_class[row, place] = 1.0
            others = problem.repair_cost[self.unhelped[row] > 0.0]
            wasted[place] = min(wasted[place], others.min(initial=np.inf))
            if self.lost_by_stopping is not None:
                wasted[place] = min(wasted[place], self.lost_by_stopping[row])
        return of_class, wasted
