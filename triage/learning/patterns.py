"""Jobs summed up into distinct cells, so that the cost of learning does not depend on their number.

A **shard** holds, for every unit, its distinct cells (configuration and answers) with the weight of
the jobs whose cause is certain. A job whose cause is not certain keeps a short list of
**candidates**: the hypotheses that carry nearly all of its posterior under a given network.
Candidates stay the same throughout a run, so the objective of the run is one function.

Shards are independent of each other: what leaves a shard is sums (``expectation``).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.learning.columns import JobColumns
from triage.learning.layout import Layout, Unit
from triage.learning.model import Model, context_codes, distinct, patterns, sums, unit_codes
from triage.learning.units import Cells

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CANDIDATES_MAX = 60  # hypotheses a job of uncertain cause keeps
CANDIDATE_SHARE_MIN = 1e-4  # of its posterior
CHUNK = 1000  # uncertain jobs whose candidates are sought at once


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Candidate hypotheses of the uncertain jobs, jobs one after another.

    ``pairs`` of job and hypothesis: ``hypothesis`` (pairs,), ``log_label`` (pairs,) the log
    likelihood of what is known of the cause, ``prior_cell`` (pairs,), ``first`` (jobs,) the first
    pair of each job, ``weight`` (jobs,). ``entry_pair`` and ``entry_cell`` list the cells of every
    pair. ``kept_share`` is the mean posterior the candidates carry.
    """

    hypothesis: IntArray
    log_label: FloatArray
    prior_cell: IntArray
    first: IntArray
    weight: FloatArray
    entry_pair: IntArray
    entry_cell: IntArray
    kept_share: float


@dataclass(frozen=True, slots=True, eq=False)
class PriorCells:
    """Cells of hypothesis and answers about contexts.

    ``hypothesis`` and ``pattern`` (cells,); ``weight`` (cells,) of the certain jobs; ``codes``
    (patterns, context observations).
    """

    hypothesis: IntArray
    pattern: IntArray
    weight: FloatArray
    codes: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Shard:
    """Jobs of one place, summed up.

    ``cells`` of every unit, numbered on from ``first_cell`` (units+1,); ``weight`` (cells,) of the
    certain jobs. ``seen_twice`` (O,) is the weight of the jobs that saw the sign of an observation
    through another one as well. ``jobs`` were used; ``impossible`` and ``silent`` ones (that have
    neither cause nor findings) were left out.
    """

    cells: tuple[Cells, ...]
    first_cell: IntArray
    weight: FloatArray
    prior: PriorCells
    candidates: Candidates
    seen_twice: FloatArray
    job_weight: float
    jobs: int
    impossible: int = 0
    silent: int = 0


def shard_of(columns: JobColumns, layout: Layout, model: Model | None = None) -> Shard:
    """Sum up jobs; O(units x jobs), and O(hypotheses) more for each uncertain one.

    Jobs that say nothing, and those whose answers are impossible under what is known of their
    cause, are left out and counted. Candidates are chosen by ``model``, the starting network if
    none is given; wrong labels are taken to be as common as causes are in it.
    """
    start = model or Model.of(layout.network, layout)
    is_silent = columns.is_silent
    columns = columns.taking(~is_silent)
    shard, is_bad = _Builder(columns, start).shard()
    if is_bad.any():
        shard, _ = _Builder(columns.taking(~is_bad), start).shard()
    return replace(shard, impossible=int(is_bad.sum()), silent=int(is_silent.sum()))


