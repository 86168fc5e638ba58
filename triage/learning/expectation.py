"""The E-step: from a shard and the present numbers to expected counts and a log likelihood.

Only sums leave a shard, and sums of shards in a fixed order are the same wherever they were
computed; so one process, several, or a cluster give the same numbers.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from triage.learning.layout import Layout, Unit
from triage.learning.model import Model, sums
from triage.learning.parameters import Parameters
from triage.learning.patterns import Shard
from triage.learning.units import Cells, CellStates, activation_counts

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Expected complete data.

    ``log_likelihood`` in nats; ``links`` per sign, ``channels`` per observation (V, A), in the
    shapes of ``Parameters``; ``prior`` (C, H) of context combination and hypothesis.
    """

    log_likelihood: float
    links: tuple[FloatArray, ...]
    channels: tuple[FloatArray, ...]
    prior: FloatArray

    def plus(self, other: "Expected") -> "Expected":
        """Sum of two shards."""
        return Expected(
            self.log_likelihood + other.log_likelihood,
            tuple(a + b for a, b in zip(self.links, other.links, strict=True)),
            tuple(a + b for a, b in zip(self.channels, other.channels, strict=True)),
            self.prior + other.prior,
        )


Tables = list[FloatArray] | dict[int, FloatArray]  # by position of a sign or observation
EStep = Callable[[Parameters], Expected]


def e_step(layout: Layout, shard: Shard, parameters: Parameters) -> Expected:
    """Expected counts of a shard; O(cells), and O(entries) for uncertain jobs."""
    model = Model(layout, parameters)
    states = [
        model.cell_states(unit, cells)
        for unit, cells in zip(layout.units, shard.cells, strict=True)
    ]
    likelihood = np.concatenate([found.likelihood for found in states])
    context = model.context_likelihood(shard.prior.codes)  # (Q, C)
    of_prior = (context @ model.joint)[shard.prior.pattern, shard.prior.hypothesis]
    with np.errstate(divide="ignore"):
        log_cells, log_prior = np.log(likelihood), np.log(of_prior)
    weight, prior_weight, uncertain = cell_weights(shard, log_cells, log_prior)
    certain = _dot(shard.weight, log_cells) + _dot(shard.prior.weight, log_prior)
    first = shard.first_cell
    blocks = [weight[a:b] for a, b in pairwise(first)]
    links, channels = _counts(model, shard.cells, states, blocks)
    ratio = np.zeros((len(context), len(layout.members)))
    cells = shard.prior
    ratio[cells.pattern, cells.hypothesis] = np.divide(
        prior_weight, of_prior, out=np.zeros_like(of_prior), where=prior_weight > 0.0
    )
    return Expected(certain + uncertain, links, channels, model.joint * (context.T @ ratio))


def serial(layout: Layout, shards: Sequence[Shard]) -> EStep:
    """E-step over shards in this process, summed in their order."""

    def step(parameters: Parameters) -> Expected:
        return total([e_step(layout, shard, parameters) for shard in shards])

    return step


def total(parts: Sequence[Expected]) -> Expected:
    """Sum in the order given, which fixes the rounding."""
    result = parts[0]
    for part in parts[1:]:
        result = result.plus(part)
    return result


def candidate_weights(
    shard: Shard, log_cells: FloatArray, log_prior: FloatArray
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Posterior of every pair, log evidence of every uncertain job, and the job of each pair."""
    candidates = shard.candidates
    log_pair = candidates.log_label + log_prior[candidates.prior_cell]
    log_pair = log_pair + sums(
        candidates.entry_pair, log_cells[candidates.entry_cell], len(log_pair)
    )
    job = np.repeat(
        np.arange(len(candidates.first)), np.diff(candidates.first, append=len(log_pair))
    )
    best = np.maximum.reduceat(log_pair, candidates.first)
    share = np.exp(log_pair - best[job])
    mass = np.add.reduceat(share, candidates.first)
    return share / mass[job], np.log(mass) + best, job


def cell_weights(
    shard: Shard, log_cells: FloatArray, log_prior: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Weight of every cell and prior cell, and the log likelihood of the uncertain jobs."""
    candidates = shard.candidates
    if len(candidates.first) == 0:
        return shard.weight, shard.prior.weight, 0.0
    share, log_evidence, job = candidate_weights(shard, log_cells, log_prior)
    share = share * candidates.weight[job]
    cells = sums(candidates.entry_cell, share[candidates.entry_pair], len(log_cells))
    prior = sums(candidates.prior_cell, share, len(log_prior))
    return shard.weight + cells, shard.prior.weight + prior, _dot(candidates.weight, log_evidence)


def _dot(weight: FloatArray, log_value: FloatArray) -> float:
    """Sum of weight times log value; nothing where the weight is 0."""
    used = weight > 0.0
    return float(weight[used] @ log_value[used])


def _counts(
    model: Model,
    cells: Sequence[Cells],
    states: Sequence[CellStates],
    weights: Sequence[FloatArray],
) -> tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]:
    """Expected counts of links and channels."""
    links = [np.zeros_like(rows) for rows in model.parameters.links]
    channels = [np.zeros_like(rows) for rows in model.parameters.channels]
    for unit, own, found, weight in zip(model.layout.units, cells, states, weights, strict=True):
        add_counts(model, unit, own, found, weight, links, channels)
    return tuple(links), tuple(channels)


def add_counts(
    model: Model,
    unit: Unit,
    cells: Cells,
    found: CellStates,
    weight: FloatArray,
    links: Tables,
    channels: Tables,
) -> None:
    """Put the expected counts of the links of a unit in, and add those of its channels."""
    for place, rows in found.rows.items():
        at = slice(None) if rows is None else rows
        own_weight = weight[at][:, None]
        position = unit.signs[place]
        sign = model.layout.signs[position]
        config = unit.sign_config[cells.config[at], place]
        seen = _summed(config, found.seen[place], own_weight, len(sign.rows))
        links[position] = activation_counts(
            sign, model.parameters.links[position], model.distributions[position], seen
        )
        _add_answers(unit, place, cells.codes[at], found.shown[place] * own_weight, channels)


def _summed(groups: IntArray, values: FloatArray, weight: FloatArray, count: int) -> FloatArray:
    """Weighted sum of rows of ``values`` (N, V) by group, shape ``(count, V)``."""
    return np.stack([sums(groups, column, count) for column in (values * weight).T], axis=1)


def _add_answers(
    unit: Unit, place: int, codes: IntArray, shown: FloatArray, channels: Tables
) -> None:
    """Add expected (state, answer) pairs to the channels that look at a sign."""
    for number, observation in enumerate(unit.observations):
        if unit.looks_at[number] == place:
            answers = channels[observation].shape[1]
            counted = [
                sums(codes[:, number], column, answers + 1)[1 : answers + 1] for column in shown.T
            ]
            channels[observation] += np.stack(counted)
