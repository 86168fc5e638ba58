"""Quickscore [Heckerman1989]_: hard findings in a two-layer noisy-OR network, exactly.

An oracle for tests only: terms near 1 of both signs add up to P(findings), so that float64 loses
all its digits at about 16 positive findings.
"""

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def quickscore(
    priors: FloatArray, links: FloatArray, leaks: FloatArray, findings: NDArray[np.bool_]
) -> tuple[float, FloatArray]:
    """Probability of the findings and posterior of each cause.

    ``priors (N,)``, net ``links (F, N)``, ``leaks (F,)``, ``findings (F,)`` present or absent.
    """
    positive = np.flatnonzero(findings)
    total, with_cause = 0.0, np.zeros(len(priors))
    for size in range(len(positive) + 1):
        for chosen in combinations(positive, size):
            silent = ~findings
            silent[list(chosen)] = True
            sign = (-1.0) ** size * (1 - leaks[silent]).prod()
            present = priors * (1 - links[silent]).prod(axis=0)  # (N,)
            either = 1 - priors + present  # (N,)
            total += sign * either.prod()
            with_cause += sign * present * either.prod() / either
    return total, with_cause / total
