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
    on_site: Policy,
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
        Its repairs hold as those of the problem do.
    on_site : Policy
        What is followed where the plan is not spelt out.
    parts : dict
        Parts of the network by id.
    costs : CostModel
    declined_share : float
        Share of quotes that customers decline.
    """
    prices = {repair.id: _added_price(repair, parts, costs) for repair in site.repairs}
    teller = _Teller(site, prices, costs, declined_share)
    endings = [ending for way in _ways(site, tree, on_site) for ending in teller.endings(way)]
    wrong = 1.0 - site.well_share
    well = VisitEnding(site.well_share, 0.0, (costs.service_fee_minor,) * 2, frozenset(), True)
    told = [replace(ending, probability=ending.probability * wrong) for ending in endings]
    return VisitForecast(tuple(ending for ending in (*told, well) if ending.probability > 0.0))


@dataclass(frozen=True, slots=True)
class _Way:
    """What is done on a visit, in order, until the machine works or is given up."""

    probability: float
    actions: tuple[Action, ...]
    is_solved: bool


def _ways(site: SiteProblem, tree: PlanTree, on_site: Policy) -> Iterator[_Way]:
    """Ways through the plan, played on to their end where it is open."""
    begun: list[tuple[tuple[Action, ...], Belief]] = []
    for steps, end in tree.paths():
        done = tuple(node.action for node in steps if node.action is not None)
        if end.is_open:
            begun.append((done, end.belief))
        else:
            yield _Way(end.probability, done, end.is_solved)
    if begun:
        beliefs = [belief for _, belief in begun]
        visits = math.ceil(sum(belief.mass for belief in beliefs) / PLAYED_SHARE)
        for played in played_on(on_site, site.holds, beliefs, max(visits, PLAYED_MIN)):
            actions = (*begun[played.end][0], *played.actions)
            yield _Way(played.probability, actions, played.is_solved)


def _added_price(repair: Repair, parts: Mapping[str, Part], costs: CostModel) -> tuple[int, int]:
    """What a repair adds to the price of a visit, low and high end of its parts."""
    goods = tuple(parts[part] for part in repair.parts)
    low, high = (costs.price_minor(repair, goods, high=end) for end in (False, True))
    return low - costs.service_fee_minor, high - costs.service_fee_minor


@dataclass(frozen=True, slots=True)
class _Teller:
    """Turns paths of a plan into endings."""

    site: SiteProblem
    prices: Mapping[str, tuple[int, int]]  # what each repair adds to the price, low and high
    costs: CostModel
    declined_share: float

    def endings(self, way: _Way) -> Iterator[VisitEnding]:
        """The ending if the quote is accepted, and the one if it is declined."""
        before_quote, minutes, done = self._spent(way.actions)
        needs_quote = way.is_solved and any(one.by is RepairBy.TECHNICIAN for one in done)
        declined = self.declined_share if needs_quote else 0.0
        once = {repair.id: repair for repair in done}  # made again at no further price
        low, high = (
            self.costs.service_fee_minor + sum(self.prices[name][end] for name in once)
            for end in (0, 1)
        )
        used = frozenset(part for repair in once.values() for part in repair.parts)
        accepted = way.probability * (1.0 - declined)
        yield VisitEnding(accepted, minutes, (low, high), used, way.is_solved)
        fee = (self.costs.service_fee_minor,) * 2
        left = VisitEnding(way.probability * declined, before_quote, fee, frozenset(), False)
        yield replace(left, is_declined=True)

    def _spent(self, actions: Sequence[Action]) -> tuple[float, float, list[Repair]]:
        """Minutes of tests before the first repair, minutes in all, and the repairs made."""
        minutes, before_quote = 0.0, 0.0
        done: list[Repair] = []
        setup = self.site.setup
        for action in actions:
            if action.kind is ActionKind.TEST:
                test = self.site.tests[action.place]
                minutes += setup.minutes(test)
                setup = setup.after_test(test)
            elif action.kind is ActionKind.REPAIR:
                before_quote = before_quote if done else minutes
                repair = self.site.repairs[action.place]
                done.append(repair)
                minutes += repair.minutes + self.costs.verification_minutes
                setup = setup.after_repair()
        return before_quote, minutes, done
