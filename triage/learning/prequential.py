"""Honest scores: every job is forecast by what was known before it, then counted.

Jobs are taken in the order in which they were closed, in batches. Each batch is scored by the
network learned from all earlier batches, by the starting network, and by the base rates of the
causes so far without any finding; then it is counted [Dawid1984]_. No job is scored by a network
that has seen it. Only jobs with a confirmed cause are scored, all are learned from.

Where kinds are learned together, other kinds lend what their jobs said that were closed before the
batch; they are learned again when these have grown by a fifth.
"""

from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from triage.learning.columns import JobColumns, columns_of, layout_for
from triage.learning.drift import standardised_excess
from triage.learning.estimation import Learned, as_columns, learn
from triage.learning.layout import Layout
from triage.learning.model import Model
from triage.learning.patterns import shard_of
from triage.learning.pooling import KindJobs, learn_with
from triage.learning.scores import log_score_bits
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

BATCH = 100
GROWTH = 1.2  # of a lender's earlier jobs, before it is learned again


@dataclass(frozen=True, slots=True, eq=False)
class Scored:
    """Scores of ``J`` jobs with a confirmed cause, in the order of closing.

    ``jobs`` (J,) are their places among all jobs. ``learned_bits``, ``frozen_bits`` and
    ``base_bits`` (J,) are the surprise of the learned network, of the starting network and of the
    base rates. ``rank`` (J,) is the best rank of a confirmed cause, from 1. ``probability`` and
    ``happened`` (J, F) are the forecasts of each failure mode. ``excess`` (J,) feeds the drift
    alarm; it is that of the learned network.
    """

    jobs: IntArray
    learned_bits: FloatArray
    frozen_bits: FloatArray
    base_bits: FloatArray
    rank: IntArray
    probability: FloatArray
    happened: BoolArray
    excess: FloatArray

    def __len__(self) -> int:
        return len(self.jobs)

    def taking(self, wanted: BoolArray) -> "Scored":
        """Scores of some of the jobs."""
        return Scored(
            *(
                getattr(self, name)[wanted]
                for name in [
                    "jobs",
                    "learned_bits",
                    "frozen_bits",
                    "base_bits",
                    "rank",
                    "probability",
                    "happened",
                    "excess",
                ]
            )
        )


def score_closed_jobs(
    network: FaultNetwork,
    jobs: Sequence[ClosedJob],
    settings: LearningSettings,
    batch: int = BATCH,
    *,
    others: Sequence[KindJobs] = (),
) -> tuple[tuple[ClosedJob, ...], Scored]:
    """Score jobs of one network prequentially; returns them in order of closing, and the scores.

    A job counts with the age it has at the last job. ``others`` are other kinds with their jobs;
    not looked at unless ``settings.learns_together`` holds.
    """
    ordered = tuple(sorted(jobs, key=lambda job: (job.closed_at, job.id)))
    layout = layout_for(ordered, network)
    usable = tuple(job for job in ordered if _is_usable(job, layout))
    if not usable:
        return (), _empty(layout)
    columns = columns_of(usable, layout, settings, usable[-1].closed_at)
    lenders = _Lenders(others if settings.learns_together else (), settings)
    times = [job.closed_at for job in usable]
    return usable, prequential(
        columns, layout, settings, batch, lenders=lambda count: lenders.before(times[count])
    )


def prequential(
    columns: JobColumns,
    layout: Layout,
    settings: LearningSettings,
    batch: int = BATCH,
    *,
    lenders: Callable[[int], Mapping[str, Learned]] = lambda _: {},
) -> Scored:
    """Score jobs in their order; O(batches) runs of EM.

    ``lenders`` gives what other kinds had learned, by network id, when a job of this number came.
    """
    frozen = Model.of(layout.network, layout)
    common = frozen.joint.sum(axis=0)
    parts = [
        _batch_scores(block, model, frozen, base)
        for block, model, base in _batches(columns, settings, batch, frozen, common, lenders)
    ]
    if not parts:
        return _empty(layout)
    return Scored(*(np.concatenate([part[k] for part in parts]) for k in range(8)))


def grouped(scored: Scored, keys: Sequence[str]) -> dict[str, Scored]:
    """Scores by group, for example the appliance, the person or the month of each scored job."""
    names = np.asarray(keys)
    return {str(name): scored.taking(names == name) for name in np.unique(names)}


