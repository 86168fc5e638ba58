"""Noisy-OR and noisy-MAX: how several causes act on one effect, independently of each other.

The effect has ordered states, from normal to worst, and shows the worst that any cause or the
**leak** (everything not modelled) produces. So the cumulative distributions multiply
[Henrion1987]_, [Diez1993]_. With two states this is noisy-OR [Pearl1988]_.

Two conventions for the strength of a link are in use, and mixing them up goes unnoticed:

net       what the cause alone does, the leak taken away. This is the one used here.
compound  what is seen when only this cause is present, the leak acting as well.

Axes: ``V`` states of the effect, from normal to worst; ``N`` causes that are present.
"""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def noisy_max(leak: FloatArray, links: FloatArray) -> FloatArray:
    """Distribution of the effect, given which causes are present.

    ``P(Y <= v) = P_leak(Y <= v) prod_i P_i(Y <= v)``.

    Parameters
    ----------
    leak : FloatArray
        Distribution with no cause present, shape ``(V,)``.
    links : FloatArray
        Net distribution each present cause alone would produce, shape ``(N, V)``; ``N`` may be 0.

    Returns
    -------
    FloatArray
        Shape ``(V,)``, sums to what ``leak`` and ``links`` sum to, multiplied: 1.
    """
    cumulative = np.cumsum(leak) * np.cumsum(links, axis=1).prod(axis=0)  # (V,)  P(Y <= v)
    return np.diff(cumulative, prepend=0.0)


def link_from_compound(compound: float, leak: float) -> float:
    """Net link probability of a noisy-OR cause from its compound probability.

    Parameters
    ----------
    compound : float
        ``P(effect | only this cause present)``, leak acting; at least ``leak``, or the cause
        prevents the effect and noisy-OR is the wrong model (the result is negative).
    leak : float
        ``P(effect | no cause present)``, below 1.

    Returns
    -------
    float
        ``(compound - leak) / (1 - leak)`` [Diez1993]_.
    """
    return (compound - leak) / (1.0 - leak)
