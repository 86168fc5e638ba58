"""Minutes of repairs and tests: log-normal, with the network's figure as prior median.

The logarithms of minutes are normal with unknown mean and spread; the conjugate prior
(normal-inverse-gamma, [GelmanEtAl2013]_) is worth ``minutes_jobs`` jobs at the network's median and
at the spread of the settings. The new figure is the posterior median.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork


@dataclass(frozen=True, slots=True, kw_only=True)
class MinutesEstimate:
    """Median minutes of one repair or observation, with a 90 % interval.

    ``jobs`` were timed; the figure before is worth ``prior_jobs``.
    """

    id: str
    before: float
    after: float
    low: float
    high: float
    jobs: int
    prior_jobs: float


def learned_minutes(
    network: FaultNetwork, jobs: Sequence[ClosedJob], settings: LearningSettings
) -> tuple[MinutesEstimate, ...]:
    """Estimate of every repair and observation whose minutes were recorded, in network order."""
    before = {entry.id: entry.minutes for entry in network.observations.values()}
    before |= {entry.id: entry.minutes for entry in network.repairs.values()}
    taken: dict[str, list[float]] = {name: [] for name in before}
    for job in jobs:
        if job.network == network.id:
            for name, minutes in job.minutes.items():
                if name in taken and minutes > 0.0:
                    taken[name].append(minutes)
    return tuple(
        _estimate(name, before[name], found, settings) for name, found in taken.items() if found
    )


def _estimate(
    name: str, before: float, minutes: Sequence[float], settings: LearningSettings
) -> MinutesEstimate:
    from scipy.special import stdtrit  # takes half a second to load

    logs = np.log(minutes)
    count, prior = len(logs), settings.minutes_jobs
    mean, centre = float(logs.mean()), float(np.log(before))
    weight = prior + count
    middle = (prior * centre + count * mean) / weight
    squares = prior * settings.minutes_log_sd**2 + float(((logs - mean) ** 2).sum())
    squares += prior * count / weight * (mean - centre) ** 2
    half = float(stdtrit(weight, 0.95)) * np.sqrt(squares / weight / weight)
    return MinutesEstimate(
        id=name,
        before=before,
        after=float(np.exp(middle)),
        low=float(np.exp(middle - half)),
        high=float(np.exp(middle + half)),
        jobs=count,
        prior_jobs=prior,
    )
