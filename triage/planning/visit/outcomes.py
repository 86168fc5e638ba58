"""How a visit may end: distributions of minutes and price, and the chance to finish in one visit.

Every path of the plan is one way the visit may go. A path ends with the machine working, with
giving up, or where the plan is not spelt out. There each hypothesis still possible counts as one
way to go on: repairs are made in the order of P(needed alone) per cost, without further tests,
until it is put right or giving up is cheaper. So the tail of the visits is not taken for quick.

A repair that does not hold is made once more and is paid for once. Before the first repair the
customer is quoted a price and may decline: then the visit ends there and the fee is due.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.network.values import Part, Repair, RepairBy
from triage.planning.policy.site import ActionKind
from triage.planning.policy.value import ValueTable
from triage.planning.problem.site import SiteProblem
from triage.planning.shop.costs import CostModel
from triage.planning.visit.tree import PlanNode, PlanTree

FloatArray = NDArray[np.float64]

PRICE_STEPS = 20  # prices that stand for the range of one ending
IGNORED_PROBABILITY = 1e-9  # of the whole visit; rarer ways to go on are left out


@dataclass(frozen=True, slots=True)
class VisitEnding:
    """One way a visit may go.

    ``minutes`` on site; ``price_minor`` (low, high) to the customer; ``parts`` fitted;
    ``is_solved`` whether the machine works, given that the parts are there; ``is_declined`` whether
    the customer declined the quote.
    """

    probability: float
    minutes: float
    price_minor: tuple[int, int]
    parts: frozenset[str]
    is_solved: bool
    is_declined: bool = False


@dataclass(frozen=True, slots=True)
class VisitForecast:
    """Distributions over the ways a visit may go."""

    endings: tuple[VisitEnding, ...]

    def minutes(self, level: float) -> float:
        """Minutes on site not exceeded with probability ``level``."""
        return self._quantile(np.array([[ending.minutes] for ending in self.endings]), level)

    def price_minor(self, low_level: float, high_level: float) -> tuple[int, int]:
        """Price not exceeded with two probabilities; within an ending any price is as likely."""
        steps = (np.arange(PRICE_STEPS) + 0.5) / PRICE_STEPS
        ends = np.array([ending.price_minor for ending in self.endings], dtype=np.float64)
        prices = ends[:, :1] + np.diff(ends, axis=1) * steps  # (E, PRICE_STEPS)
        low, high = (self._quantile(prices, level) for level in (low_level, high_level))
        return round(low), round(high)

    @property
    def minutes_expected(self) -> float:
        """Mean minutes on site."""
        total = sum(ending.probability for ending in self.endings)
        return sum(ending.probability * ending.minutes for ending in self.endings) / total

    def first_visit_share(self, ready: Mapping[str, float]) -> float:
        """P(the machine works after this visit | no quote declined).

        ``ready`` holds P(a piece that fits is aboard) by part; a part not in it is not aboard.
        """
        total = sum(ending.probability for ending in self.endings if not ending.is_declined)
        solved = sum(
            ending.probability * math.prod(ready.get(part, 0.0) for part in ending.parts)
            for ending in self.endings
            if ending.is_solved
        )
        return solved / total

    def _quantile(self, values: FloatArray, level: float) -> float:
        """Quantile of equally likely values (E, N) of every ending."""
        probability = np.array([ending.probability for ending in self.endings])
        order = np.argsort(values, axis=None, kind="stable")
        weights = np.repeat(probability / values.shape[1], values.shape[1])[order]
        reached = np.cumsum(weights) >= level * weights.sum() * (1.0 - 1e-12)
        return float(values.ravel()[order[int(np.argmax(reached))]])


def visit_forecast(
    site: SiteProblem,
    tree: PlanTree,
    parts: dict[str, Part],
    costs: CostModel,
    declined_share: float,
) -> VisitForecast:
    """Ways the visit may go on, from a plan spelt out; at once to its end if all is well already.

    Parameters
    ----------
    site : SiteProblem
        The problem the plan solves.
    tree : PlanTree
    parts : dict
        Parts of the network by id.
    costs : CostModel
    declined_share : float
        Share of quotes that customers decline.
    """
    prices = {repair.id: _added_price(repair, parts, costs) for repair in site.repairs}
    teller = _Teller(site, ValueTable(site.problem), prices, costs, declined_share)
    endings = [ending for steps, end in tree.paths() for ending in teller.endings(steps, end)]
    wrong = 1.0 - site.well_share
    well = VisitEnding(site.well_share, 0.0, (costs.service_fee_minor,) * 2, frozenset(), True)
    told = [replace(ending, probability=ending.probability * wrong) for ending in endings]
    return VisitForecast(tuple(ending for ending in (*told, well) if ending.probability > 0.0))


def _added_price(repair: Repair, parts: Mapping[str, Part], costs: CostModel) -> tuple[int, int]:
    """What a repair adds to the price of a visit, low and high end of its parts."""
    goods = tuple(parts[part] for part in repair.parts)
    low, high = (costs.price_minor(repair, goods, high=end) for end in (False, True))
    return low - costs.service_fee_minor, high - costs.service_fee_minor


@dataclass(frozen=True, slots=True)
class _Teller:
    """Turns paths of a plan into endings."""

    site: SiteProblem
    values: ValueTable
    prices: Mapping[str, tuple[int, int]]  # what each repair adds to the price, low and high
    costs: CostModel
    declined_share: float

    def endings(self, steps: Sequence[PlanNode], end: PlanNode) -> Iterator[VisitEnding]:
        """Endings of one path: one, or one per hypothesis where the plan is not spelt out."""
        minutes, before_quote = 0.0, 0.0
        done: list[Repair] = []
        setup = self.site.setup
        for node in steps:
            if node.action is not None and node.action.kind is ActionKind.TEST:
                test = self.site.tests[node.action.place]
                spent = setup.minutes(test)
                setup = setup.after_test(test)
                minutes += spent
                before_quote += 0.0 if done else spent
            elif node.action is not None:
                done.append(self.site.repairs[node.action.place])
                setup = setup.after_repair()
        if end.is_solved:
            yield from self._quoted(end.probability, (before_quote, minutes), done)
        elif end.action is not None:  # giving up
            yield self._ending(end.probability, minutes, done, is_solved=False)
        else:
            yield from self._going_on(end, (before_quote, minutes), done)

    def _going_on(
        self, end: PlanNode, minutes: tuple[float, float], done: Sequence[Repair]
    ) -> Iterator[VisitEnding]:
        """Endings beyond what is spelt out: repairs in order, for each hypothesis left."""
        problem = self.site.problem
        order = self.values.repair_order(end.belief)
        price = np.cumsum(problem.repair_cost[order])
        most = max(1, int(np.searchsorted(price, problem.stop_cost, side="right")))
        place = np.full(problem.repair_count + 1, -1)
        place[order] = np.arange(len(order))
        rows = np.flatnonzero(end.belief.weights)
        ways = problem.needs[rows]  # (R, K, M)
        met = np.where(ways < problem.repair_count, place[ways], len(order)).min(axis=2)
        last = np.where(ways[:, :, 0] < problem.repair_count, met, -1).max(axis=1)  # (R,)
        mass = np.bincount(np.minimum(last, most), end.belief.weights[rows], most + 1)
        for count in np.flatnonzero(mass[:most] > IGNORED_PROBABILITY):
            tried = [self.site.repairs[k] for k in order[: count + 1]]
            yield from self._quoted(float(mass[count]), minutes, [*done, *tried])
        if mass[most] > IGNORED_PROBABILITY:
            tried = [self.site.repairs[k] for k in order[:most]]
            yield self._ending(float(mass[most]), minutes[1], [*done, *tried], is_solved=False)

    def _quoted(
        self, probability: float, minutes: tuple[float, float], repairs: Sequence[Repair]
    ) -> Iterator[VisitEnding]:
        """The ending if the quote is accepted, and the one if it is declined.

        ``minutes`` of tests before the first repair, and in all.
        """
        needs_quote = any(repair.by is RepairBy.TECHNICIAN for repair in repairs)
        declined = self.declined_share if needs_quote else 0.0
        accepted = probability * (1.0 - declined)
        holds = repairs[-1].success if repairs else 1.0
        solved = self._ending(accepted * holds, minutes[1], repairs, is_solved=True)
        yield solved
        if holds < 1.0:  # made once more, at no further price
            twice = solved.minutes + repairs[-1].minutes + self.costs.verification_minutes
            yield replace(solved, probability=accepted * (1.0 - holds), minutes=twice)
        left = self._ending(probability * declined, minutes[0], (), is_solved=False)
        yield replace(left, is_declined=True)

    def _ending(
        self, probability: float, minutes: float, repairs: Sequence[Repair], *, is_solved: bool
    ) -> VisitEnding:
        costs = self.costs
        on_repairs = sum(repair.minutes + costs.verification_minutes for repair in repairs)
        used = frozenset(part for repair in repairs for part in repair.parts)
        once = dict.fromkeys(repair.id for repair in repairs)
        low, high = (
            costs.service_fee_minor + sum(self.prices[name][end] for name in once) for end in (0, 1)
        )
        return VisitEnding(probability, minutes + on_repairs, (low, high), used, is_solved)
