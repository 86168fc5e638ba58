"""Partial pooling: what several appliance kinds tell about the strengths they share.

Networks built from the same fragments have links of the same sign and failure mode. Their true
values are taken to scatter around a common one: Dirichlet with precision ``kappa``, estimated from
the counts of all shared links by their marginal likelihood (empirical Bayes, [GelmanEtAl2013]_
chapter 5). A kind then believes, before its own jobs, in

    mean    (s m + sum of n') / (s + sum of N'),    n' = n kappa / (kappa + N) of each other kind
    weight  kappa (s + sum of N') / (kappa + s + sum of N'),    jobs

where ``s m`` is the network's own statement. If that is worth less than ``s``, nothing is pooled.
Of the weight, the part ``sum of N' / (s + sum of N')`` is what the other kinds lend. What else they
lend: see ``lending``.

Axes: ``G`` groups, ``V`` states.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from triage.learning.belief import PriorBelief
from triage.learning.columns import JobColumns
from triage.learning.estimation import Learned, as_columns, learn, learn_again, learn_from
from triage.learning.layout import Layout
from triage.learning.lending import with_lent
from triage.learning.patterns import shard_of
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]
KindJobs = tuple[FaultNetwork, Sequence[ClosedJob]]  # a network, and closed jobs of it
LinkKey = tuple[str, str, tuple[str, ...]]  # sign, failure mode ("" for the leak), states

KAPPAS = tuple(float(value) for value in np.geomspace(3.0, 3000.0, 31))


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """Networks learned together; ``kappa`` is None where no link is shared with enough counts."""

    learned: Mapping[str, Learned]
    kappa: float | None


def learn_among(
    own: KindJobs, others: Sequence[KindJobs], settings: LearningSettings, as_of: datetime
) -> Learned:
    """Learn one network from its closed jobs and from those of other kinds that share its links.

    Parameters
    ----------
    own : KindJobs
        The network to learn, from before any job was counted, and its jobs.
    others : sequence of KindJobs
        Other kinds; not looked at unless ``settings.learns_together`` holds.
    settings : LearningSettings
    as_of : datetime
        The present.
    """
    network, jobs = own
    others = [(other, found) for other, found in others if found and other.id != network.id]
    if not settings.learns_together or not others:
        return learn_from(network, jobs, settings, as_of)
    found = {kind.id: as_columns(kind, jobs, settings, as_of) for kind, jobs in (own, *others)}
    kinds = {name: (layout, columns) for name, (layout, columns, _) in found.items()}
    pooled = learn_together(kinds, settings, only=[network.id], left_out=found[network.id][2])
    return pooled.learned[network.id]


def learn_together(
    kinds: Mapping[str, tuple[Layout, JobColumns]],
    settings: LearningSettings,
    *,
    only: Collection[str] | None = None,
    left_out: Mapping[str, int] = MappingProxyType({}),
) -> Pooled:
    """Learn several networks, each with what the others tell about shared links.

    Parameters
    ----------
    kinds : mapping
        Layout and columns by network id.
    settings : LearningSettings
    only : collection of str, optional
        Networks that are wanted; all of them if it is left out.
    left_out : mapping
        Passed on to those that are wanted.
    """
    wanted = [name for name in kinds if only is None or name in only]
    alone = {
        name: learn(layout, [shard_of(columns, layout)], settings, left_out=left_out)
        for name, (layout, columns) in kinds.items()
    }
    counts = {name: _counts(learned) for name, learned in alone.items()}
    met = _by_link(counts)
    shared = [np.array(list(found.values())) for found in met.values() if len(found) > 1]
    kappa = estimated_kappa(shared) if shared else None
    learned = {
        name: learn_again(
            alone[name],
            kinds[name][1],
            settings,
            belief=_pooled_belief(alone, name, met, kappa),
            left_out=left_out,
        )
        for name in wanted
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


def _by_link(
    counts: Mapping[str, Mapping[LinkKey, FloatArray]],
) -> dict[LinkKey, dict[str, FloatArray]]:
    """Counts of every link by the kinds that met it."""
    by_key: dict[LinkKey, dict[str, FloatArray]] = {}
    for name, found in counts.items():
        for key, row in found.items():
            by_key.setdefault(key, {})[name] = row
    return by_key


def _pooled_belief(
    alone: Mapping[str, Learned],
    name: str,
    met: Mapping[LinkKey, Mapping[str, FloatArray]],
    kappa: float | None,
) -> PriorBelief | None:
    """Belief of a kind with what the others lend, or None where there are no others."""
    own = alone[name]
    others = [learned for kind, learned in alone.items() if kind != name]
    if not others:
        return None
    belief = with_lent(own.belief, others)
    if kappa is None:
        return belief
    ids = own.layout.compiled.mode_ids
    links, weights, lent = [], [], []
    for sign, layout, rows, jobs in zip(
        own.layout.network.signs.values(),
        own.layout.signs,
        belief.mean.links,
        belief.links_jobs,
        strict=True,
    ):
        names = ["", *(ids[mode] for mode in layout.parents)]
        rows, jobs, borrowed = rows.copy(), jobs.copy(), np.zeros_like(rows)
        for place, mode in enumerate(() if layout.is_table else names):
            counts = [
                row * kappa / (kappa + row.sum())
                for kind, row in met.get((sign.id, mode, sign.states), {}).items()
                if kind != name
            ]
            if counts:
                rows[place], jobs[place], borrowed[place] = _pooled_row(
                    rows[place], float(jobs[place]), np.sum(counts, axis=0), kappa
                )
        links.append(rows)
        weights.append(jobs)
        lent.append(borrowed)
    return replace(
        belief,
        mean=replace(belief.mean, links=tuple(links)),
        links_jobs=tuple(weights),
        lent=tuple(lent),
    )


def _pooled_row(
    mean: FloatArray, jobs: float, others: FloatArray, kappa: float
) -> tuple[FloatArray, float, FloatArray]:
    """Mean, its weight, and the part of both that the others lend."""
    known = jobs + others.sum()
    weight = kappa * known / (kappa + known)
    if weight <= jobs:
        return mean, jobs, np.zeros_like(mean)
    return (jobs * mean + others) / known, weight, others * weight / known
