"""Partial pooling: what several appliance kinds tell about the strengths they share.

Networks built from the same fragments have links of the same sign and failure mode. Their true
values are taken to scatter around a common one: Dirichlet with precision ``kappa``, estimated from
the counts of all shared links by their marginal likelihood (empirical Bayes, [GelmanEtAl2013]_
chapter 5). A kind then believes, before its own jobs, in

    mean    (s m + sum of n') / (s + sum of N'),    n' = n kappa / (kappa + N) of each other kind
    weight  kappa (s + sum of N') / (kappa + s + sum of N'),    jobs

where ``s m`` is the network's own statement. If that is worth less than ``s``, nothing is pooled.

Axes: ``G`` groups, ``V`` states.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.learning.estimation import Learned, learn
from triage.learning.layout import Layout
from triage.learning.maximisation import PriorBelief
from triage.learning.patterns import Shard
from triage.learning.values import LearningSettings

FloatArray = NDArray[np.float64]
LinkKey = tuple[str, str, tuple[str, ...]]  # sign, failure mode ("" for the leak), states

KAPPAS = tuple(float(value) for value in np.geomspace(3.0, 3000.0, 31))


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """Networks learned together; ``kappa`` is None where no link is shared with enough counts."""

    learned: Mapping[str, Learned]
    kappa: float | None


def learn_together(
    kinds: Mapping[str, tuple[Layout, Sequence[Shard]]], settings: LearningSettings
) -> Pooled:
    """Learn several networks, each with what the others tell about shared links.

    Parameters
    ----------
    kinds : mapping
        Layout and shards by network id.
    settings : LearningSettings
    """
    alone = {name: learn(layout, shards, settings) for name, (layout, shards) in kinds.items()}
    counts = {name: _counts(learned) for name, learned in alone.items()}
    shared = _shared(counts)
    if not shared:
        return Pooled(alone, None)
    kappa = estimated_kappa([np.array(list(found.values())) for found in shared.values()])
    learned = {
        name: learn(
            layout,
            shards,
            settings,
            belief=_pooled_belief(alone[name], name, shared, kappa),
        )
        for name, (layout, shards) in kinds.items()
    }
    return Pooled(learned, kappa)


def estimated_kappa(groups: Sequence[FloatArray]) -> float:
    """Precision of the scatter between kinds that makes the counts most probable.

    Parameters
    ----------
    groups : sequence of ndarray
        For each shared link ``(G, V)`` counts by kind.

    Notes
    -----
    The common mean of a link is that of its own counts, which makes kinds look closer to each other
    than they are; as with a variance, (G - 1) / G of the precision is right.
    """
    scores = [sum(_log_marginal(counts, kappa) for counts in groups) for kappa in KAPPAS]
    kinds = float(np.mean([len(counts) for counts in groups]))
    return KAPPAS[int(np.argmax(scores))] * (kinds - 1.0) / kinds


def beta_from_moments(mean: float, sd: float) -> tuple[float, float]:
    """Parameters of the Beta distribution with this mean and standard deviation."""
    precision = mean * (1.0 - mean) / sd**2 - 1.0
    return mean * precision, (1.0 - mean) * precision


def beta_binomial_moments(successes: FloatArray, trials: FloatArray) -> tuple[float, float]:
    """Beta prior of a population of rates, from the mean and sd of the raw rates (G,)."""
    rates = successes / trials
    return beta_from_moments(float(rates.mean()), float(rates.std(ddof=1)))


def pooled_rates(hits: FloatArray, trials: FloatArray) -> FloatArray:
    """Rates of groups (G,), each pulled toward the mean of all as far as groups are alike.

    For rates that are not numbers of a network: call backs by drive type or age, first visits by
    person. Each is the posterior mean under the Beta prior of the population; where groups do not
    differ by more than chance would make them, all have the common rate.
    """
    common = float(hits.sum() / trials.sum())
    rates = hits / trials
    by_chance = common * (1.0 - common) * float((1.0 / trials).mean())
    variance = float(rates.var(ddof=1)) - by_chance
    if variance <= 0.0:
        return np.full(len(rates), common)
    alpha, beta = beta_from_moments(common, variance**0.5)
    return np.asarray((alpha + hits) / (alpha + beta + trials))


def _log_marginal(counts: FloatArray, kappa: float) -> float:
    """Log Dirichlet-multinomial probability of ``(G, V)`` counts around their common mean."""
    from scipy.special import gammaln

    mean = counts.sum(axis=0) / counts.sum()
    used = mean > 0.0
    prior = kappa * mean[used]
    totals = counts.sum(axis=1)
    result = gammaln(kappa) - gammaln(kappa + totals)
    result += (gammaln(prior + counts[:, used]) - gammaln(prior)).sum(axis=1)
    return float(result.sum())


def _counts(learned: Learned) -> dict[LinkKey, FloatArray]:
    """Expected counts of every link of noisy signs that was met at all."""
    found = {}
    ids = learned.layout.compiled.mode_ids
    signs = learned.layout.network.signs.values()
    for sign, layout, counts in zip(
        signs, learned.layout.signs, learned.expected.links, strict=True
    ):
        if not layout.is_table:
            names = ["", *(ids[mode] for mode in layout.parents)]
            for name, row in zip(names, counts, strict=True):
                if row.sum() > 0.0:
                    found[sign.id, name, sign.states] = row
    return found


def _shared(
    counts: Mapping[str, Mapping[LinkKey, FloatArray]],
) -> dict[LinkKey, dict[str, FloatArray]]:
    """Counts by kind of every link met in more than one kind."""
    by_key: dict[LinkKey, dict[str, FloatArray]] = {}
    for name, found in counts.items():
        for key, row in found.items():
            by_key.setdefault(key, {})[name] = row
    return {key: found for key, found in by_key.items() if len(found) > 1}


def _pooled_belief(
    alone: Learned,
    name: str,
    shared: Mapping[LinkKey, Mapping[str, FloatArray]],
    kappa: float,
) -> PriorBelief:
    belief, ids = alone.belief, alone.layout.compiled.mode_ids
    links, weights = [], []
    for sign, layout, rows, jobs in zip(
        alone.layout.network.signs.values(),
        alone.layout.signs,
        belief.mean.links,
        belief.links_jobs,
        strict=True,
    ):
        names = ["", *(ids[mode] for mode in layout.parents)]
        rows, jobs = rows.copy(), jobs.copy()
        for place, mode in enumerate(() if layout.is_table else names):
            others = [
                row * kappa / (kappa + row.sum())
                for kind, row in shared.get((sign.id, mode, sign.states), {}).items()
                if kind != name
            ]
            if others:
                rows[place], jobs[place] = _pooled_row(
                    rows[place], float(jobs[place]), np.sum(others, axis=0), kappa
                )
        links.append(rows)
        weights.append(jobs)
    return replace(belief, mean=replace(belief.mean, links=tuple(links)), links_jobs=tuple(weights))


def _pooled_row(
    mean: FloatArray, jobs: float, others: FloatArray, kappa: float
) -> tuple[FloatArray, float]:
    known = jobs + others.sum()
    weight = kappa * known / (kappa + known)
    if weight <= jobs:
        return mean, jobs
    return (jobs * mean + others) / known, weight
