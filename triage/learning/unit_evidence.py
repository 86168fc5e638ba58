"""The findings about one unit of a shard, to be looked at under numbers that differ a little.

What the other units say of the causes of uncertain jobs is held, so a look costs the cells of the
unit and not those of the network.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.learning.expectation import add_counts, candidate_weights, cell_weights
from triage.learning.layout import Unit
from triage.learning.model import Model, sums
from triage.learning.patterns import Shard
from triage.learning.units import Cells

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class UnitEvidence:
    """Cells of a unit, with the jobs behind them.

    ``weight`` (cells,) is that of the certain jobs. Of the pairs of uncertain jobs that looked at
    the unit: ``cell`` (pairs,), ``log_rest`` (pairs,) the log of all the pair stands for but this
    unit, ``first`` (jobs,) the first pair of each job, ``job_weight`` (jobs,).
    """

    unit: Unit
    cells: Cells
    weight: FloatArray
    cell: IntArray
    log_rest: FloatArray
    first: IntArray
    job_weight: FloatArray

    def counts(self, model: Model) -> tuple[dict[int, FloatArray], dict[int, FloatArray]]:
        """Expected counts of the links and channels of the unit, by position."""
        now = model.parameters
        links = {place: np.zeros_like(now.links[place]) for place in self.unit.signs}
        channels = {place: np.zeros_like(now.channels[place]) for place in self.unit.observations}
        found = model.cell_states(self.unit, self.cells)
        weight = self.weight
        if len(self.first) > 0:
            with np.errstate(divide="ignore"):
                log_pair = self.log_rest + np.log(found.likelihood)[self.cell]
            weight = weight + sums(self.cell, self._shares(log_pair), len(weight))
        add_counts(model, self.unit, self.cells, found, weight, links, channels)
        return links, channels

    def _shares(self, log_pair: FloatArray) -> FloatArray:
        """Posterior of every pair times the weight of its job."""
        count = np.diff(self.first, append=len(log_pair))
        share = np.exp(log_pair - np.repeat(np.maximum.reduceat(log_pair, self.first), count))
        scale = self.job_weight / np.add.reduceat(share, self.first)
        return np.asarray(share * np.repeat(scale, count))


def units_of(model: Model, shard: Shard) -> list[UnitEvidence]:
    """Findings of a shard by unit, in the order of the layout."""
    log_cells, log_prior = _logs(model, shard)
    candidates = shard.candidates
    log_pair = candidates.log_label + log_prior[candidates.prior_cell]
    log_pair = log_pair + sums(
        candidates.entry_pair, log_cells[candidates.entry_cell], len(log_pair)
    )
    job = _job_of_pair(shard)
    found = []
    for place, (unit, cells) in enumerate(zip(model.layout.units, shard.cells, strict=True)):
        start, stop = shard.first_cell[place], shard.first_cell[place + 1]
        entries = np.flatnonzero((candidates.entry_cell >= start) & (candidates.entry_cell < stop))
        pairs, cell = candidates.entry_pair[entries], candidates.entry_cell[entries]
        jobs, first = np.unique(job[pairs], return_index=True)
        found.append(
            UnitEvidence(
                unit=unit,
                cells=cells,
                weight=shard.weight[start:stop],
                cell=cell - start,
                log_rest=log_pair[pairs] - log_cells[cell],
                first=first,
                job_weight=candidates.weight[jobs],
            )
        )
    return found


def pair_shares(model: Model, shard: Shard) -> tuple[FloatArray, IntArray]:
    """Posterior of every pair of an uncertain job, and the job of each pair."""
    share, _, job = candidate_weights(shard, *_logs(model, shard))
    return share, job


def prior_weights(model: Model, shard: Shard) -> FloatArray:
    """Weight of every cell of hypothesis and answers about contexts, uncertain jobs among it."""
    return cell_weights(shard, *_logs(model, shard))[1]


def _logs(model: Model, shard: Shard) -> tuple[FloatArray, FloatArray]:
    """Log likelihood of every cell, and of every prior cell."""
    units: Sequence[Unit] = model.layout.units
    likelihood = [
        model.cell_states(unit, cells, with_states=False).likelihood
        for unit, cells in zip(units, shard.cells, strict=True)
    ]
    context = model.context_likelihood(shard.prior.codes)
    of_prior = (context @ model.joint)[shard.prior.pattern, shard.prior.hypothesis]
    with np.errstate(divide="ignore"):
        return np.log(np.concatenate(likelihood)), np.log(of_prior)


def _job_of_pair(shard: Shard) -> IntArray:
    candidates = shard.candidates
    count = np.diff(candidates.first, append=len(candidates.hypothesis))
    return np.asarray(np.repeat(np.arange(len(candidates.first)), count))
