"""Parts to load: which parts go on the van, given what jobs may come up.

Job type ``j`` comes up with probability ``w_j`` and needs the set of parts ``T_j``; it is finished
on the first visit if all of them are there. Taking part ``i`` along costs ``H_i``, lacking any part
of the job costs a return trip ``L``:

    maximise over S   L * sum over j of w_j [T_j inside S]  -  sum over i in S of H_i

This is a maximum closure, found by one minimum cut [Picard1976]_: source to job ``L w_j``, job to
its parts without limit, part to sink ``H_i``. Capacities are whole numbers (millionths of a minor
unit): with floats the cut was wrong now and then. Parts that are only worth taking together are
found, which no rule for single parts can do.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import networkx as nx

CAPACITY_SCALE = 1_000_000
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