class _Builder:
    """One shard in the making."""

    def __init__(self, columns: JobColumns, start: Model) -> None:
        self.layout = start.layout
        self.columns = columns
        self.start = start
        self.certain = np.flatnonzero(columns.is_certain)
        self.uncertain = np.flatnonzero(~columns.is_certain)
        self.is_bad = np.zeros(len(columns), dtype=bool)

    def shard(self) -> tuple[Shard, NDArray[np.bool_]]:
        """The shard, and which of the jobs turned out to be impossible."""
        pair_job, hypothesis, log_label, kept = self._pairs()
        cells, weights, pairs, entries, first = [], [], [], [], [0]
        for unit in self.layout.units:
            found, weight, pair, entry = self._unit_cells(unit, pair_job, hypothesis)
            cells.append(found)
            weights.append(weight)
            pairs.append(pair)
            entries.append(entry + first[-1])
            first.append(first[-1] + len(weight))
        prior, prior_cell = self._prior_cells(pair_job, hypothesis)
        jobs, start = np.unique(pair_job, return_index=True)
        candidates = Candidates(
            hypothesis=hypothesis,
            log_label=log_label,
            prior_cell=prior_cell,
            first=start,
            weight=self.columns.weight[jobs],
            entry_pair=np.concatenate(pairs),
            entry_cell=np.concatenate(entries),
            kept_share=kept,
        )
        shard = Shard(
            cells=tuple(cells),
            first_cell=np.array(first),
            weight=np.concatenate(weights),
            prior=prior,
            candidates=candidates,
            seen_twice=self._seen_twice(),
            job_weight=float(self.columns.weight.sum()),
            jobs=len(self.columns),
        )
        return shard, self.is_bad

    def _unit_cells(
        self, unit: Unit, pair_job: IntArray, hypothesis: IntArray
    ) -> tuple[Cells, FloatArray, IntArray, IntArray]:
        """Cells of a unit, their certain weight, and (pair, cell) of the uncertain jobs."""
        columns = self.columns
        pattern = patterns(columns, unit.observations, unit.strides)
        looked = self.certain[pattern[self.certain] > 0]
        pairs = np.flatnonzero(pattern[pair_job] > 0)
        own = unit.config[columns.label[looked]] * unit.patterns + pattern[looked]
        theirs = unit.config[hypothesis[pairs]] * unit.patterns + pattern[pair_job[pairs]]
        size = len(unit.sign_config) * unit.patterns
        keys, places = distinct(np.concatenate([own, theirs]), size)
        cells = Cells(keys // unit.patterns, unit_codes(keys % unit.patterns, unit, self.layout))
        mine, entries = places[: len(own)], places[len(own) :]
        weight = sums(mine, columns.weight[looked], len(keys))
        likelihood = self.start.cell_states(unit, cells, with_states=False).likelihood
        self.is_bad[looked[likelihood[mine] <= 0.0]] = True
        return cells, weight, pairs, entries

    def _prior_cells(self, pair_job: IntArray, hypothesis: IntArray) -> tuple[PriorCells, IntArray]:
        """Cells of hypothesis and context answers, and the cell of each pair."""
        layout, columns = self.layout, self.columns
        pattern = patterns(columns, layout.context_observations, layout.context_strides)
        found, place = np.unique(pattern, return_inverse=True)
        place, count = place.ravel(), max(len(found), 1)
        own = columns.label[self.certain] * count + place[self.certain]
        theirs = hypothesis * count + place[pair_job]
        keys, cells = distinct(np.concatenate([own, theirs]), len(layout.members) * count)
        mine = cells[: len(own)]
        prior = PriorCells(
            hypothesis=keys // count,
            pattern=keys % count,
            weight=sums(mine, columns.weight[self.certain], len(keys)),
            codes=context_codes(layout, found),
        )
        likelihood = self.start.context_likelihood(prior.codes) @ self.start.joint  # (Q, H)
        of_cell = likelihood[prior.pattern, prior.hypothesis]
        self.is_bad[self.certain[of_cell[mine] <= 0.0]] = True
        return prior, cells[len(own) :]

    def _pairs(self) -> tuple[IntArray, IntArray, FloatArray, float]:
        """Job, hypothesis and log label likelihood of every pair, and the mean share kept."""
        blocks = [
            self._chunk_pairs(self.uncertain[start : start + CHUNK])
            for start in range(0, len(self.uncertain), CHUNK)
        ]
        if not blocks:
            empty = np.zeros(0, dtype=np.int64)
            return empty, empty, np.zeros(0), 1.0
        jobs, hypotheses, labels, kept = (
            np.concatenate([block[k] for block in blocks]) for k in range(4)
        )
        return jobs, hypotheses, labels, float(kept.mean())

    def _chunk_pairs(self, jobs: IntArray) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
        log_label = self._log_label(jobs)
        log_joint = self.start.log_joint(self.columns.taking(jobs)) + log_label
        best = log_joint.max(axis=1)
        possible = np.isfinite(best)
        self.is_bad[jobs[~possible]] = True
        share = np.exp(log_joint - np.where(possible, best, 0.0)[:, None])
        share[~possible, 0] = 1.0  # a placeholder: the job is left out in the next round
        share /= share.sum(axis=1, keepdims=True)
        count = min(CANDIDATES_MAX, share.shape[1])
        least = np.partition(share, -count, axis=1)[:, -count]
        wanted = share >= np.maximum(least, CANDIDATE_SHARE_MIN)[:, None]
        row, column = np.nonzero(wanted)
        return jobs[row], column, log_label[row, column], (share * wanted).sum(axis=1)

    def _log_label(self, jobs: IntArray) -> FloatArray:
        """Log likelihood of what is known of the cause, shape ``(jobs, H)``."""
        columns = self.columns
        likelihood = np.ones((len(jobs), len(self.layout.members)))
        common = self.start.joint.sum(axis=0)  # (H,)
        label, belief = columns.label[jobs], columns.belief[jobs]
        labelled = np.flatnonzero(label >= 0)
        right = columns.reliability[jobs[labelled]]
        wrong = (1.0 - right) * common[label[labelled]]
        likelihood[labelled] = wrong[:, None] / (1.0 - common)
        likelihood[labelled, label[labelled]] = right
        believed = np.flatnonzero(belief >= 0)
        likelihood[believed] *= columns.beliefs[belief[believed]]
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(likelihood))

    def _seen_twice(self) -> FloatArray:
        """Weight of the jobs that saw the sign of each observation through another one too."""
        result = np.zeros(len(self.layout.compiled.observations))
        for observations in self.layout.compiled.observations_of_sign:
            if len(observations) < 2:
                continue
            made = self.columns.answers[list(observations)] > 0  # (observations, J)
            is_twice = made.sum(axis=0) > 1
            result[list(observations)] = (made & is_twice) @ self.columns.weight
        return result
