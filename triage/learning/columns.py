"""Closed jobs as columns: what learning reads, whether from values or from arrays.

What is known of the cause becomes a likelihood over hypotheses. A label that is certain leaves one
hypothesis. A label that is right with probability ``r`` has P(label | it) = r and, under any other
hypothesis, P(label) = (1 - r) times how common that label is among the wrong ones: wrong labels are
taken to fall on causes as often as these are met. A call back changes ``r`` by Bayes' rule. Weights
over suspected causes are likelihoods of their single-mode hypotheses [Pearl1988]_.

Answers that made the technician name the cause tell nothing about that same cause unless the repair
was checked: they are left out then, for strengths and channels alike [BeggGreenes1983]_.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from triage.errors import UnknownAnswerError
from triage.inference.compiled import CompiledNetwork
from triage.learning.layout import Layout
from triage.learning.values import (
    ClosedJob,
    Complaint,
    Confirmation,
    LearningSettings,
    Outcome,
)
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DAYS_A_MONTH = 365.25 / 12.0


@dataclass(frozen=True, slots=True, eq=False)
class JobColumns:
    """``J`` jobs of one network.

    ``answers`` (O, J) codes of ``Layout``; ``label`` (J,) row of the hypothesis that was confirmed,
    -1 for none; ``reliability`` (J,) P(the label is right); ``weight`` (J,); ``belief`` (J,) row of
    ``beliefs`` (B, H), a likelihood over hypotheses, -1 for none. ``left_out`` counts, by reason,
    what could not be used.
    """

    answers: NDArray[np.int8]
    label: IntArray
    reliability: FloatArray
    weight: FloatArray
    belief: IntArray
    beliefs: FloatArray
    left_out: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))

    def __len__(self) -> int:
        return len(self.label)

    @classmethod
    def of(
        cls,
        layout: Layout,
        answers: NDArray[np.int8],
        label: IntArray,
        reliability: FloatArray | None = None,
        weight: FloatArray | None = None,
    ) -> "JobColumns":
        """Columns from arrays: labels certain and weights 1 unless given."""
        count = len(label)
        return cls(
            answers=answers,
            label=label,
            reliability=np.ones(count) if reliability is None else reliability,
            weight=np.ones(count) if weight is None else weight,
            belief=np.full(count, -1, dtype=np.int64),
            beliefs=np.zeros((0, len(layout.members))),
        )

    @property
    def is_certain(self) -> NDArray[np.bool_]:
        """Shape ``(J,)``: one hypothesis only is left."""
        return np.asarray((self.label >= 0) & (self.reliability >= 1.0))

    @property
    def is_silent(self) -> NDArray[np.bool_]:
        """Shape ``(J,)``: nothing was found and nothing is known of the cause."""
        unknown = (self.label < 0) & (self.belief < 0)
        return np.asarray(unknown & ~self.answers.any(axis=0))

    def taking(self, jobs: IntArray | slice | NDArray[np.bool_]) -> "JobColumns":
        """Some of the jobs."""
        return JobColumns(
            answers=self.answers[:, jobs],
            label=self.label[jobs],
            reliability=self.reliability[jobs],
            weight=self.weight[jobs],
            belief=self.belief[jobs],
            beliefs=self.beliefs,
            left_out=self.left_out,
        )

    def split(self, parts: int) -> "tuple[JobColumns, ...]":
        """Shards of about equal size, in order."""
        edges = np.linspace(0, len(self), parts + 1).astype(int)
        return tuple(self.taking(slice(int(a), int(b))) for a, b in pairwise(edges))


def layout_for(jobs: Iterable[ClosedJob], network: FaultNetwork) -> Layout:
    """Layout of a network that lists every set of causes these jobs confirm."""
    compiled = CompiledNetwork(network)
    sets = {frozenset(cause.mode for cause in job.causes) for job in jobs}
    return Layout(network, extra_sets=(modes for modes in sets if _is_possible(compiled, modes)))


def columns_of(
    jobs: Sequence[ClosedJob], layout: Layout, settings: LearningSettings, as_of: datetime
) -> JobColumns:
    """Columns of closed jobs of one network.

    Observations, answers and causes that the network no longer has are left out and counted.

    Parameters
    ----------
    jobs : sequence of ClosedJob
    layout : Layout
        Of ``layout_for``.
    settings : LearningSettings
    as_of : datetime
        The present, from which the age of a job counts.
    """
    left_out: Counter[str] = Counter()
    kept, labels, beliefs = [], [], []
    rows: list[FloatArray] = []
    for job in jobs:
        label, belief = _cause(job, layout)
        if label is None and belief is None and (job.causes or job.suspected):
            left_out["jobs whose cause the network does not have"] += 1
            continue
        if settings.closure_rates and label is None:
            left_out["jobs without a confirmed cause, closure rates being given"] += 1
            continue
        kept.append(job)
        labels.append(-1 if label is None else label)
        beliefs.append(-1 if belief is None else len(rows))
        rows += [] if belief is None else [belief]
    answers = np.zeros((len(layout.compiled.observations), len(kept)), dtype=np.int8)
    for column, job in enumerate(kept):
        _write_answers(answers[:, column], job, layout, left_out)
    hypotheses = len(layout.members)
    return JobColumns(
        answers=answers,
        label=np.array(labels, dtype=np.int64),
        reliability=np.array([label_reliability(job, settings, as_of) for job in kept]),
        weight=job_weights(kept, settings, as_of),
        belief=np.array(beliefs, dtype=np.int64),
        beliefs=np.array(rows).reshape(len(rows), hypotheses),
        left_out=MappingProxyType(dict(left_out)),
    )


def label_reliability(job: ClosedJob, settings: LearningSettings, as_of: datetime) -> float:
    """P(the confirmed causes are right), from how they were confirmed and from calls back."""
    by_degree = {
        Confirmation.VERIFIED: 1.0,
        Confirmation.JUDGED: settings.judged_reliability,
        Confirmation.GUESSED: settings.guessed_reliability,
    }
    right = min((by_degree[cause.confirmation] for cause in job.causes), default=1.0)
    call_back = job.call_back
    if call_back is not None and call_back.days <= settings.call_back_days:
        is_same = call_back.complaint is Complaint.SAME
        if_right, if_wrong = settings.call_back_same if is_same else settings.call_back_new
        # A check run that was passed does not exclude that the complaint comes back.
        right = min(right, 1.0 - (1.0 - settings.judged_reliability) / 2.0) if is_same else right
    elif (as_of - job.closed_at).days >= settings.call_back_days:
        if_right = 1.0 - settings.call_back_same[0] - settings.call_back_new[0]
        if_wrong = 1.0 - settings.call_back_same[1] - settings.call_back_new[1]
    else:
        return right
    return right * if_right / (right * if_right + (1.0 - right) * if_wrong)


def job_weights(
    jobs: Sequence[ClosedJob], settings: LearningSettings, as_of: datetime
) -> FloatArray:
    """Weight of each job: halved per half-life; one over its closure rate, where rates are given.

    Closure weights are scaled to a mean of 1, so that jobs stay jobs.
    """
    ages = np.array([(as_of - job.closed_at).total_seconds() / 86400.0 for job in jobs])
    weight = np.ones(len(jobs))
    if settings.half_life_months is not None:
        weight *= decay(np.maximum(ages, 0.0) / DAYS_A_MONTH, settings.half_life_months)
    if settings.closure_rates and len(jobs) > 0:
        rates = [
            min((settings.closure_rates.get(cause.mode, 1.0) for cause in job.causes), default=1.0)
            for job in jobs
        ]
        weight *= closure_weights(np.array(rates))
    return weight


def decay(age_months: FloatArray, half_life_months: float) -> FloatArray:
    """Weight of jobs of that age; counts decay toward the prior, which itself does not."""
    return np.asarray(0.5 ** (age_months / half_life_months))


def closure_weights(rates: FloatArray) -> FloatArray:
    """One over the rate at which such a call closes with its cause known, scaled to mean 1."""
    weights = 1.0 / rates
    return np.asarray(weights / weights.mean())


def _cause(job: ClosedJob, layout: Layout) -> tuple[int | None, FloatArray | None]:
    """Confirmed hypothesis or likelihood over hypotheses; neither if the cause is not known."""
    known = layout.compiled.mode_position
    if job.causes:
        if any(cause.mode not in known for cause in job.causes):
            return None, None
        return layout.row(cause.mode for cause in job.causes), None
    if job.suspected:
        if any(mode not in known for mode in job.suspected):
            return None, None
        rest = max(0.0, 1.0 - sum(job.suspected.values()))
        belief = np.full(len(layout.members), rest / len(layout.members))
        for mode, weight in job.suspected.items():
            row = layout.row([mode])
            assert row is not None  # every single mode is listed
            belief[row] += weight
        return None, belief
    if job.outcome is Outcome.NO_FAULT_FOUND and layout.nothing_failed.any():
        return None, layout.nothing_failed.astype(np.float64)
    return None, None


def _write_answers(
    column: NDArray[np.int8], job: ClosedJob, layout: Layout, left_out: Counter[str]
) -> None:
    position = {name: place for place, name in enumerate(layout.compiled.observation_ids)}
    verified = all(cause.confirmation is Confirmation.VERIFIED for cause in job.causes)
    circular = set() if verified and job.causes else set(job.chose_diagnosis)
    for finding in job.findings:
        place = position.get(finding.observation)
        if place is None:
            left_out["findings of observations the network does not have"] += 1
        elif finding.observation in circular:
            left_out["findings that chose a diagnosis nobody checked"] += 1
        else:
            try:
                column[place] = layout.code(place, finding.answer)
            except UnknownAnswerError:
                left_out["findings with answers the network does not have"] += 1


def _is_possible(compiled: CompiledNetwork, modes: frozenset[str]) -> bool:
    """Whether these modes can have failed together: one a component, nothing else if exclusive."""
    if not modes or any(mode not in compiled.mode_position for mode in modes):
        return False
    places = [compiled.mode_position[mode] for mode in modes]
    components = {int(compiled.component_of_mode[place]) for place in places}
    is_alone = any(compiled.is_exclusive[place] for place in places)
    return len(components) == len(places) and (len(places) == 1 or not is_alone)
