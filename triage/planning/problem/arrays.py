"""A troubleshooting problem as arrays, and the belief that a plan moves through.

What is wrong is one of ``R`` **rows** (hypotheses). A row has needs, each met by some of ``Q``
repairs; when all are met the machine works and the visit ends. A repair turns a row into the row
without what it cures. A test looks at a sign; given the row, tests of different signs are
independent, tests of one sign share what is known of it. Money and time are one unit here: minor
units.

The problem is closed: every row a repair can lead to is a row. So a belief is a weight vector, a
repair is an index map, a test multiplies.

Axes: ``R`` rows, ``Q`` repairs, ``K`` needs of a row, ``M`` repairs that meet a need (both padded
with ``Q``), ``T`` tests, ``V`` states of a sign, ``A`` answers of a test (padded with 0).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SOLVED = -1
FREE = -1
NO_ACCESS = np.zeros(0, dtype=np.int64)
NO_SETUP = np.zeros((0, 0), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class TroubleshootingProblem:
    """Rows, repairs and tests.

    ``weights`` (R,) sum to 1. ``needs`` (R, K, M) repairs that meet each need, cheapest first; a
    repair may meet needs of several rows and several needs of one. ``after`` (Q, R) row after a
    repair, ``SOLVED`` when nothing is left. ``repair_cost`` (Q,), ``test_cost`` (T,), ``stop_cost``
    (give up: refer out, scrap, come again; infinite where there is no such way). ``sign_of_test``
    (T,); ``local`` (J, R, V) P(state of a test's sign | row); ``answers`` (T, V, A). Steps behind
    one panel share its **access**: ``access_of_test`` (T,), ``access_of_repair`` (Q,) number the
    panel, ``FREE`` where there is none; ``access_cost`` (G,) is paid once, by the first of them.

    A test may need a **set-up**: the machine plugged in or not, water in the tub or none. It has
    ``F`` facets; ``setup_of_test`` (T, F) is the state a test needs of each, ``FREE`` where any
    will do. Bringing a facet into state ``s`` costs ``setup_cost`` (F, S) if it is in another. The
    check run after a repair leaves the facets as in ``setup_after_repair`` (F,), ``FREE`` where it
    changes nothing; a repair's own cost holds its own preparations. ``setup_start`` is the state
    found, ``FREE`` where nobody knows, ``opened_start`` the panels open.
    """

    weights: FloatArray
    needs: IntArray
    after: IntArray
    repair_cost: FloatArray
    test_cost: FloatArray
    sign_of_test: IntArray
    local: FloatArray
    answers: FloatArray
    stop_cost: float = np.inf
    access_of_test: IntArray = field(default_factory=lambda: NO_ACCESS)
    access_of_repair: IntArray = field(default_factory=lambda: NO_ACCESS)
    access_cost: FloatArray = field(default_factory=lambda: np.zeros(0))
    setup_of_test: IntArray = field(default_factory=lambda: NO_SETUP)
    setup_cost: FloatArray = field(default_factory=lambda: np.zeros((0, 1)))
    setup_after_repair: tuple[int, ...] = ()
    setup_start: tuple[int, ...] = ()
    opened_start: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        if len(self.setup_of_test) != self.test_count:
            facets = len(self.setup_cost)
            object.__setattr__(self, "setup_of_test", np.full((self.test_count, facets), FREE))
        if len(self.access_of_test) != self.test_count:
            object.__setattr__(self, "access_of_test", np.full(self.test_count, FREE))
        if len(self.access_of_repair) != self.repair_count:
            object.__setattr__(self, "access_of_repair", np.full(self.repair_count, FREE))

    @property
    def repair_count(self) -> int:
        """``Q``."""
        return len(self.repair_cost)

    @property
    def test_count(self) -> int:
        """``T``."""
        return len(self.test_cost)

    @cached_property
    def answer_tables(self) -> FloatArray:
        """P(answer | row) of every test before anything is seen, shape ``(T, R, A)``."""
        return self.local[self.sign_of_test] @ self.answers

    def start(self) -> "Belief":
        """Belief before any step."""
        return Belief(self.weights, opened=self.opened_start, setup=self.setup_start)


@dataclass(frozen=True, eq=False)
class Belief:
    """What is known at a node of a plan.

    ``weights`` (R,) are *unnormalised*: they sum to the probability of coming here. ``seen`` maps a
    sign to ``(V,)``, the likelihood of its tests so far. ``made`` are the tests made, ``repaired``
    the repairs done, ``opened`` the panels open, ``setup`` the state of each facet of the set-up.
    """

    weights: FloatArray
    seen: dict[int, FloatArray] = field(default_factory=dict)
    made: frozenset[int] = frozenset()
    repaired: frozenset[int] = frozenset()
    opened: frozenset[int] = frozenset()
    setup: tuple[int, ...] = ()

    @property
    def mass(self) -> float:
        """Probability of coming here."""
        return float(self.weights.sum())

    def open_tests(self, problem: TroubleshootingProblem) -> IntArray:
        """Tests not made yet."""
        still_open = [test for test in range(problem.test_count) if test not in self.made]
        return np.array(still_open, dtype=np.int64)


def test_costs_from(
    problem: TroubleshootingProblem, belief: Belief, tests: Sequence[int] | IntArray
) -> FloatArray:
    """Cost of each test from a belief, with access and set-up where they lack; shape ``(T',)``."""
    tests = np.asarray(tests, dtype=np.int64)
    own = problem.test_cost[tests] + _access(problem, belief, problem.access_of_test[tests])
    return own + setup_costs_from(problem, belief, tests)


def setup_costs_from(
    problem: TroubleshootingProblem, belief: Belief, tests: Sequence[int] | IntArray
) -> FloatArray:
    """Cost of bringing the machine into the set-up each test needs; shape ``(T',)``."""
    needed = problem.setup_of_test[np.asarray(tests, dtype=np.int64)]  # (T', F)
    lacks = (needed != FREE) & (needed != np.array(belief.setup, dtype=np.int64))
    facets = np.arange(needed.shape[1])
    return np.asarray((lacks * problem.setup_cost[facets, needed]).sum(axis=1))


def repair_cost_from(problem: TroubleshootingProblem, belief: Belief, repair: int) -> float:
    """Cost of a repair from a belief, access included where its panel is shut."""
    access = _access(problem, belief, problem.access_of_repair[[repair]])
    return float(problem.repair_cost[repair] + access[0])


def _access(problem: TroubleshootingProblem, belief: Belief, panels: IntArray) -> FloatArray:
    prices = np.append(problem.access_cost, 0.0)  # the last place stands for FREE
    prices[list(belief.opened)] = 0.0
    return np.asarray(prices[panels])


def _opened(belief: Belief, panel: int) -> frozenset[int]:
    return belief.opened if panel == FREE else belief.opened | {panel}


def _setup(belief: Belief, left_in: Sequence[int]) -> tuple[int, ...]:
    pairs = zip(belief.setup, left_in, strict=False)
    return tuple(now if then == FREE else int(then) for now, then in pairs)


def answer_probabilities(
    problem: TroubleshootingProblem, belief: Belief, tests: Sequence[int] | IntArray
) -> FloatArray:
    """P(answer | row) of some tests, shape ``(T', R, A)``."""
    tests = np.asarray(tests, dtype=np.int64)
    probability = problem.answer_tables[tests]  # (T', R, A)
    signs = problem.sign_of_test[tests]
    for place in np.flatnonzero([int(sign) in belief.seen for sign in signs]):
        sign = int(signs[place])
        local = problem.local[sign] * belief.seen[sign]  # (R, V)
        total = local.sum(axis=1, keepdims=True)
        local = np.divide(local, total, out=np.zeros_like(local), where=total > 0.0)
        probability[place] = local @ problem.answers[tests[place]]
    return probability


def after_test(
    problem: TroubleshootingProblem, belief: Belief, test: int
) -> tuple[tuple[int, Belief], ...]:
    """Beliefs after each answer of a test that can occur, with the answer."""
    probability = answer_probabilities(problem, belief, [test])[0]  # (R, A)
    sign = int(problem.sign_of_test[test])
    seen = belief.seen.get(sign, np.ones(problem.local.shape[2]))
    opened = _opened(belief, int(problem.access_of_test[test]))
    setup = _setup(belief, problem.setup_of_test[test])
    step = replace(belief, made=belief.made | {test}, opened=opened, setup=setup)
    branches = []
    for answer in range(problem.answers.shape[2]):
        weights = belief.weights * probability[:, answer]
        if weights.any():
            known = {**belief.seen, sign: seen * problem.answers[test, :, answer]}
            branches.append((answer, replace(step, weights=weights, seen=known)))
    return tuple(branches)


def after_repair_done(problem: TroubleshootingProblem, belief: Belief, repair: int) -> Belief:
    """Belief if the machine still does not work after a repair; its mass is the chance of that."""
    target = problem.after[repair]
    open_rows = target != SOLVED
    weights = np.zeros_like(belief.weights)
    np.add.at(weights, target[open_rows], belief.weights[open_rows])
    opened = _opened(belief, int(problem.access_of_repair[repair]))
    setup = _setup(belief, problem.setup_after_repair)
    repaired = belief.repaired | {repair}
    return replace(belief, weights=weights, repaired=repaired, opened=opened, setup=setup)


def after_repair_tried(
    problem: TroubleshootingProblem, belief: Belief, repair: int, holds: float
) -> Belief:
    """The same after a repair that holds with a probability; the tests can be made again.

    Rows that the repair helps stay as they are if it does not hold. What a test has said of a sign
    stays known.
    """
    done = after_repair_done(problem, belief, repair)
    is_same = problem.after[repair] == np.arange(len(belief.weights))
    untouched = np.where(is_same, belief.weights, 0.0)
    cured, helped = done.weights - untouched, belief.weights - untouched
    weights = untouched + holds * cured + (1.0 - holds) * helped
    return replace(done, weights=weights, made=frozenset())


@dataclass(frozen=True, eq=False)
class Focus:
    """The part of a problem that still matters at a belief: a smaller problem of its own.

    ``rows`` (R',) and ``repairs`` (Q',) are positions in the whole problem.
    """

    problem: TroubleshootingProblem
    rows: IntArray
    repairs: IntArray

    def belief(self, belief: Belief) -> Belief:
        """The same belief about the smaller problem."""
        return replace(belief, weights=belief.weights[self.rows])


def focus(problem: TroubleshootingProblem, belief: Belief, ignored_share: float) -> Focus:
    """Leave out rows lighter than a share of the belief, and repairs no row left needs.

    Rows that repairs of the rows kept lead to are kept too.
    """
    kept = belief.weights > ignored_share * belief.mass
    while True:
        targets = problem.after[:, kept]
        wider = kept.copy()
        wider[targets[targets != SOLVED]] = True
        if (wider == kept).all():
            break
        kept = wider
    rows = np.flatnonzero(kept)
    needs = problem.needs[rows]
    repairs = np.unique(needs[needs < problem.repair_count])
    new_row = np.full(len(kept) + 1, SOLVED, dtype=np.int64)  # the last place stands for SOLVED
    new_row[rows] = np.arange(len(rows))
    new_repair = np.full(problem.repair_count + 1, len(repairs), dtype=np.int64)
    new_repair[repairs] = np.arange(len(repairs))
    smaller = replace(
        problem,
        weights=problem.weights[rows],
        needs=new_repair[needs],
        after=new_row[problem.after[np.ix_(repairs, rows)]],
        repair_cost=problem.repair_cost[repairs],
        access_of_repair=problem.access_of_repair[repairs],
        local=problem.local[:, rows],
    )
    return Focus(smaller, rows, repairs)
