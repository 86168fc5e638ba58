"""An alarm when a network no longer fits the jobs that come in.

If the network is right, the surprise ``-log2 P(cause | findings)`` of a job is on average the
entropy of its posterior, with a variance that the posterior also gives. The standardised excess
therefore has mean 0 and variance 1, whatever the mix of easy and hard jobs. Its cumulative sum

    S_t = max(0, S_{t-1} + excess_t - slack)

is Page's test [Page1954]_; it alarms when it passes a threshold.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SLACK = 0.25  # standard deviations a job; half the shift that is to be found soon
THRESHOLD = 16.0  # one false alarm in about 7,500 jobs, simulated with exponential surprise


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """Cumulative sums (J,) and the first job that alarmed, or None."""

    sums: FloatArray
    alarm_at: int | None


def standardised_excess(log_posterior: FloatArray, truth: NDArray[np.int64]) -> FloatArray:
    """Excess surprise of each job in standard deviations, shape ``(J,)``.

    Parameters
    ----------
    log_posterior : ndarray
        ``(J, H)``, nats.
    truth : ndarray
        ``(J,)``, hypothesis that was confirmed.
    """
    weight = np.exp(log_posterior)
    surprise = np.where(weight > 0.0, -log_posterior, 0.0)
    mean = (weight * surprise).sum(axis=1)
    variance = (weight * (surprise - mean[:, None]) ** 2).sum(axis=1)
    own = -log_posterior[np.arange(len(truth)), truth]
    spread = np.sqrt(np.maximum(variance, 0.25))  # a sure posterior has hardly any variance
    return np.asarray((own - mean) / spread)


def page_test(excess: FloatArray, slack: float = SLACK, threshold: float = THRESHOLD) -> Drift:
    """Page's cumulative sum over standardised excesses in the order of the jobs."""
    sums = np.zeros(len(excess))
    level = 0.0
    for place, value in enumerate(excess):
        level = max(0.0, level + float(value) - slack)
        sums[place] = level
    alarms = np.flatnonzero(sums > threshold)
    return Drift(sums, int(alarms[0]) if len(alarms) > 0 else None)
