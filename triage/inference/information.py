"""Information in bits and weight of evidence in decibans, on plain arrays.

**Expected information gain** is the mutual information of a hypothesis and an answer not yet known
[Lindley1956]_: how far, on average, the answer lowers the entropy of the hypothesis. About
*classes* of hypotheses (which repair?) it is never more than about the hypotheses themselves.

**Weight of evidence** is ten times the decimal logarithm of a ratio of odds or likelihoods
[Good1950]_; the unit is the deciban, and 10 decibans multiply the odds by 10.

Axes: ``F`` hypotheses (failure modes), ``S`` signs or observations, ``A`` answers. ``0 log 0`` is
0, exactly; no number is ever moved away from zero to make a logarithm work.

>>> float(expected_information_gain(np.array([0.5, 0.5]), np.array([[[1.0, 0.0], [0.0, 1.0]]]))[0])
1.0
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def plogp(probability: FloatArray) -> FloatArray:
    """``p log2 p`` element by element, exactly 0 where ``p`` is 0; same shape, bits."""
    log = np.log2(probability, where=probability > 0, out=np.zeros_like(probability))
    result: FloatArray = probability * log
    return result


def entropy_bits(probabilities: ArrayLike, axis: int = -1) -> FloatArray:
    """Entropy of distributions along ``axis``, in bits: ``-sum p log2 p`` [CoverThomas2006]_.

    Parameters
    ----------
    probabilities : array_like
        Sums to 1 along ``axis``.
    axis : int
        Axis of the outcomes; it disappears.

    Returns
    -------
    FloatArray
        Bits, between 0 and the logarithm of the number of outcomes.
    """
    return np.asarray(-plogp(np.asarray(probabilities, dtype=np.float64)).sum(axis=axis))


def mutual_information_bits(joint: FloatArray) -> FloatArray:
    """Mutual information of the last two axes, in bits.

    Parameters
    ----------
    joint : FloatArray
        ``p(f, a)``, shape ``(..., F, A)``, sums to 1 over the last two axes.

    Returns
    -------
    FloatArray
        Shape ``(...)``, bits. Rounding can leave it a few ``1e-17`` below 0.
    """
    hypothesis = joint.sum(axis=-1, keepdims=True)  # (..., F, 1)  p(f)
    answer = joint.sum(axis=-2, keepdims=True)  # (..., 1, A)  p(a)
    independent = hypothesis * answer  # (..., F, A)  p(f) p(a)
    ratio = np.divide(joint, independent, where=joint > 0, out=np.ones_like(joint))
    return np.asarray((joint * np.log2(ratio)).sum(axis=(-2, -1)))


def expected_information_gain(prior: FloatArray, likelihood: FloatArray) -> FloatArray:
    """Information each observation is expected to give about the hypothesis, in bits.

    Parameters
    ----------
    prior : FloatArray
        ``p(f)`` before asking, shape ``(F,)``, sums to 1.
    likelihood : FloatArray
        ``p(a | f)`` of each observation, shape ``(S, F, A)``; rows sum to 1. An observation with
        fewer answers than others is filled up with answers of probability 0.

    Returns
    -------
    FloatArray
        Shape ``(S,)``, bits, between 0 and the entropy of ``prior`` up to rounding.
    """
    return mutual_information_bits(prior[:, None] * likelihood)


def information_gain_of_classes(
    prior: FloatArray, likelihood: FloatArray, classes: NDArray[np.integer]
) -> FloatArray:
    """Information each observation is expected to give about the class of the hypothesis, in bits.

    Parameters
    ----------
    prior, likelihood : FloatArray
        As for `expected_information_gain`, shapes ``(F,)`` and ``(S, F, A)``.
    classes : NDArray[np.integer]
        Class of each hypothesis, shape ``(F,)``; for example, the repair that would be done.

    Returns
    -------
    FloatArray
        Shape ``(S,)``, bits, at most the gain about the hypothesis.
    """
    members = (np.unique(classes)[:, None] == classes).astype(np.float64)  # (C, F)
    return mutual_information_bits(members @ (prior[:, None] * likelihood))  # (S, C, A) -> (S,)


def decibans(ratio: ArrayLike) -> FloatArray:
    """Weight of evidence of a likelihood or odds ratio, in decibans: ``10 log10(ratio)``.

    A ratio of 0 refutes (minus infinity), an infinite one proves.
    """
    with np.errstate(divide="ignore"):  # the logarithm of 0 is meant
        return np.asarray(10.0 * np.log10(np.asarray(ratio, dtype=np.float64)))


def generalized_bayes_factor(prior: float, posterior: float) -> float:
    """How much more likely the evidence is if the explanation holds than if it does not.

    ``P(e | x) / P(e | not x)``, which is posterior odds over prior odds [YuanLimLu2011]_.

    Parameters
    ----------
    prior, posterior : float
        Probability of the explanation before and after the evidence; ``0 < prior < 1``.

    Returns
    -------
    float
        Ratio; infinite if the explanation became certain.
    """
    refuted = (1.0 - posterior) * prior
    return float("inf") if refuted == 0 else posterior * (1.0 - prior) / refuted
