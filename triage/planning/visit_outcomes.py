"""How a visit may end: distributions of minutes and price, and the chance to finish in one visit.

Every path of the plan is one way the visit may go. A path ends with the machine working, with
giving up, or where the plan is not spelt out; there each hypothesis still possible counts as one
way to go on: what it needs is repaired without further tests.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from triage.network.values import Part, Repair
from triage.planning.costs import CostModel
from triage.planning.plan_tree import PlanNode, PlanTree
from triage.planning.site_policy import ActionKind
from triage.planning.site_problem import SiteProblem


@dataclass(frozen=True, slots=True)
class VisitEnding:
    """One way a visit may go.

    ``minutes`` on site; ``price_minor`` (low, high) to the customer; ``parts`` fitted;
    ``is_solved`` whether the machine works, given that the parts are there.
    """

    probability: float
    minutes: float
    price_minor: tuple[int, int]
    parts: frozenset[str]
    is_solved: bool


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

    def first_visit_share(self, aboard: frozenset[str]) -> float:
        """P(the machine works after this visit) with these parts on the van."""
        total = sum(ending.probability for ending in self.endings)
        solved = sum(
            ending.probability
            for ending in self.endings
            if ending.is_solved and ending.parts <= aboard
        )
        return solved / total

    def _quantile(self, values: Sequence[float], level: float) -> float:
        order = np.argsort(values, kind="stable")
        weights = np.array([self.endings[k].probability for k in order])
        reached = np.cumsum(weights) >= level * weights.sum() * (1.0 - 1e-12)
        return float(values[int(order[int(np.argmax(reached))])])


def visit_forecast(
    site: SiteProblem, tree: PlanTree, parts: dict[str, Part], costs: CostModel
) -> VisitForecast:
    """Ways the visit may go, from a plan spelt out.

    Parameters
    ----------
    site : SiteProblem
        The problem the plan solves.
    tree : PlanTree
    parts : dict
        Parts of the network by id.
    costs : CostModel
    """
    teller = _Teller(site, parts, costs)
    endings = [ending for steps, end in tree.paths() for ending in teller.endings(steps, end)]
    return VisitForecast(tuple(ending for ending in endings if ending.probability > 0.0))


@dataclass(frozen=True, slots=True)
class _Teller:
    """Turns paths of a plan into endings."""

    site: SiteProblem
    parts: dict[str, Part]
    costs: CostModel

    def endings(self, steps: Sequence[PlanNode], end: PlanNode) -> Iterator[VisitEnding]:
        """Endings of one path: one, or one per hypothesis where the plan is not spelt out."""
        minutes, done = 0.0, []
        for node in steps:
            if node.action is not None and node.action.kind is ActionKind.TEST:
                minutes += self.site.tests[node.action.place].minutes
            elif node.action is not None:
                done.append(self.site.repairs[node.action.place])
        if end.is_solved:
            yield self._ending(end.probability, minutes, done, is_solved=True)
        elif end.action is not None:  # giving up
            yield self._ending(end.probability, minutes, done, is_solved=False)
        else:
            problem = self.site.problem
            for row in np.flatnonzero(end.belief.weights):
                places = dict.fromkeys(int(k) for k in problem.needs[row, :, 0])
                further = [self.site.repairs[k] for k in places if k < problem.repair_count]
                weight = float(end.belief.weights[row])
                yield self._ending(weight, minutes, [*done, *further], is_solved=True)

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
