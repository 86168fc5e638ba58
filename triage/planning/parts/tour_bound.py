"""Upper bounds on the value of a day's load, and the loads they come from.

**By scenario**, for small days. A scenario ``s`` is the set of jobs the day turns out to hold, with
probability ``p_s``; job type ``T`` comes up ``n_sT`` times. Pieces are shared out with hindsight,
which can only help:

    maximise    L * sum over s, T of p_s y_sT  -  sum over i of H_i x_i
    subject to  sum over T with i of y_sT <= a_i + x_i  for each s, i;  y_sT <= n_sT

**On average**, for any day. Let ``y_vj`` be P(finished | visit v is job type j) and ``N_i`` the
number of jobs that need item ``i``. No more pieces are used than there are, on average:

    maximise    L * sum over v, j of w_vj y_vj  -  sum over i, k of H_i u_ik
    subject to  sum over v, j with i of w_vj y_vj <= E[min(N_i, a_i)] + sum_k P(N_i >= a_i + k) u_ik
                y_vj <= u_i1  for each item i of j with none aboard;  y_vj <= 1

where ``u_ik`` says that the ``k``-th further piece is taken. For one visit this is the minimum cut.

Numbers of pieces are whole; ``y`` need not be, which only raises the bound.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from triage.planning.parts.tour_value import Day

SCENARIOS_MAX = 3000
SECONDS_MAX = 5.0  # the bound holds wherever the solver stops

Job = frozenset[str]
Scenario = tuple[tuple[Job, int], ...]


@dataclass(frozen=True, slots=True)
class UpperBound:
    """Load of the integer program; no load is worth more than ``bound``, minor units."""

    take: Mapping[str, int]
    bound: float


def upper_bound(day: Day, *, scenarios_max: int = SCENARIOS_MAX) -> UpperBound:
    """Bound by scenario if the day has no more than ``scenarios_max``, else on average."""
    visits, sure = _short_jobs(day)
    scenarios = _scenarios(visits, scenarios_max)
    found = _on_average(day, visits) if scenarios is None else _by_scenario(day, scenarios)
    return UpperBound(found.take, found.bound + day.return_trip_minor * sure)


def _short_jobs(day: Day) -> tuple[list[dict[Job, float]], float]:
    """Job types of each visit in items that may run out; expected number of jobs sure to be done.

    An item with a piece aboard for every visit that may need it never runs out.
    """
    plenty = {item for item, supply in day.supplies.items() if supply.aboard >= day.needed_by[item]}
    visits: list[dict[Job, float]] = []
    sure = 0.0
    for jobs in day.possible:
        types: dict[Job, float] = {}
        for job in jobs:
            short = job.parts - plenty
            if short:
                types[short] = types.get(short, 0.0) + job.probability
            elif job.parts:
                sure += job.probability
        visits.append(types)
    return visits, sure


def _scenarios(visits: list[dict[Job, float]], scenarios_max: int) -> dict[Scenario, float] | None:
    """Every scenario with its probability; None if there are too many."""
    scenarios: dict[Scenario, float] = {(): 1.0}
    for types in visits:
        longer: dict[Scenario, float] = {}
        for scenario, weight in scenarios.items():
            longer[scenario] = longer.get(scenario, 0.0) + weight * (1.0 - sum(types.values()))
            for job, probability in types.items():
                grown = _with_job(scenario, job)
                longer[grown] = longer.get(grown, 0.0) + weight * probability
            if len(longer) > scenarios_max:
                return None
        scenarios = longer
    return scenarios


def _with_job(scenario: Scenario, job: Job) -> Scenario:
    counts = dict(scenario)
    counts[job] = counts.get(job, 0) + 1
    return tuple(sorted(counts.items(), key=lambda entry: sorted(entry[0])))


@dataclass
class _Program:
    """An integer program in the making: maximise gain, rows at most their limits."""

    gain: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    limits: list[float] = field(default_factory=list)
    entries: list[tuple[int, int, float]] = field(default_factory=list)

    def variable(self, gain: float, upper: float, *, is_whole: bool = False) -> int:
        """Add a variable between 0 and ``upper``."""
        self.gain.append(gain)
        self.upper.append(upper)
        self.whole.append(int(is_whole))
        return len(self.gain) - 1

    def row(self, terms: list[tuple[int, float]], limit: float) -> None:
        """Add the constraint that the sum of variable times factor is at most ``limit``."""
        self.entries += [(len(self.limits), variable, factor) for variable, factor in terms]
        self.limits.append(limit)

    def solved(self) -> tuple[np.ndarray, float]:
        """Best values found (N,), and the bound on the gain."""
        rows, columns, factors = zip(*self.entries, strict=True)
        shape = (len(self.limits), len(self.gain))
        result = milp(
            -np.array(self.gain),
            integrality=np.array(self.whole),
            bounds=Bounds(0.0, np.array(self.upper)),
            constraints=LinearConstraint(
                coo_array((factors, (rows, columns)), shape=shape).tocsr(),
                ub=np.array(self.limits),
            ),
            options={"time_limit": SECONDS_MAX, "mip_rel_gap": 0.0},
        )
        values = np.zeros(len(self.gain)) if result.x is None else result.x
        return values, float(-result.mip_dual_bound)


def _by_scenario(day: Day, scenarios: Mapping[Scenario, float]) -> UpperBound:
    program = _Program()
    more = {
        item: program.variable(
            -day.supplies[item].holding_minor, day.supplies[item].more_max, is_whole=True
        )
        for item in day.open_items
    }
    for scenario, probability in scenarios.items():
        using: dict[str, list[tuple[int, float]]] = {}
        for job, count in scenario:
            done = program.variable(day.return_trip_minor * probability, count)
            for item in sorted(job):
                using.setdefault(item, []).append((done, 1.0))
        for item, terms in using.items():
            taken = [(more[item], -1.0)] if item in more else []
            program.row([*terms, *taken], day.supplies[item].aboard)
    values, bound = program.solved()
    return UpperBound({item: round(values[k]) for item, k in more.items()}, bound)


def _on_average(day: Day, visits: list[dict[Job, float]]) -> UpperBound:
    program = _Program()
    pieces = {
        item: [
            program.variable(-day.supplies[item].holding_minor, 1.0, is_whole=True)
            for _ in range(day.supplies[item].more_max)
        ]
        for item in day.open_items
    }
    using: dict[str, list[tuple[int, float]]] = {}
    for types in visits:
        for job, probability in types.items():
            done = program.variable(day.return_trip_minor * probability, 1.0)
            for item in sorted(job):
                using.setdefault(item, []).append((done, probability))
                if not day.supplies[item].aboard:
                    program.row([(done, 1.0), (pieces[item][0], -1.0)], 0.0)
    for item, terms in using.items():
        supply = day.supplies[item]
        at_least = _at_least(item, visits, supply.aboard + supply.more_max)
        aboard = supply.aboard
        further = [
            (variable, -at_least[aboard + k]) for k, variable in enumerate(pieces.get(item, []))
        ]
        program.row([*terms, *further], sum(at_least[:aboard]))
    values, bound = program.solved()
    take = {item: round(sum(values[k] for k in chosen)) for item, chosen in pieces.items()}
    return UpperBound(take, bound)


def _at_least(item: str, visits: list[dict[Job, float]], most: int) -> list[float]:
    """P(at least 1, 2 ... ``most`` jobs of the day need an item)."""
    number = np.ones(1)
    for types in visits:
        needed = sum(probability for job, probability in types.items() if item in job)
        number = np.convolve(number, [1.0 - needed, needed])
    return [float(number[k:].sum()) for k in range(1, most + 1)]
