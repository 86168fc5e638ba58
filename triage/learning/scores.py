"""How good probabilities were: log score, Brier score and its parts, reliability, hits.

The log score of a forecast is -log2 of the probability it gave to what happened: bits of surprise,
0 at best. The Brier score of yes-no forecasts is the mean squared difference from 0 or 1. Over
bins it splits [Murphy1973]_ into

    reliability - resolution + uncertainty + within,

where ``within`` is what is left because forecasts of one bin differ [StephensonEtAl2008]_; the sum
is exact. Intervals of shares are Wilson's [Wilson1927]_.

Axes: ``N`` forecasts, ``B`` bins.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

TEN_BINS = tuple(k / 10.0 for k in range(11))
QUANTILE_95 = 1.959963984540054  # of the normal distribution


@dataclass(frozen=True, slots=True)
class ShareInterval:
    """A share with its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class BrierParts:
    """Parts of a Brier score; ``score`` is their sum."""

    reliability: float
    resolution: float
    uncertainty: float
    within: float

    @property
    def score(self) -> float:
        """Mean squared difference of forecast and outcome."""
        return self.reliability - self.resolution + self.uncertainty + self.within


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Forecasts from ``low`` up to ``high``: how many, their mean, and how often it came true."""

    low: float
    high: float
    count: int
    mean_probability: float
    observed: ShareInterval


@dataclass(frozen=True, slots=True)
class Difference:
    """Mean of paired differences with its 95 % interval."""

    mean: float
    low: float
    high: float


def log_score_bits(probability: FloatArray) -> FloatArray:
    """Bits of surprise, shape ``(N,)``, of the probabilities given to what happened."""
    with np.errstate(divide="ignore"):
        return np.asarray(-np.log2(probability))


def brier_score(probability: FloatArray, outcome: BoolArray) -> float:
    """Mean squared difference of yes-no forecasts (N,) from what happened (N,)."""
    return float(np.mean((probability - outcome) ** 2))


def brier_parts(
    probability: FloatArray, outcome: BoolArray, edges: Sequence[float] = TEN_BINS
) -> BrierParts:
    """Split a Brier score over bins between ``edges``; without edges, by distinct forecast."""
    bins = bin_numbers(probability, edges)
    count = np.bincount(bins)
    used = count > 0
    count = count[used]
    happened = np.bincount(bins, outcome)[used] / count
    forecast = np.bincount(bins, probability)[used] / count
    base = float(np.mean(outcome))
    share = count / len(outcome)
    reliability = float(share @ (forecast - happened) ** 2)
    resolution = float(share @ (happened - base) ** 2)
    uncertainty = base * (1.0 - base)
    rest = brier_score(probability, outcome) - (reliability - resolution + uncertainty)
    return BrierParts(reliability, resolution, uncertainty, rest)


def reliability_bins(
    probability: FloatArray, outcome: BoolArray, edges: Sequence[float] = TEN_BINS
) -> tuple[ReliabilityBin, ...]:
    """Bins of a reliability diagram that hold forecasts, with counts and intervals."""
    bins = bin_numbers(probability, edges)
    found = []
    for number in np.unique(bins):
        inside = bins == number
        found.append(
            ReliabilityBin(
                low=float(edges[number]),
                high=float(edges[number + 1]),
                count=int(inside.sum()),
                mean_probability=float(probability[inside].mean()),
                observed=wilson(int(outcome[inside].sum()), int(inside.sum())),
            )
        )
    return tuple(found)


def expected_calibration_error(bins: Sequence[ReliabilityBin]) -> float:
    """Mean distance of forecast and share, by count; biased upward when bins are thin."""
    total = sum(entry.count for entry in bins)
    gaps = (entry.count * abs(entry.mean_probability - entry.observed.value) for entry in bins)
    return sum(gaps) / total


def bin_numbers(probability: FloatArray, edges: Sequence[float]) -> NDArray[np.int64]:
    """Bin of each forecast, the last edge included; without edges, number of distinct value."""
    if len(edges) == 0:
        return np.asarray(np.unique(probability, return_inverse=True)[1], dtype=np.int64).ravel()
    bins = np.searchsorted(np.asarray(edges), probability, side="right") - 1
    return np.asarray(np.clip(bins, 0, len(edges) - 2), dtype=np.int64)


def wilson(hits: int, count: int) -> ShareInterval:
    """Share with its 95 % interval [Wilson1927]_; of no cases at all nothing is known."""
    if count == 0:
        return ShareInterval(0.0, 0.0, 1.0)
    share, weight = hits / count, QUANTILE_95**2 / count
    middle = share + weight / 2.0
    half = float(np.sqrt(share * (1.0 - share) * weight + weight**2 / 4.0))
    return ShareInterval(
        share,
        max(0.0, (middle - half) / (1.0 + weight)),
        min(1.0, (middle + half) / (1.0 + weight)),
    )


def paired_difference(
    ours: FloatArray, theirs: FloatArray, rng: np.random.Generator, resamples: int = 2000
) -> Difference:
    """Mean of ``ours - theirs`` (N,) with its bootstrap percentile interval [EfronTibshirani1993]_.

    Negative differences of log scores mean that ours are the better forecasts.
    """
    difference = ours - theirs
    count = len(difference)
    means = [float(difference[rng.integers(0, count, count)].mean()) for _ in range(resamples)]
    low, high = np.quantile(means, [0.025, 0.975])
    return Difference(float(difference.mean()), float(low), float(high))


def hits_within(ranks: NDArray[np.int64], first: int) -> ShareInterval:
    """Share of jobs whose cause was among the ``first`` of the list; ranks count from 1."""
    return wilson(int((ranks <= first).sum()), len(ranks))
