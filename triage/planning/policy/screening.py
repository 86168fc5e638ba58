r"""Screening: a plan whose cost has a closed form, to value beliefs far from their end.

Repairing without further tests is a poor guess of what a visit costs while much is still possible:
its value is then that of giving up. **Screening** is what a careful technician does without
thinking ahead: go through the repairs in some order; of each make its own test and do the repair if
the answer speaks for it and that of a second test confirms it (or do it untested); at any point
give up, at the end repair what is left untested.

Tests of different signs are independent given the row, and a screening uses a sign once, so that
its cost is a sum along the list. With ``w_k(h)`` the weight of row ``h`` before entry ``k``,
``c_k`` the cost of its test and ``C_k`` of its repair,

.. math:: \mathrm{cost} \mathrel{+}= \sum_h w_k(h)\,\big(c_k + P(\text{positive}_k | h)\,C_k\big)

and the rows the repair helps go on, by what was positive, as the row the repair leaves. So the cost
is that of a real plan, and an upper bound of the cheapest.

Which test belongs to a repair is settled once for a belief; which repairs come first, for each
belief that may follow. A set-up is charged whenever it may be lacking: a repair may come between.

Axes: ``B`` beliefs, ``R`` rows, ``Q`` repairs, ``T`` tests, ``A`` answers, ``F`` facets.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import (
    FREE,
    SOLVED,
    Belief,
    answer_probabilities,
    test_costs_from,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

RATIO_MIN = 2.0  # an answer speaks for a repair if so much more probable where it is needed
MISSED_REPAIRS = 3.0  # a need overlooked costs giving up, or so many of the dearest repair
UNTESTED = -1


@dataclass(frozen=True)
class Look:
    """A test of each repair, or none.

    ``test`` (Q,), ``positive`` (Q, R) P(the answer speaks for the repair | row), 1 where untested,
    ``speaks`` (Q, A) the answers that do.
    """

    test: IntArray
    positive: FloatArray
    speaks: BoolArray


@dataclass
class _State:
    """Whether a panel is open ``(B,)``, and the facets of the set-up ``(B, F)``, along a list."""

    opened: BoolArray
    setup: IntArray


@dataclass(frozen=True)
class Walk:
    """Lists of some beliefs, gone through to their ends.

    ``order`` (B, Q); ``made`` (B, Q, 2) whether the entry has its test, and the one that confirms
    it; ``reached`` (B, Q, 3) the weight that comes to either test and to the repair; ``given_up``
    (B, Q) the cost if given up before the entry; ``to_the_end`` (B,) the cost if nothing is given
    up before its end, and ``left`` (B, R) what is left there, to be repaired without tests.
    """

    order: IntArray
    made: BoolArray
    reached: FloatArray
    given_up: FloatArray
    to_the_end: FloatArray
    left: FloatArray


class Screening:
    """Screening from one belief and from those that one step leads to."""

    def __init__(self, values: ValueTable, belief: Belief) -> None:
        self.values, self.problem, self.belief = values, values.problem, belief
        self.repair_cost = self._repair_costs()
        dearest = float(self.repair_cost.max(initial=0.0))
        self.missed_cost = min(self.problem.stop_cost, MISSED_REPAIRS * dearest)
        self.looks = self._looks()
        multi = (self.problem.needs[:, :, 0] < self.problem.repair_count).sum(axis=1) > 1
        self.is_left = self.problem.after != SOLVED  # (Q, R)
        self.has_several = bool(multi.any())

    def costs(self, beliefs: Sequence[Belief]) -> FloatArray:
        """Cost of the best screening found from each belief, or less, shape ``(B,)``.

        The beliefs are this one or come from it by one step. Never more than repairing without
        further tests.
        """
        weights = np.stack([belief.weights for belief in beliefs])
        groups: dict[frozenset[int], list[int]] = {}
        for place, belief in enumerate(beliefs):
            groups.setdefault(belief.opened, []).append(place)
        bare = np.empty(len(beliefs))
        for opened, places in groups.items():
            bare[places] = self.values.expected_cost(weights[places], opened)
        return np.asarray(np.minimum(bare, self.listed_costs(beliefs)))

    def order(self, belief: Belief) -> tuple[int, ...]:
        """Repairs in the order in which a belief's screening goes through them."""
        usable = [self._usable(look, [belief]) for look in self.looks]
        return tuple(self._order(belief.weights[None, :], usable)[0].tolist())

    def listed_costs(self, beliefs: Sequence[Belief]) -> FloatArray:
        """Cost of going through the list, given up where that is cheapest, shape ``(B,)``."""
        walk = self.walk(beliefs)
        return np.asarray(np.minimum(walk.given_up.min(axis=1, initial=np.inf), walk.to_the_end))

    def walk(self, beliefs: Sequence[Belief], entries_max: int | None = None) -> "Walk":
        """Go through the list of each belief, or through so many of its entries."""
        weights = np.stack([belief.weights for belief in beliefs])
        state = _State(
            np.array([len(b.opened) > 0 for b in beliefs]),
            np.array([b.setup for b in beliefs], dtype=np.int64).reshape(len(beliefs), -1),
        )
        cost = np.zeros(len(beliefs))
        rows = np.arange(len(beliefs))
        usable = [self._usable(look, beliefs) for look in self.looks]  # each (B, Q)
        order = self._order(weights, usable)[:, :entries_max]
        given_up = np.full(order.shape, np.inf)
        reached = np.zeros((*order.shape, len(self.looks) + 1))
        for place, repair in enumerate(order.T):
            if np.isfinite(self.problem.stop_cost):
                given_up[:, place] = cost + self.problem.stop_cost * weights.sum(axis=1)
            tried = weights
            for number, (look, has_look) in enumerate(zip(self.looks, usable, strict=True)):
                is_made = has_look[rows, repair]
                test = np.where(is_made, look.test[repair], UNTESTED)
                reached[:, place, number] = is_made * tried.sum(axis=1)
                cost = cost + self._test_cost(test, state) * tried.sum(axis=1)
                tried = tried * np.where(is_made[:, None], look.positive[repair], 1.0)
            reached[:, place, -1] = tried.sum(axis=1)
            cost = cost + self.repair_cost[repair] * tried.sum(axis=1)
            weights = self._after(weights, tried, repair)
        last = self.values.expected_cost(weights, self.belief.opened)
        made = np.stack([u[rows[:, None], order] for u in usable], axis=2)
        return Walk(order, made, reached, given_up, cost + last, weights)

    def _after(self, weights: FloatArray, tried: FloatArray, repair: IntArray) -> FloatArray:
        """Weights after an entry: tried rows become what the repair leaves of them."""
        helped = self.values.is_needed.T[repair]  # (B, R)
        moved = tried * helped
        left = weights - moved
        if self.has_several:
            belief, row = np.nonzero(moved * self.is_left[repair])
            if len(belief):
                target = self.problem.after[repair[belief], row]
                width = weights.shape[1]
                cells = belief * width + target
                left += np.bincount(cells, moved[belief, row], left.size).reshape(left.shape)
        return np.asarray(left)

    def _test_cost(self, test: IntArray, state: "_State") -> FloatArray:
        """Cost (B,) of the next test of each belief; ``state`` becomes what it is afterwards."""
        problem, is_made = self.problem, test != UNTESTED
        if not is_made.any():
            return np.zeros(len(test))
        cost = np.where(is_made, problem.test_cost[test], 0.0)
        if len(problem.access_cost):
            behind = is_made & (problem.access_of_test[test] != FREE)
            cost = cost + np.where(behind & ~state.opened, problem.access_cost.sum(), 0.0)
            state.opened = state.opened | behind
        needed = np.where(is_made[:, None], problem.setup_of_test[test], FREE)  # (B, F)
        lacks = (needed != FREE) & (state.setup != needed)
        cost = cost + (lacks * problem.setup_cost[np.arange(needed.shape[1]), needed]).sum(axis=1)
        now = np.where(needed == FREE, state.setup, needed)
        after = np.array(problem.setup_after_repair, dtype=np.int64)
        sure = (after == FREE) | (now == after)  # a repair may come between
        state.setup = np.where(sure, now, FREE)
        return np.asarray(cost)

    def _usable(self, entry: Look, beliefs: Sequence[Belief]) -> BoolArray:
        """Whether each repair has a test of a sign not looked at since, shape ``(B, Q)``."""
        usable = np.tile(entry.test != UNTESTED, (len(beliefs), 1))
        if not usable.any():
            return usable
        sign = self.problem.sign_of_test[entry.test]
        for place, belief in enumerate(beliefs):
            new = belief.made - self.belief.made
            if new:
                usable[place] &= ~np.isin(sign, self.problem.sign_of_test[sorted(new)])
        return usable

    def _order(self, weights: FloatArray, usable: Sequence[BoolArray]) -> IntArray:
        """Repairs by chance to help per cost of their entry, best first, shape ``(B, Q)``."""
        needed = self.values.is_needed
        test_cost = np.append(self.problem.test_cost, 0.0)  # the last place stands for UNTESTED
        first, second = (look.positive.T for look in self.looks)  # each (R, Q)
        ways = []
        for is_first, is_second in product((False, True), repeat=2):
            positive = (first if is_first else 1.0) * (second if is_second else 1.0)
            tried = weights @ np.broadcast_to(positive, needed.shape)
            price = self.repair_cost * tried
            if is_first:
                price = price + test_cost[self.looks[0].test] * weights.sum(axis=1)[:, None]
            if is_second:
                begun = weights @ np.broadcast_to(first if is_first else 1.0, needed.shape)
                price = price + test_cost[self.looks[1].test] * begun
            ways.append(weights @ (needed * positive) / (price + 1e-300))
        choice = 2 * usable[0] + usable[1]
        score = np.choose(choice, ways)
        return np.argsort(-score, axis=1, kind="stable")

    def _repair_costs(self) -> FloatArray:
        """Cost of each repair, with its panel where that is shut now."""
        problem = self.problem
        access = np.append(problem.access_cost, 0.0)
        access[list(self.belief.opened)] = 0.0
        return np.asarray(problem.repair_cost + access[problem.access_of_repair])

    def _looks(self) -> tuple[Look, Look]:
        """The test of each repair, and the one that confirms it; a sign is used once."""
        problem, belief = self.problem, self.belief
        tests = belief.open_tests(problem)
        looks = (self._no_look(), self._no_look())
        if len(tests) == 0 or problem.repair_count == 0:
            return looks
        probability = answer_probabilities(problem, belief, tests)  # (T', R, A)
        price = test_costs_from(problem, belief, tests)  # (T',)
        taken: set[int] = set()
        for number, look in enumerate(looks):
            begun = belief.weights * looks[0].positive if number else self._whole()  # (Q, R)
            score, speaks = self._scores(begun, probability, price, confirms=number == 1)
            signs = problem.sign_of_test[tests]
            for cell in np.argsort(-score, axis=None, kind="stable"):
                repair, place = divmod(int(cell), len(tests))
                if score[repair, place] <= 0.0:
                    break
                if look.test[repair] == UNTESTED and int(signs[place]) not in taken:
                    look.test[repair] = tests[place]
                    look.positive[repair] = probability[place] @ speaks[repair, place]
                    look.speaks[repair] = speaks[repair, place]
                    taken.add(int(signs[place]))
        return looks

    def _scores(
        self, begun: FloatArray, probability: FloatArray, price: FloatArray, *, confirms: bool
    ) -> tuple[FloatArray, BoolArray]:
        """Worth of each test for each repair ``(Q, T')``, and which answers speak for it.

        ``begun`` (Q, R) are the weights with which the test of a repair is come to.
        """
        needed = self.values.is_needed.T  # (Q, R)
        inside = np.einsum("qr,tra->qta", begun * needed, probability, optimize=True)
        outside = np.einsum("qr,tra->qta", begun * (1.0 - needed), probability, optimize=True)
        helped = (begun * needed).sum(axis=1)[:, None, None]
        rest = (begun * (1.0 - needed)).sum(axis=1)[:, None, None]
        speaks = inside * rest > RATIO_MIN * outside * helped  # (Q, T', A)
        found, wrong = (inside * speaks).sum(axis=2), (outside * speaks).sum(axis=2)  # (Q, T')
        cost = price[None, :] * (helped + rest)[:, :, 0]
        if confirms:
            spared = self.repair_cost[:, None] * (rest[:, :, 0] - wrong)
            worth = spared - cost - self.missed_cost * (helped[:, :, 0] - found)
            return np.where(speaks.any(axis=2), worth, 0.0), speaks  # none speaks: never repaired
        return found / (cost + self.repair_cost[:, None] * (found + wrong) + 1e-300), speaks

    def _no_look(self) -> Look:
        count, answers = self.problem.repair_count, self.problem.answers.shape[2]
        positive = np.ones((count, len(self.belief.weights)))
        return Look(np.full(count, UNTESTED), positive, np.zeros((count, answers), dtype=bool))

    def _whole(self) -> FloatArray:
        return np.tile(self.belief.weights, (self.problem.repair_count, 1))
