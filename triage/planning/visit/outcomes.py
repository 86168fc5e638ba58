"""How a visit may end: distributions of minutes and price, and the chance to finish in one visit.

Every path of the plan is one way the visit may go. A path ends with the machine working, with
giving up, or where the plan is not spelt out. From there visits are played on, by the policy that
is followed on site (``triage.planning.visit.playing``). Hypotheses that the problem leaves out
count as the longest of these ways. So the tail of the visits is not taken for quick.

A step takes longer or shorter than its minutes, by ``CostModel.minutes_spread``. The minutes of one
way are a sum of log-normal ones, taken as log-normal with the same mean and variance [Fenton1960]_.

A repair may not hold. Then nobody knows whether it did not, or something else is wrong: tests and
other repairs may come before it is made once more. It is paid for once. Before the first repair of
a technician the customer is quoted a price and may decline: the visit ends there, the fee is due.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from triage.network.values import Part, Repair, RepairBy
from triage.planning.policy.site import Action, ActionKind, Policy
from triage.planning.problem.arrays import Belief
from triage.planning.problem.site import SiteProblem
from triage.planning.shop.costs import CostModel
from triage.planning.visit.playing import played_on
from triage.planning.visit.tree import PlanTree

FloatArray = NDArray[np.float64]

PRICE_STEPS = 20  # prices that stand for the range of one ending
MINUTES_STEPS = 20  # the same of minutes
PLAYED_SHARE = 0.02  # of the visits that one visit played on stands for
PLAYED_MIN, PLAYED_MAX = 4, 24


@dataclass(frozen=True, slots=True)
class VisitEnding:
    """One way a visit may go.

    ``minutes`` on site are the mean, ``minutes_sd`` the standard deviation; ``price_minor`` (low,
    high) to the customer; ``parts`` fitted; ``is_solved`` whether the machine works, given that the
    parts are there; ``is_declined`` whether the customer declined the quote.
    """

    probability: float
    minutes: float
    price_minor: tuple[int, int]
    parts: frozenset[str]
    is_solved: bool
    is_declined: bool = False
    minutes_sd: float = 0.0


@dataclass(frozen=True, slots=True)
class VisitForecast:
    """Distributions over the ways a visit may go."""

    endings: tuple[VisitEnding, ...]

    def minutes(self, level: float) -> float:
        """Minutes on site not exceeded with probability ``level``."""
        mean, sd = np.array([(ending.minutes, ending.minutes_sd) for ending in self.endings]).T
        return self._quantile(log_normal_steps(mean, sd), level)

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


def log_normal_steps(mean: FloatArray, sd: FloatArray) -> FloatArray:
    """Equally likely values of log-normal times, shape ``(E, MINUTES_STEPS)``.

    Parameters
    ----------
    mean, sd : FloatArray
        Shape ``(E,)``, in minutes; a time of mean 0 has no spread.
    """
    ratio = np.divide(sd, mean, out=np.zeros_like(mean), where=mean > 0.0)
    variance = np.log1p(ratio**2)[:, None]  # of the logarithm
    normal = NormalDist()
    levels = np.array([normal.inv_cdf((k + 0.5) / MINUTES_STEPS) for k in range(MINUTES_STEPS)])
    return np.asarray(mean[:, None] * np.exp(np.sqrt(variance) * levels - variance / 2.0))


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
    left_out = max(0.0, 1.0 - site.kept_mass - site.well_share)
    wrong = 1.0 - site.well_share - left_out
    told = [replace(ending, probability=ending.probability * wrong) for ending in endings]
    well = VisitEnding(site.well_share, 0.0, (costs.service_fee_minor,) * 2, frozenset(), True)
    told += [well, *_longest(told, left_out)]
    return VisitForecast(tuple(ending for ending in told if ending.probability > 0.0))


def _longest(endings: Sequence[VisitEnding], share: float) -> Iterator[VisitEnding]:
    """Ending of the hypotheses left out of the problem: as the longest way, and in vain."""
    if endings:
        longest = max(endings, key=lambda ending: ending.minutes)
        yield replace(longest, probability=share, is_solved=False)


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
        visits = min(max(visits, PLAYED_MIN), PLAYED_MAX)
        for played in played_on(on_site, site.holds, beliefs, visits):
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
        steps, tests_before, done = self._spent(way.actions)
        needs_quote = any(repair.by is RepairBy.TECHNICIAN for repair in done)
        declined = self.declined_share if needs_quote else 0.0
        once = {repair.id: repair for repair in done}  # made again at no further price
        low, high = (
            self.costs.service_fee_minor + sum(self.prices[name][end] for name in once)
            for end in (0, 1)
        )
        used = frozenset(part for repair in once.values() for part in repair.parts)
        accepted = way.probability * (1.0 - declined)
        solved = VisitEnding(accepted, sum(steps), (low, high), used, way.is_solved)
        yield replace(solved, minutes_sd=self._sd(steps))
        fee, before = (self.costs.service_fee_minor,) * 2, steps[:tests_before]
        left = VisitEnding(way.probability * declined, sum(before), fee, frozenset(), False)
        yield replace(left, is_declined=True, minutes_sd=self._sd(before))

    def _sd(self, steps: Sequence[float]) -> float:
        """Standard deviation of the minutes of steps that vary each by itself."""
        return self.costs.minutes_spread * math.sqrt(sum(minutes**2 for minutes in steps))

    def _spent(self, actions: Sequence[Action]) -> tuple[list[float], int, list[Repair]]:
        """Minutes of each step, how many come before the quote, and the repairs made."""
        steps: list[float] = []
        before_quote = 0
        done: list[Repair] = []
        setup = self.site.setup
        for action in actions:
            if action.kind is ActionKind.TEST:
                test = self.site.tests[action.place]
                steps.append(setup.minutes(test))
                setup = setup.after_test(test)
            elif action.kind is ActionKind.REPAIR:
                repair = self.site.repairs[action.place]
                if not any(earlier.by is RepairBy.TECHNICIAN for earlier in done):
                    before_quote = len(steps)
                done.append(repair)
                steps += [repair.minutes, self.costs.verification_minutes]
                setup = setup.after_repair()
        return steps, before_quote, done
