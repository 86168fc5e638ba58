"""Parts to load: which parts go on the van, given what jobs may come up.

Job type ``j`` comes up with probability ``w_j`` and needs the set of parts ``T_j``; it is finished
on the first visit if all of them are there. Taking part ``i`` along costs ``H_i``, lacking any part
of the job costs a return trip ``L``:

    maximise over S   L * sum over j of w_j [T_j inside S]  -  sum over i in S of H_i

This is a maximum closure, found by one minimum cut [Picard1976]_: source to job ``L w_j``, job to
its parts without limit, part to sink ``H_i``. Capacities are whole numbers (millionths of a minor
unit): with floats the cut was wrong now and then. Parts that are only worth taking together are
found, which no rule for single parts can do.

A part comes in numbers, and the number on the van may not fit the machine. ``with_fit`` spells this
out: the job type that needs a pump becomes one job type for each number of the pump, so that the
cut chooses numbers, and the fill rate counts a piece that does not fit as none.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import networkx as nx

from triage.planning.problem.site import SiteProblem

CAPACITY_SCALE = 1_000_000
FIT_TOLERANCE = 1e-9  # of probabilities that are meant to sum to 1
SOURCE, SINK = "source", "sink"


@dataclass(frozen=True, slots=True)
class JobType:
    """Jobs that need the same parts: their probability and the parts."""

    probability: float
    parts: frozenset[str]


@dataclass(frozen=True, slots=True)
class Load:
    """Parts to take; ``value`` in minor units; ``fill_rate`` is P(all parts of the job aboard)."""

    parts: tuple[str, ...]
    value: float
    fill_rate: float


def best_load(
    jobs: Sequence[JobType], holding_minor: Mapping[str, float], return_trip_minor: float
) -> Load:
    """Parts that are worth taking, by minimum cut.

    Parameters
    ----------
    jobs : sequence of JobType
        Probabilities sum to at most 1.
    holding_minor : mapping
        Cost of taking each part along; at least 0. A part not listed cannot be taken.
    return_trip_minor : float
        Cost of not finishing on the first visit.

    Returns
    -------
    Load
        Parts in the order of ``holding_minor``. Of several best loads the smallest.
    """
    graph = nx.DiGraph()
    graph.add_nodes_from((SOURCE, SINK))
    for place, job in enumerate(jobs):
        worth = round(CAPACITY_SCALE * return_trip_minor * job.probability)
        if job.parts and job.parts <= holding_minor.keys():
            graph.add_edge(SOURCE, ("job", place), capacity=worth)
            for part in sorted(job.parts):
                graph.add_edge(("job", place), ("part", part))  # no capacity: without limit
    for part, holding in holding_minor.items():
        graph.add_edge(("part", part), SINK, capacity=round(CAPACITY_SCALE * holding))
    _, (source_side, _) = nx.minimum_cut(graph, SOURCE, SINK)
    parts = tuple(part for part in holding_minor if ("part", part) in source_side)
    return load_of(parts, jobs, holding_minor, return_trip_minor)


def load_of(
    parts: Sequence[str],
    jobs: Sequence[JobType],
    holding_minor: Mapping[str, float],
    return_trip_minor: float,
) -> Load:
    """Value and fill rate of a given load."""
    aboard = frozenset(parts)
    fill_rate = sum(job.probability for job in jobs if job.parts <= aboard)
    won = sum(job.probability for job in jobs if job.parts and job.parts <= aboard)
    value = return_trip_minor * won - sum(holding_minor[part] for part in parts)
    return Load(tuple(parts), value, fill_rate)


def frontier(
    jobs: Sequence[JobType], holding_minor: Mapping[str, float], return_trips_minor: Sequence[float]
) -> tuple[Load, ...]:
    """Loads as the return trip grows dearer: fill rate against parts taken, each load once."""
    loads: dict[tuple[str, ...], Load] = {}
    for return_trip in sorted(return_trips_minor):
        load = best_load(jobs, holding_minor, return_trip)
        loads.setdefault(load.parts, load)
    return tuple(loads.values())


def efficient_loads(
    jobs: Sequence[JobType], holding_minor: Mapping[str, float]
) -> tuple[Load, ...]:
    """Every load that is best for some cost of the return trip, from none to all useful parts.

    As the return trip grows dearer the best load only grows. Between two neighbours the cost at
    which they are equally good is tried; a load that beats both lies between them. So all corners
    of the frontier of fill rate against holding cost are found, with two cuts for each.

    Returns
    -------
    tuple of Load
        Fill rate and holding cost rise; ``value`` is minus the holding cost, since there is no one
        return trip to count with.
    """
    free = [part for part, holding in holding_minor.items() if holding == 0.0]
    least = load_of(free, jobs, holding_minor, 0.0)
    fillable = [job for job in jobs if job.parts <= holding_minor.keys()]
    useful = {part for job in fillable for part in job.parts if job.probability > 0.0} | set(free)
    most = load_of([p for p in holding_minor if p in useful], jobs, holding_minor, 0.0)
    if most.fill_rate <= least.fill_rate:
        return (least,)
    return (least, *_corners(least, most, jobs, holding_minor), most)


def _corners(
    low: Load, high: Load, jobs: Sequence[JobType], holding_minor: Mapping[str, float]
) -> Iterator[Load]:
    """Corners of the frontier strictly between two loads on it."""
    return_trip = (low.value - high.value) / (high.fill_rate - low.fill_rate)
    found = best_load(jobs, holding_minor, return_trip)
    between = load_of(found.parts, jobs, holding_minor, 0.0)
    if low.fill_rate < between.fill_rate < high.fill_rate:
        yield from _corners(low, between, jobs, holding_minor)
        yield between
        yield from _corners(between, high, jobs, holding_minor)


def job_types(site: SiteProblem) -> tuple[JobType, ...]:
    """Sets of parts the hypotheses need, equal sets merged, in order of first mention.

    Probabilities sum to 1; a machine with nothing wrong any more needs no part.
    """
    jobs: dict[frozenset[str], float] = {frozenset(): site.well_share}
    for weight, needs in zip(site.problem.weights, site.problem.needs[:, :, 0], strict=True):
        repairs = [site.repairs[place] for place in needs if place < len(site.repairs)]
        parts = frozenset(part for repair in repairs for part in repair.parts)
        jobs[parts] = jobs.get(parts, 0.0) + float(weight) * (1.0 - site.well_share)
    return tuple(JobType(probability, parts) for parts, probability in jobs.items())


def with_fit(
    jobs: Sequence[JobType], candidates: Mapping[str, Sequence[tuple[str, float]]]
) -> tuple[JobType, ...]:
    """Job types in numbers of parts instead of parts.

    Parameters
    ----------
    jobs : sequence of JobType
        In parts.
    candidates : mapping
        For a part: its items, each with P(fits), summing to at most 1. What is missing to 1 is a
        machine that none fits, and becomes the item ``none_fits(part)``, which cannot be taken. A
        part that is not in the mapping always fits.

    Returns
    -------
    tuple of JobType
        The same total probability. Numbers of different parts are taken as independent given the
        plate, which understates the chance that both parts of a job fit.
    """
    spelt_out: dict[frozenset[str], float] = {}
    for job in jobs:
        parts = sorted(job.parts)
        ways = [_ways_to_fit(part, candidates.get(part, ((part, 1.0),))) for part in parts]
        for chosen in product(*ways):
            items = frozenset(item for item, _ in chosen)
            probability = job.probability
            for _, fits in chosen:
                probability *= fits
            spelt_out[items] = spelt_out.get(items, 0.0) + probability
    return tuple(JobType(probability, items) for items, probability in spelt_out.items())


def _ways_to_fit(part: str, items: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
    nothing = 1.0 - sum(fits for _, fits in items)
    ways = [(item, fits) for item, fits in items if fits > 0.0]
    return [*ways, (none_fits(part), nothing)] if nothing > FIT_TOLERANCE else ways


def none_fits(part: str) -> str:
    """Item that stands for a number of the part that nobody can take along."""
    return f"{part}: no number known"
