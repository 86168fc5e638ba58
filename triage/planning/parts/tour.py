"""One load list for the visits of a day: a piece fitted at one visit is gone for the next.

Visit ``v`` turns out to be job type ``j`` with probability ``w_vj``, independently of the others,
and needs the items ``T_vj``. The van has ``a_i`` pieces of item ``i`` and takes ``x_i`` more at
``H_i`` each. Visits are made in order; a job is finished, and its pieces used, whenever all of them
are there (nobody keeps a piece back from a customer for the sake of a later one). Otherwise it
costs a return trip ``L`` and uses nothing:

    maximise over x   L * E[number of jobs finished, of those that need an item]  -  sum of H_i x_i

**Value of a load**: ``triage.planning.parts.tour_value``, exact on small days.
**Best load**: from an integer program whose optimum no load can exceed (``tour_bound``). Its load
is valued and improved by single steps. Where both figures meet, it is proved best; else the gap is
stated.
**One visit** is a minimum cut (``triage.planning.parts.load``); so are visits that share no item
that may run out, each by itself. **One item** is the newsvendor problem [SnyderShen2019]_.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.planning.parts.load import best_load
from triage.planning.parts.tour_value import Day, Supply, Valuation, Visits, can_be

PROVED_SHARE = 1e-6  # of the return trip; the integer program is solved to about that


@dataclass(frozen=True, slots=True)
class TourLoad:
    """What to take for a day.

    ``take`` is on top of what is aboard, items with none left out. No load is worth more than
    ``bound``, minor units. ``valuation`` is what this one is worth.
    """

    take: Mapping[str, int]
    valuation: Valuation
    bound: float
    is_proved: bool

    @property
    def gap(self) -> float:
        """Most by which another load could be better, minor units."""
        return max(0.0, self.bound - self.valuation.value)


def best_tour(visits: Visits, supplies: Mapping[str, Supply], return_trip_minor: float) -> TourLoad:
    """Pieces worth taking for the visits of a day, in their order.

    Parameters
    ----------
    visits : sequence of sequence of JobType
        ``V`` visits. Probabilities of a visit sum to at most 1; what is missing to 1 is a job that
        no piece will do for.
    supplies : mapping
        Items that are on the van or can be taken.
    return_trip_minor : float
        Cost of not finishing a job on the first visit.
    """
    useful = worth_taking(visits, supplies, return_trip_minor)
    take: dict[str, int] = {}
    rates = [0.0] * len(visits)
    value = bound = variance = 0.0
    for group in _groups(visits, useful):
        day = Day([visits[place] for place in group], useful, return_trip_minor)
        chosen, found, limit = _best(day)
        take |= chosen
        value += found.value
        bound += max(limit, found.value)
        variance += found.standard_error**2
        for place, rate in zip(group, found.fill_rates, strict=True):
            rates[place] = rate
    return TourLoad(
        take={item: take[item] for item in supplies if take.get(item)},
        valuation=Valuation(value, variance**0.5, tuple(rates)),
        bound=bound,
        is_proved=variance == 0.0 and bound - value <= PROVED_SHARE * return_trip_minor,
    )


def newsvendor(demand: Sequence[float], overage: float, underage: float) -> int:
    """Pieces to hold of one item.

    Parameters
    ----------
    demand : sequence of float
        P(0, 1, 2 ... pieces are needed).
    overage, underage : float
        Cost of a piece too many, at least 0, and of a piece too few, in the same unit.

    Returns
    -------
    int
        Least number whose P(enough) reaches ``underage / (underage + overage)``.
    """
    if underage <= 0.0:
        return 0
    enough = np.cumsum(demand)
    return int(np.argmax(enough >= underage / (underage + overage) * enough[-1]))


def worth_taking(
    visits: Visits, supplies: Mapping[str, Supply], return_trip_minor: float
) -> dict[str, Supply]:
    """Supplies without the pieces that cannot pay.

    With pieces shared out at best, the ``k``-th piece of an item finishes at most one more job, on
    days on which ``k`` jobs need it: the load of the bound takes no more than the newsvendor would
    hold of the item alone. Jobs that then cannot be finished need nothing else either, so this is
    repeated until nothing changes.
    """
    useful = dict(supplies)
    while True:
        limits = {
            item: _most(item, supply, visits, useful, return_trip_minor)
            for item, supply in useful.items()
        }
        if all(limits[item] == supply.more_max for item, supply in useful.items()):
            return useful
        useful = {item: replace(supply, more_max=limits[item]) for item, supply in useful.items()}


def _most(
    item: str,
    supply: Supply,
    visits: Visits,
    supplies: Mapping[str, Supply],
    return_trip_minor: float,
) -> int:
    """Most pieces of an item that may pay, on top of those aboard."""
    if not supply.more_max:
        return 0
    demand = np.ones(1)
    for jobs in visits:
        needed = sum(job.probability for job in jobs if item in job.parts and can_be(job, supplies))
        demand = np.convolve(demand, [1.0 - needed, needed])
    overage = supply.holding_minor
    total = newsvendor(demand.tolist(), overage, return_trip_minor - overage)
    return min(supply.more_max, max(0, total - supply.aboard))


def _groups(visits: Visits, supplies: Mapping[str, Supply]) -> Iterator[list[int]]:
    """Visits that share items of which the van may run out, directly or through others."""
    needs = [
        {part for job in jobs if can_be(job, supplies) for part in job.parts} for jobs in visits
    ]
    short = {
        item
        for item, supply in supplies.items()
        if sum(item in need for need in needs) > max(1, supply.aboard)
    }
    left = list(range(len(visits)))
    while left:
        group, reached = [left.pop(0)], True
        while reached:
            shared = {item for place in group for item in needs[place] & short}
            joining = [place for place in left if needs[place] & shared]
            group += joining
            left = [place for place in left if place not in joining]
            reached = bool(joining)
        yield sorted(group)


def _best(day: Day) -> tuple[dict[str, int], Valuation, float]:
    """Best load found for visits that hang together, its value, and the bound."""
    if not day.open_items:
        found = day.valued({})
        return {}, found, found.value
    if len(day.visits) == 1:
        take = _cut(day)
        found = day.valued(take)
        return take, found, found.value
    # scipy takes 0.2 s to import, and a day of single visits does without it.
    from triage.planning.parts.tour_bound import upper_bound

    limit = upper_bound(day)
    take, found = _improved(day, limit.take)
    return take, found, limit.bound


def _cut(day: Day) -> dict[str, int]:
    """Best load of a single visit."""
    holding = {
        item: 0.0 if supply.aboard else supply.holding_minor
        for item, supply in day.supplies.items()
        if supply.aboard or supply.more_max
    }
    load = best_load(day.visits[0], holding, day.return_trip_minor)
    return {item: 1 for item in load.parts if not day.supplies[item].aboard}


def _improved(day: Day, take: Mapping[str, int]) -> tuple[dict[str, int], Valuation]:
    """Load after the single steps that help, best step first."""
    best, best_found = dict(take), day.valued(take)
    while True:
        steps = [
            {**best, item: best.get(item, 0) + step}
            for item in day.open_items
            for step in (-1, 1)
            if 0 <= best.get(item, 0) + step <= day.supplies[item].more_max
        ]
        valued = [day.valued(step) for step in steps]
        place = max(range(len(steps)), key=lambda k: valued[k].value)
        if valued[place].value <= best_found.value:
            return best, best_found
        best, best_found = steps[place], valued[place]
