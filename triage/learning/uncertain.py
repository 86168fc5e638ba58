"""What jobs tell about causes and circumstances when some of these are not known.

The information of a hidden choice is what it would be if it were seen, less its variance given the
findings [Louis1982]_.

Axes: ``C`` context combinations, ``F`` failure modes, ``H`` hypotheses, ``Q`` patterns of answers
about contexts.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from triage.learning.estimation import Learned
from triage.learning.model import Model
from triage.learning.parameters import Place
from triage.learning.unit_evidence import pair_shares, prior_weights

FloatArray = NDArray[np.float64]

PAIRS_AT_ONCE = 20_000  # of uncertain job and hypothesis


def known_shares(learned: Learned, model: Model) -> FloatArray:
    """Jobs that each share is worth, the prior's weight among them, shape ``(F,)``."""
    shares = learned.parameters.shares
    complete = np.diag(shares) - np.outer(shares, shares)  # (F, F), of one job
    told = learned.job_weight * complete
    for weight, parts, mean in _uncertain(learned, model):
        told -= np.einsum("p,pf,pg->fg", weight, parts, parts, optimize=True)
        told += mean
    free = np.delete(np.arange(len(shares)), int(np.argmax(shares)))
    prior = learned.belief.share_jobs * complete
    covariance = covariance_of(prior[np.ix_(free, free)], told[np.ix_(free, free)])
    slopes = (np.diag(shares) - np.outer(shares, shares))[:, free]  # (F, F-1)
    variance = np.einsum("fa,ab,fb->f", slopes, covariance, slopes, optimize=True)
    most = learned.belief.share_jobs + learned.job_weight
    return np.asarray(np.minimum(shares * (1.0 - shares) / variance, most))


def known_causes(learned: Learned, model: Model) -> FloatArray:
    """Cases of each cause that are as good as seen, by context combination, ``(C, F)``."""
    expected = learned.expected.prior @ learned.layout.parts  # (C, F)
    missing = np.zeros(expected.shape[1])
    for weight, parts, mean in _uncertain(learned, model):
        missing += weight @ parts**2 - np.diag(mean)
    total = expected.sum(axis=0)
    known = 1.0 - np.divide(missing, total, out=np.zeros_like(total), where=total > 0.0)
    return np.asarray(expected * np.clip(known, 0.0, 1.0))


def known_cases(learned: Learned, model: Model, contexts: FloatArray) -> dict[Place, float]:
    """Cases of each multiplier of which cause and circumstance are as good as seen.

    ``contexts`` are those of ``known_contexts``.
    """
    known, ids = known_causes(learned, model), learned.layout.compiled.context_ids
    return {
        key: cases * float(contexts[ids.index(key[1])])
        for key, cases in _by_multiplier(learned, known).items()
    }


def counted_cases(learned: Learned) -> dict[Place, float]:
    """Expected cases of each multiplier."""
    return _by_multiplier(learned, learned.expected.prior @ learned.layout.parts)


def _by_multiplier(learned: Learned, parts: FloatArray) -> dict[Place, float]:
    """Sum of the parts (C, F) of a cause over the combinations of a circumstance."""
    layout, position = learned.layout, learned.layout.compiled.mode_position
    return {
        (mode, context, value): float(
            parts[layout.combinations(context, value), position[mode]].sum()
        )
        for mode, context, value in learned.parameters.multipliers
    }


def known_contexts(learned: Learned, model: Model) -> FloatArray:
    """Part of the jobs that is as good as told each circumstance, one number for each."""
    compiled, now = learned.layout.compiled, learned.parameters.contexts
    missing = np.zeros(len(now))
    shown = [int(np.argmax(before)) for before in learned.belief.mean.contexts]
    for shard in learned.shards:
        cells = shard.prior
        likelihood = model.context_likelihood(cells.codes)  # (Q, C)
        given = likelihood[cells.pattern] * model.joint[:, cells.hypothesis].T  # (cells, C)
        given /= given.sum(axis=1, keepdims=True)
        weight = prior_weights(model, shard)
        for place in range(len(now)):
            chance = given @ (compiled.context_values[:, place] == shown[place])
            missing[place] += weight @ (chance * (1.0 - chance))
    figures = np.array([values[k] for values, k in zip(now, shown, strict=True)])
    complete = learned.job_weight * figures * (1.0 - figures)
    known = 1.0 - np.divide(missing, complete, out=np.ones_like(missing), where=complete > 0.0)
    return np.asarray(np.clip(known, 0.0, 1.0))


def covariance_of(prior: FloatArray, told: FloatArray) -> FloatArray:
    """Inverse of prior and told information; findings never tell less than nothing.

    Where the objective is not concave, as it may be between two explanations of the same findings,
    the directions that would lower the prior's information are left to the prior.
    """
    root = np.linalg.cholesky(prior)
    scaled = np.linalg.solve(root, np.linalg.solve(root, told).T)
    values, vectors = np.linalg.eigh((scaled + scaled.T) / 2.0)
    axes = np.linalg.solve(root.T, vectors)
    return np.asarray((axes / (1.0 + np.maximum(values, 0.0))) @ axes.T)


def _uncertain(
    learned: Learned, model: Model
) -> Iterator[tuple[FloatArray, FloatArray, FloatArray]]:
    """Weight (pairs,) and parts (pairs, F) of the pairs of some uncertain jobs, and a sum (F, F).

    The sum is that over jobs of weight times the outer product of their mean part.
    """
    parts = learned.layout.parts
    for shard in learned.shards:
        candidates = shard.candidates
        if len(candidates.first) == 0:
            continue
        share, job = pair_shares(model, shard)
        ends = np.append(candidates.first[1:], len(share))
        start = 0
        while start < len(candidates.first):
            first = int(candidates.first[start])
            stop = int(np.searchsorted(ends, first + PAIRS_AT_ONCE, side="right"))
            stop = max(stop, start + 1)
            some = slice(first, int(ends[stop - 1]))
            own = parts[candidates.hypothesis[some]]  # (pairs, F)
            mean = np.add.reduceat(share[some, None] * own, candidates.first[start:stop] - first)
            weight = candidates.weight[start:stop]
            yield share[some] * candidates.weight[job[some]], own, (mean * weight[:, None]).T @ mean
            start = stop
