"""Which parts earn their place on the van, from the jobs of the last year.

A part aboard spares a return trip in the jobs that need it, if the other parts of the job are
aboard, too; it costs its holding. What to carry is the minimum cut over the sets of parts that the
jobs needed (``triage.planning.parts.load``) [Picard1976]_. How many pieces is the newsvendor's
question [ArrowHarrisMarschak1951]_: as many as it takes until one more would cost more than it
spares,

    P(demand until the van is refilled <= pieces) >= shortage / (shortage + holding),

with the demand of a refill period taken as Poisson at the rate of the last year.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import exp
from typing import Any

from triage.network.values import FaultNetwork, Part
from triage.planning.parts.load import JobType, best_load
from triage.planning.shop.costs import CostModel
from triage.services.learning.records import JobRecord

YEAR = timedelta(days=365)
MOST_PIECES = 20
THIN_JOBS = 3  # fewer jobs than these say little of a part


@dataclass(frozen=True, slots=True, kw_only=True)
class StockTerms:
    """What carrying is reckoned with.

    ``holding_share`` of its cost is what a part aboard costs a year: capital, space, wear and
    parts that never fit; 25 % is common practice, no source. The van is refilled every
    ``refill_days``; ``vans`` share the jobs alike.
    """

    holding_share: float = 0.25
    refill_days: float = 7.0
    vans: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PartAdvice:
    """A part: how many jobs needed it, whether to carry it, and what that comes to a year.

    ``jobs`` of the last year needed it, ``not_aboard`` of them lacked it. ``alone`` of them needed
    no other part. ``spared_minor`` is what is spared by carrying it while the others that are
    worth it are carried, ``holding_minor`` what it costs.
    """

    part: str
    title: str
    is_carried: bool
    pieces: int
    jobs: int
    alone: int
    not_aboard: int
    spared_minor: float
    holding_minor: float

    @property
    def value_minor(self) -> float:
        """What is spared beyond what it costs; negative if it does not earn its place."""
        return self.spared_minor - self.holding_minor

    @property
    def is_thin(self) -> bool:
        """Whether so few jobs needed it that chance may have been at work."""
        return self.jobs < THIN_JOBS


@dataclass(frozen=True, slots=True, kw_only=True)
class StockAdvice:
    """Advice for every part that a job of the last year needed, most valuable first.

    ``fill_rate`` is the share of last year's jobs with parts whose parts would all be aboard.
    """

    jobs: int
    jobs_with_parts: int
    since: datetime
    parts: tuple[PartAdvice, ...]
    fill_rate: float
    spared_minor: float
    holding_minor: float
    currency: str


def stock_advice(
    records: Sequence[JobRecord],
    networks: Sequence[FaultNetwork],
    costs: CostModel,
    terms: StockTerms,
    at: datetime,
    currency: str,
) -> StockAdvice:
    """Reckon which parts of last year's jobs are worth carrying.

    Parameters
    ----------
    records : sequence of JobRecord
        Those closed more than a year before ``at`` are left out.
    networks : sequence of FaultNetwork
        Of the shop's appliance kinds, for titles and costs of parts.
    costs : CostModel
    terms : StockTerms
    at : datetime
        The present.
    currency : str
    """
    parts = {part.id: part for network in networks for part in network.parts.values()}
    last = [one for one in records if one.closed_at >= at - YEAR and one.visits > 0]
    needed = [frozenset(part.part for part in one.parts if part.part in parts) for one in last]
    sets = Counter(needed)
    jobs = [JobType(count / len(last), wanted) for wanted, count in sets.items()] if last else []
    in_any = list(dict.fromkeys(part for wanted in needed for part in sorted(wanted)))
    holding = {part: _holding_minor(parts[part], terms) for part in in_any}
    a_job = {part: cost / max(len(last), 1) for part, cost in holding.items()}
    load = best_load(jobs, a_job, costs.return_trip_minor) if jobs else None
    carried = frozenset(load.parts) if load else frozenset()
    lacking = Counter(part.part for one in last for part in one.parts if not part.was_aboard)
    advice = [
        _advice(parts[part], sets, carried, holding[part], lacking[part], costs, terms)
        for part in in_any
    ]
    advice.sort(key=lambda one: (not one.is_carried, -one.value_minor, one.part))
    with_parts = sum(count for wanted, count in sets.items() if wanted)
    filled = sum(count for wanted, count in sets.items() if wanted and wanted <= carried)
    return StockAdvice(
        jobs=len(last),
        jobs_with_parts=with_parts,
        since=at - YEAR,
        parts=tuple(advice),
        fill_rate=filled / with_parts if with_parts else 0.0,
        spared_minor=filled * costs.return_trip_minor,
        holding_minor=sum(holding[part] for part in carried),
        currency=currency,
    )


def pieces_to_carry(rate: float, ratio: float) -> int:
    """Fewest pieces with P(Poisson demand <= pieces) at least ``ratio``.

    >>> pieces_to_carry(0.1, 0.5), pieces_to_carry(0.1, 0.95), pieces_to_carry(2.0, 0.9)
    (0, 1, 4)
    """
    pieces, term = 0, exp(-rate)
    total = term
    while total < ratio and pieces < MOST_PIECES:
        pieces += 1
        term *= rate / pieces
        total += term
    return pieces


def _advice(
    part: Part,
    sets: Mapping[frozenset[str], int],
    carried: frozenset[str],
    holding_minor: float,
    not_aboard: int,
    costs: CostModel,
    terms: StockTerms,
) -> PartAdvice:
    needing = sum(count for wanted, count in sets.items() if part.id in wanted)
    with_it = carried | {part.id}
    spared = sum(count for wanted, count in sets.items() if part.id in wanted and wanted <= with_it)
    is_carried = part.id in carried
    periods = 365.0 / terms.refill_days
    shortage, holding = costs.return_trip_minor, holding_minor / terms.vans / periods
    ratio = shortage / (shortage + holding)
    pieces = pieces_to_carry(needing / periods / terms.vans, ratio) if is_carried else 0
    return PartAdvice(
        part=part.id,
        title=part.title,
        is_carried=is_carried,
        pieces=max(1, pieces) if is_carried else 0,
        jobs=needing,
        alone=sets.get(frozenset({part.id}), 0),
        not_aboard=not_aboard,
        spared_minor=spared * costs.return_trip_minor,
        holding_minor=holding_minor,
    )


def _holding_minor(part: Part, terms: StockTerms) -> float:
    """What one piece on every van costs a year."""
    return terms.holding_share * (part.cost[0] + part.cost[1]) / 2.0 * terms.vans


def stock_as_json(found: StockAdvice) -> dict[str, Any]:
    """Advice as plain values."""
    return {
        "jobs": found.jobs,
        "jobs_with_parts": found.jobs_with_parts,
        "fill_rate": found.fill_rate,
        "spared_minor": found.spared_minor,
        "holding_minor": found.holding_minor,
        "currency": found.currency,
        "parts": [
            {
                "part": one.part,
                "title": one.title,
                "is_carried": one.is_carried,
                "pieces": one.pieces,
                "jobs": one.jobs,
                "spared_minor": one.spared_minor,
                "holding_minor": one.holding_minor,
            }
            for one in found.parts
        ],
    }
