"""Partial pooling: what several appliance kinds tell about the strengths they share.

Networks built from the same fragments have links of the same sign and failure mode. Their true
values are taken to scatter around a common one: Dirichlet with precision ``kappa``. A kind then
believes, before its own jobs, in

    mean    (s m + sum of n') / (s + sum of N'),    n' = n kappa / (kappa + N) of each other kind
    weight  kappa (s + sum of N') / (kappa + s + sum of N'),    jobs

where ``s m`` is the network's own statement. If that is worth less than ``s``, nothing is pooled.
Of the weight, the part ``sum of N' / (s + sum of N')`` is what the other kinds lend. What else they
lend: see ``lending``.

``kappa`` is the one under which the kind's own jobs are most probable, before any of them is
counted (empirical Bayes, [GelmanEtAl2013]_ chapter 5), with a wide prior of its own for kinds that
have few. The counts of two kinds cannot tell it: where states are hidden, what EM expects of them
leans on the network's numbers in both, so kinds would always look alike.

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
from triage.learning.expectation import serial
from triage.learning.layout import Layout
from triage.learning.lending import with_lent
from triage.learning.patterns import shard_of
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]
KindJobs = tuple[FaultNetwork, Sequence[ClosedJob]]  # a network, and closed jobs of it
LinkKey = tuple[str, str, tuple[str, ...]]  # sign, failure mode ("" for the leak), states
LentCounts = Sequence[Mapping[int, Sequence[FloatArray]]]  # per sign: counts of others by row

KAPPAS = (3.0, 10.0, 30.0, 100.0, 300.0, 1000.0, 3000.0)
KAPPA_GUESSED = 30.0  # before any own job is counted, a guess of ours,
KAPPA_FACTOR = 10.0  # give or take tenfold


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """Networks learned together; ``kappa`` of each, None where it shares no link with others."""

    learned: Mapping[str, Learned]
    kappa: Mapping[str, float | None]


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
    found = {name: learn_with(name, alone, kinds[name][1], settings, left_out) for name in wanted}
    return Pooled(
        {name: learned for name, (learned, _) in found.items()},
        {name: kappa for name, (_, kappa) in found.items()},
    )


def learn_with(
    name: str,
    alone: Mapping[str, Learned],
    columns: JobColumns,
    settings: LearningSettings,
    left_out: Mapping[str, int] = MappingProxyType({}),
) -> tuple[Learned, float | None]:
    """Learn one kind on, with what the others lend; gives the precision of the scatter as well.

    Parameters
    ----------
    name : str
        Which of the kinds.
    alone : mapping
        Every kind as a first run learned it from its own jobs, by network id.
    columns : JobColumns
        Jobs of the kind.
    settings : LearningSettings
    left_out : mapping
        Passed on.
    """
    own = alone[name]
    others = {kind: learned for kind, learned in alone.items() if kind != name}
    if not others:
        return learn_again(own, columns, settings, left_out=left_out), None
    belief, kappa = with_lent(own.belief, list(others.values())), None
    lent = _lent_counts(own, others)
    if any(rows for rows in lent):
        kappa = _most_probable_kappa(own, belief, lent)
        belief = _pooled_belief(belief, lent, kappa)
    return learn_again(own, columns, settings, belief=belief, left_out=left_out), kappa


def _most_probable_kappa(own: Learned, belief: PriorBelief, lent: LentCounts) -> float:
    """Precision under which the jobs of a kind are most probable before they are counted."""
    step = serial(own.layout, own.shards)
    scores = []
    for kappa in KAPPAS:
        numbers = _pooled_belief(belief, lent, kappa).start
        off = np.log(kappa / KAPPA_GUESSED) / np.log(KAPPA_FACTOR)
        scores.append(step(numbers).log_likelihood - 0.5 * off**2)
    return KAPPAS[int(np.argmax(scores))]


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


def _lent_counts(own: Learned, others: Mapping[str, Learned]) -> LentCounts:
    """What others expect of each row of each sign of a kind, by place of the row."""
    met = [_counts(learned) for learned in others.values()]
    ids = own.layout.compiled.mode_ids
    found = []
    for sign, layout in zip(own.layout.network.signs.values(), own.layout.signs, strict=True):
        names = () if layout.is_table else ("", *(ids[mode] for mode in layout.parents))
        rows = {}
        for place, mode in enumerate(names):
            key = sign.id, mode, sign.states
            counts = [kind[key] for kind in met if key in kind]
            if counts:
                rows[place] = counts
        found.append(rows)
    return found


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


def _pooled_belief(belief: PriorBelief, lent: LentCounts, kappa: float) -> PriorBelief:
    """Belief with what others lend, if kinds scatter with this precision."""
    links, weights, borrowed = list(belief.mean.links), list(belief.links_jobs), list(belief.lent)
    for sign, counts in enumerate(lent):
        rows, jobs, parts = links[sign].copy(), weights[sign].copy(), borrowed[sign].copy()
        for place, found in counts.items():
            others = np.sum([row * kappa / (kappa + row.sum()) for row in found], axis=0)
            rows[place], jobs[place], parts[place] = _pooled_row(
                rows[place], float(jobs[place]), others, kappa
            )
        links[sign], weights[sign], borrowed[sign] = rows, jobs, parts
    return replace(
        belief,
        mean=replace(belief.mean, links=tuple(links)),
        links_jobs=tuple(weights),
        lent=tuple(borrowed),
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
