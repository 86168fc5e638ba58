"""How a visit may end: distributions of minutes and price, and the chance to finish in one visit.

Every path of the plan is one way the visit may go. A path ends with the machine working, with
giving up, or where the plan is not spelt out; there each hypothesis still possible counts as one
way to go on: what it needs is repaired without further tests. Before the first repair the customer
is quoted a price and may decline: then the visit ends there and the fee is due.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.network.values import Part, Repair, RepairBy
from triage.planning.costs import CostModel
from triage.planning.plan_tree import PlanNode, PlanTree
from triage.planning.site_policy import ActionKind
from triage.planning.site_problem import SiteProblem


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
        return self._quantile([ending.minutes for ending in self.endings], level)

    def price_minor(self, low_level: float, high_level: float) -> tuple[int, int]:
        """Range of the price: a low quantile of the low ends, a high one of the high ends."""
        low = self._quantile([ending.price_minor[0] for ending in self.endings], low_level)
        high = self._quantile([ending.price_minor[1] for ending in self.endings], high_level)
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

    def _quantile(self, values: Sequence[float], level: float) -> float:
        order = np.argsort(values, kind="stable")
        weights = np.array([self.endings[k].probability for k in order])
        reached = np.cumsum(weights) >= level * weights.sum() * (1.0 - 1e-12)
        return float(values[int(order[int(np.argmax(reached))])])


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
    teller = _Teller(site, parts, costs, declined_share)
    endings = [ending for steps, end in tree.paths() for ending in teller.endings(steps, end)]
    wrong = 1.0 - site.well_share
    well = VisitEnding(site.well_share, 0.0, (costs.service_fee_minor,) * 2, frozenset(), True)
    told = [replace(ending, probability=ending.probability * wrong) for ending in endings]
    return VisitForecast(tuple(ending for ending in (*told, well) if ending.probability > 0.0))


@dataclass(frozen=True, slots=True)
class _Teller:
    """Turns paths of a plan into endings."""

    site: SiteProblem
    parts: dict[str, Part]
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
            problem = self.site.problem
            for row in np.flatnonzero(end.belief.weights):
                places = dict.fromkeys(int(k) for k in problem.needs[row, :, 0])
                further = [self.site.repairs[k] for k in places if k < problem.repair_count]
                weight = float(end.belief.weights[row])
                yield from self._quoted(weight, (before_quote, minutes), [*done, *further])

    def _quoted(
        self, probability: float, minutes: tuple[float, float], repairs: Sequence[Repair]
    ) -> Iterator[VisitEnding]:
        """The ending if the quote is accepted, and the one if it is declined.

        ``minutes`` of tests before the first repair, and in all.
        """
        needs_quote = any(repair.by is RepairBy.TECHNICIAN for repair in repairs)
        declined = self.declined_share if needs_quote else 0.0
        yield self._ending(probability * (1.0 - declined), minutes[1], repairs, is_solved=True)
        left = self._ending(probability * declined, minutes[0], (), is_solved=False)
        yield replace(left, is_declined=True)

    def _ending(
        self, probability: float, minutes: float, repairs: Sequence[Repair], *, is_solved: bool
    ) -> VisitEnding:
        costs = self.costs
        on_repairs = sum(repair.minutes + costs.verification_minutes for repair in repairs)
        used = frozenset(part for repair in repairs for part in repair.parts)
        prices = []
        for high in (False, True):
            price = float(costs.service_fee_minor)
            for repair in repairs:
                goods = tuple(self.parts[part] for part in repair.parts)
                price += costs.price_minor(repair, goods, high=high) - costs.service_fee_minor
            prices.append(round(price))
        return VisitEnding(
            probability, minutes + on_repairs, (prices[0], prices[1]), used, is_solved
        )
