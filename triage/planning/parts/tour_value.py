"""What a load is worth on a day: P(finished) of each visit when pieces run out on the way.

Exact by walking through the visits with the distribution of the scarce pieces left; on days with
too many ways to run out, by drawing days, with the standard error stated. The same days are drawn
each time, so that loads are compared on equal terms and results can be repeated.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from triage.planning.parts.load import JobType

Visits = Sequence[Sequence[JobType]]

STEPS_MAX = 30_000  # states times job types of a visit; beyond that days are drawn
DAYS_DRAWN = 20_000
DRAW_SEED = 20_240_601


@dataclass(frozen=True, slots=True)
class Supply:
    """An item: pieces on the van, cost of taking one more along, most that can be taken."""

    aboard: int
    holding_minor: float
    more_max: int = 0


@dataclass(frozen=True, slots=True)
class Valuation:
    """Value of a load in minor units with its standard error (0: exact); ``fill_rates`` (V,)."""

    value: float
    standard_error: float
    fill_rates: tuple[float, ...]


class Day:
    """Visits of a day with what the van has and may take."""

    def __init__(
        self, visits: Visits, supplies: Mapping[str, Supply], return_trip_minor: float
    ) -> None:
        self.visits = visits
        self.supplies = supplies
        self.return_trip_minor = return_trip_minor
        self.possible = [[job for job in jobs if can_be(job, supplies)] for jobs in visits]
        self.needed_by = {
            item: sum(any(item in job.parts for job in jobs) for jobs in self.possible)
            for item in supplies
        }

    @property
    def open_items(self) -> tuple[str, ...]:
        """Items of which the van may run out and more may be taken."""
        return tuple(
            item
            for item, supply in self.supplies.items()
            if supply.more_max and supply.aboard < self.needed_by[item]
        )

    def valued(self, take: Mapping[str, int], *, steps_max: int = STEPS_MAX) -> Valuation:
        """Value of a load; only jobs that need an item count. Exact up to ``steps_max`` steps."""
        count = {item: s.aboard + take.get(item, 0) for item, s in self.supplies.items()}
        scarce = [item for item, needed in self.needed_by.items() if 0 < count[item] < needed]
        place = {item: k for k, item in enumerate(scarce)}
        visits = [
            [
                (job.probability, tuple(place[part] for part in sorted(job.parts & place.keys())))
                for job in jobs
                if all(count[part] for part in job.parts)
            ]
            for jobs in self.possible
        ]
        left = tuple(count[item] for item in scarce)
        rates, error = _walked(visits, left, steps_max), 0.0
        if rates is None:
            rates, error = _drawn(visits, left)
        no_item = sum(job.probability for jobs in self.visits for job in jobs if not job.parts)
        cost = sum(self.supplies[item].holding_minor * number for item, number in take.items())
        value = self.return_trip_minor * (sum(rates) - no_item) - cost
        return Valuation(value, self.return_trip_minor * error, tuple(rates))


def can_be(job: JobType, supplies: Mapping[str, Supply]) -> bool:
    """Whether all pieces of a job could be there."""
    return all(
        part in supplies and supplies[part].aboard + supplies[part].more_max > 0
        for part in job.parts
    )


Kinds = Sequence[tuple[float, tuple[int, ...]]]  # P(job), places of the scarce pieces it needs


def _walked(visits: Sequence[Kinds], left: tuple[int, ...], steps_max: int) -> list[float] | None:
    """P(finished) of each visit, exact; None if there are too many ways to run out."""
    states: dict[tuple[int, ...], float] = {left: 1.0}
    rates = []
    for number, kinds in enumerate(visits):
        if len(states) * len(kinds) > steps_max:
            return None
        rates.append(
            sum(
                weight * probability
                for state, weight in states.items()
                for probability, needed in kinds
                if all(state[k] for k in needed)
            )
        )
        if number + 1 < len(visits):
            states = _after_visit(states, kinds)
    return rates


def _after_visit(
    states: Mapping[tuple[int, ...], float], kinds: Kinds
) -> dict[tuple[int, ...], float]:
    """Distribution of the scarce pieces left after a visit."""
    after: dict[tuple[int, ...], float] = {}
    for state, weight in states.items():
        kept = 1.0
        for probability, needed in kinds:
            if needed and all(state[k] for k in needed):
                kept -= probability
                rest = tuple(n - (k in needed) for k, n in enumerate(state))
                after[rest] = after.get(rest, 0.0) + weight * probability
        after[state] = after.get(state, 0.0) + weight * kept
    return after


def _drawn(visits: Sequence[Kinds], left: tuple[int, ...]) -> tuple[list[float], float]:
    """P(finished) of each visit over drawn days, and the standard error of their sum."""
    rng = np.random.default_rng(DRAW_SEED)
    stock = np.tile(np.array(left, dtype=np.int8), (DAYS_DRAWN, 1))  # (N, I)
    finished = np.zeros((len(visits), DAYS_DRAWN), dtype=np.bool_)
    for number, kinds in enumerate(visits):
        needs = np.zeros((len(kinds) + 1, len(left)), dtype=np.int8)  # last: no piece will do
        for row, (_, needed) in enumerate(kinds):
            needs[row, list(needed)] = 1
        reached = np.cumsum([probability for probability, _ in kinds])
        kind = np.searchsorted(reached, rng.random(DAYS_DRAWN), side="right")  # (N,)
        wanted = needs[kind]  # (N, I)
        finished[number] = (kind < len(kinds)) & (stock >= wanted).all(axis=1)
        stock -= wanted * finished[number][:, None]
    jobs = finished.sum(axis=0)
    return finished.mean(axis=1).tolist(), float(jobs.std() / np.sqrt(DAYS_DRAWN))
