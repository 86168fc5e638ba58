"""Honest scores of a network on closed jobs, as values that pages and commands show.

Every job is forecast by what was learned from the jobs before it (``triage.learning.prequential``).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.learning.drift import page_test
from triage.learning.pooling import KindJobs
from triage.learning.prequential import Scored, grouped, keys_of, month_of, score_closed_jobs
from triage.learning.scores import (
    BrierParts,
    Difference,
    ReliabilityBin,
    ShareInterval,
    brier_parts,
    expected_calibration_error,
    hits_within,
    paired_difference,
    reliability_bins,
)
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork

SEED = 20260101  # of the bootstrap: the same jobs give the same interval
GROUP_MIN = 5  # jobs; fewer in a group say nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """Scores of some jobs; bits are means of surprise a job, less is better.

    ``against_frozen`` and ``against_base`` are differences of the learned network to the one that
    came with the program and to the base rates; below 0 the learned one is better.
    """

    jobs: int
    learned_bits: float
    frozen_bits: float
    base_bits: float
    against_frozen: Difference
    against_base: Difference
    brier: BrierParts
    bins: tuple[ReliabilityBin, ...]
    calibration_error: float
    top_1: ShareInterval
    top_3: ShareInterval


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupScores:
    """Scores of a person's or a month's jobs."""

    name: str
    jobs: int
    learned_bits: float
    frozen_bits: float
    top_1: ShareInterval
    top_3: ShareInterval


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkScores:
    """Scores of one network; ``overall`` is None if no job had a confirmed cause.

    ``drift_alarm`` names the day and the job at which the network stopped fitting, if it did;
    ``not_scored`` counts the jobs without a confirmed cause.
    """

    network_id: str
    title: str
    overall: Scores | None
    not_scored: int
    by_person: tuple[GroupScores, ...]
    by_month: tuple[GroupScores, ...]
    drift_alarm: str
    drift_sums: tuple[float, ...]


def network_scores(
    network: FaultNetwork,
    jobs: Sequence[ClosedJob],
    settings: LearningSettings,
    others: Sequence[KindJobs] = (),
) -> NetworkScores:
    """Score one network, from before any job was counted, on its closed jobs.

    ``others`` are the other kinds it is learned with.
    """
    ordered, scored = score_closed_jobs(network, jobs, settings, others=others)
    drift = page_test(scored.excess)
    alarm = ""
    if drift.alarm_at is not None:
        job = ordered[scored.jobs[drift.alarm_at]]
        alarm = f"{job.closed_at:%Y-%m-%d}, job {job.id}"
    return NetworkScores(
        network_id=network.id,
        title=network.title,
        overall=scores_of(scored) if len(scored) > 0 else None,
        not_scored=len(jobs) - len(scored),
        by_person=_groups(ordered, scored, lambda job: job.person or "nobody named"),
        by_month=_groups(ordered, scored, month_of),
        drift_alarm=alarm,
        drift_sums=tuple(round(float(value), 4) for value in drift.sums),
    )


def scores_of(scored: Scored) -> Scores:
    """Scores of jobs, with a bootstrap that is the same every time."""
    rng = np.random.default_rng(SEED)
    probability, happened = scored.probability.ravel(), scored.happened.ravel()
    bins = reliability_bins(probability, happened)
    return Scores(
        jobs=len(scored),
        learned_bits=float(scored.learned_bits.mean()),
        frozen_bits=float(scored.frozen_bits.mean()),
        base_bits=float(scored.base_bits.mean()),
        against_frozen=paired_difference(scored.learned_bits, scored.frozen_bits, rng),
        against_base=paired_difference(scored.learned_bits, scored.base_bits, rng),
        brier=brier_parts(probability, happened),
        bins=bins,
        calibration_error=expected_calibration_error(bins),
        top_1=hits_within(scored.rank, 1),
        top_3=hits_within(scored.rank, 3),
    )


def _groups(
    jobs: Sequence[ClosedJob], scored: Scored, key: Callable[[ClosedJob], str]
) -> tuple[GroupScores, ...]:
    groups = grouped(scored, keys_of(jobs, scored, key))
    return tuple(
        GroupScores(
            name=name,
            jobs=len(own),
            learned_bits=float(own.learned_bits.mean()),
            frozen_bits=float(own.frozen_bits.mean()),
            top_1=hits_within(own.rank, 1),
            top_3=hits_within(own.rank, 3),
        )
        for name, own in groups.items()
        if len(own) >= GROUP_MIN
    )


def scores_as_json(found: NetworkScores) -> dict[str, Any]:
    """Scores as plain values; keys are stable (docs/json.md)."""
    return {
        "network": found.network_id,
        "title": found.title,
        "not_scored": found.not_scored,
        "overall": None if found.overall is None else _overall_as_json(found.overall),
        "by_person": [_group_as_json(one) for one in found.by_person],
        "by_month": [_group_as_json(one) for one in found.by_month],
        "drift_alarm": found.drift_alarm or None,
        "drift_sums": list(found.drift_sums),
    }


def _overall_as_json(found: Scores) -> dict[str, Any]:
    return {
        "jobs": found.jobs,
        "learned_bits": found.learned_bits,
        "frozen_bits": found.frozen_bits,
        "base_bits": found.base_bits,
        "against_frozen": _difference_as_json(found.against_frozen),
        "against_base": _difference_as_json(found.against_base),
        "brier": {
            "score": found.brier.score,
            "reliability": found.brier.reliability,
            "resolution": found.brier.resolution,
            "uncertainty": found.brier.uncertainty,
            "within": found.brier.within,
        },
        "calibration_error": found.calibration_error,
        "bins": [
            {
                "low": one.low,
                "high": one.high,
                "count": one.count,
                "mean_probability": one.mean_probability,
                "observed": share_as_json(one.observed),
            }
            for one in found.bins
        ],
        "top_1": share_as_json(found.top_1),
        "top_3": share_as_json(found.top_3),
    }


def _group_as_json(one: GroupScores) -> dict[str, Any]:
    return {
        "name": one.name,
        "jobs": one.jobs,
        "learned_bits": one.learned_bits,
        "frozen_bits": one.frozen_bits,
        "top_1": share_as_json(one.top_1),
        "top_3": share_as_json(one.top_3),
    }


def share_as_json(share: ShareInterval) -> dict[str, float]:
    """Share with its interval."""
    return {"value": share.value, "low": share.low, "high": share.high}


def _difference_as_json(found: Difference) -> dict[str, float]:
    return {"mean": found.mean, "low": found.low, "high": found.high}


def scores_from_json(kept: Mapping[str, Any]) -> NetworkScores:
    """Scores as they were before they were stored."""
    overall = kept["overall"]
    return NetworkScores(
        network_id=kept["network"],
        title=kept["title"],
        overall=None if overall is None else _overall_from_json(overall),
        not_scored=kept["not_scored"],
        by_person=tuple(_group_from_json(one) for one in kept["by_person"]),
        by_month=tuple(_group_from_json(one) for one in kept["by_month"]),
        drift_alarm=kept["drift_alarm"] or "",
        drift_sums=tuple(kept["drift_sums"]),
    )


def _overall_from_json(kept: Mapping[str, Any]) -> Scores:
    brier = {name: value for name, value in kept["brier"].items() if name != "score"}
    return Scores(
        jobs=kept["jobs"],
        learned_bits=kept["learned_bits"],
        frozen_bits=kept["frozen_bits"],
        base_bits=kept["base_bits"],
        against_frozen=Difference(**kept["against_frozen"]),
        against_base=Difference(**kept["against_base"]),
        brier=BrierParts(**brier),
        bins=tuple(
            ReliabilityBin(**{**one, "observed": ShareInterval(**one["observed"])})
            for one in kept["bins"]
        ),
        calibration_error=kept["calibration_error"],
        top_1=ShareInterval(**kept["top_1"]),
        top_3=ShareInterval(**kept["top_3"]),
    )


def _group_from_json(kept: Mapping[str, Any]) -> GroupScores:
    shares = {name: ShareInterval(**kept[name]) for name in ("top_1", "top_3")}
    return GroupScores(**{**kept, **shares})