def keys_of(
    jobs: Sequence[ClosedJob], scored: Scored, key: Callable[[ClosedJob], str]
) -> list[str]:
    """Key of every scored job."""
    return [key(jobs[place]) for place in scored.jobs]


def month_of(job: ClosedJob) -> str:
    """Month in which a job was closed: "2026-03"."""
    return f"{job.closed_at:%Y-%m}"


class _Lenders:
    """Other kinds, each learned alone from those of its jobs that were closed by some time."""

    def __init__(self, others: Sequence[KindJobs], settings: LearningSettings) -> None:
        self._settings = settings
        self._kinds = {
            network.id: (network, sorted(jobs, key=lambda job: (job.closed_at, job.id)))
            for network, jobs in others
        }
        self._learned: dict[str, tuple[int, Learned]] = {}

    def before(self, time: datetime) -> Mapping[str, Learned]:
        """What the kinds had learned by then, those with jobs only."""
        for name, (network, jobs) in self._kinds.items():
            count = bisect_left(jobs, time, key=lambda job: job.closed_at)
            known = self._learned[name][0] if name in self._learned else 0
            if count > GROWTH * known:
                seen = jobs[:count]
                layout, columns, _ = as_columns(network, seen, self._settings, seen[-1].closed_at)
                learned = learn(layout, [shard_of(columns, layout)], self._settings)
                self._learned[name] = count, learned
        return {name: learned for name, (_, learned) in self._learned.items()}


def _batches(
    columns: JobColumns,
    settings: LearningSettings,
    batch: int,
    frozen: Model,
    common: FloatArray,
    lenders: Callable[[int], Mapping[str, Learned]],
) -> Iterator[tuple[tuple[IntArray, JobColumns], Model, FloatArray]]:
    """Jobs of each batch with the model and the base rates from the batches before.

    EM goes on from the numbers, and the candidates, of the batch before.
    """
    layout, model, now = frozen.layout, frozen, None
    for start in range(0, len(columns), batch):
        seen, others = columns.taking(slice(0, start)), lenders(start)
        if start > 0 or others:
            alone = learn(layout, [shard_of(seen, layout, model)], settings, start=now)
            now = alone.parameters
            kinds = {layout.network.id: alone, **others}
            learned = learn_with(layout.network.id, kinds, seen, settings)[0] if others else alone
            model = Model(layout, learned.parameters)
        known = seen.label >= 0
        counts = np.bincount(seen.label[known], seen.weight[known], len(layout.members))
        base = (settings.share_jobs * common + counts) / (settings.share_jobs + counts.sum())
        here = np.arange(start, min(start + batch, len(columns)))
        yield (here, columns.taking(here)), model, base


def _batch_scores(
    block: tuple[IntArray, JobColumns], model: Model, frozen: Model, base: FloatArray
) -> tuple[NDArray[np.generic], ...]:
    places, columns = block
    known = columns.label >= 0
    columns = columns.taking(known)
    truth = columns.label
    own = np.arange(len(truth))
    log_posterior = model.log_posterior(columns)
    is_member = model.layout.is_member
    probability = np.exp(log_posterior) @ is_member  # (J, F)
    happened = is_member[truth]
    best = np.where(happened, probability, -1.0).max(axis=1)
    return (
        places[known],
        log_score_bits(np.exp(log_posterior[own, truth])),
        log_score_bits(np.exp(frozen.log_posterior(columns)[own, truth])),
        log_score_bits(base[truth]),
        1 + (probability > best[:, None]).sum(axis=1),
        probability,
        happened,
        standardised_excess(log_posterior, truth),
    )


def _is_usable(job: ClosedJob, layout: Layout) -> bool:
    known = layout.compiled.mode_position
    named = [*(cause.mode for cause in job.causes), *job.suspected]
    if any(mode not in known for mode in named):
        return False
    return not job.causes or layout.row(cause.mode for cause in job.causes) is not None


def _empty(layout: Layout) -> Scored:
    none = np.zeros(0)
    places = np.zeros(0, dtype=np.int64)
    modes = layout.compiled.mode_count
    table = np.zeros((0, modes))
    return Scored(places, none, none, none, places, table, table.astype(bool), none)
