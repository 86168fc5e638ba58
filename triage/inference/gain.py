r"""Expected information gain of every open observation, in one pass.

The gain of an observation ``T`` about the hypothesis is their mutual information [Lindley1956]_

.. math:: I(h; T | e) = H(T | e) - \sum_h w(h) H(T | h, e)

For a sign that no mask touches, ``P(T | h)`` depends on ``h`` only through the local configuration,
so the sum runs over configurations, not hypotheses. Signs in a cluster, signs with a past, and
contexts are summed per hypothesis, over the **support**: the hypotheses left after dropping those
whose weights add up to less than a stated mass.

Axes: ``O`` observations, ``A`` answers (padded), ``N`` pairs of an observation and a configuration
of its sign, ``R'`` hypotheses of the support.
"""

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import CompiledNetwork
from triage.inference.hypotheses import HypothesisTable
from triage.inference.information import entropy_bits, plogp
from triage.inference.masking import cluster_posterior
from triage.inference.posterior import FixedAnswers, Posterior, TableCluster

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Gains:
    """``bits`` (O,) about the hypothesis; ``answer_probabilities`` (O, A) of the answers."""

    bits: FloatArray
    answer_probabilities: FloatArray


@dataclass(frozen=True, slots=True)
class AnswerTables:
    """P(answer | state), shape ``(O, V, A)``, padded with 0."""

    table: FloatArray

    @classmethod
    def of(cls, compiled: CompiledNetwork) -> "AnswerTables":
        """Tables of every observation."""
        rows = max((len(entry.likelihood) for entry in compiled.observations), default=1)
        columns = max((len(entry.answers) for entry in compiled.observations), default=1)
        signs = max((len(sign.states) for sign in compiled.signs), default=1)
        table = np.zeros((len(compiled.observations), max(rows, signs), columns))
        for place, entry in enumerate(compiled.observations):
            likelihood = np.asarray(entry.likelihood)
            table[place, : likelihood.shape[0], : likelihood.shape[1]] = likelihood
        return cls(table)


class GainTable:
    """What the gains of one hypothesis table need and evidence does not change."""

    def __init__(self, table: HypothesisTable, clustered: frozenset[int]) -> None:
        self.table = table
        self.clustered = clustered
        self.answers = AnswerTables.of(table.compiled).table
        self._observations = table.compiled.observations
        self.answer_matrices = tuple(  # each (V, A)
            np.asarray(entry.likelihood) for entry in self._observations
        )
        self._clusters: dict[tuple[int, ...], FixedAnswers] = {}

    def fixed_answers(self, posterior: Posterior) -> Sequence[FixedAnswers]:
        """Answers the present findings leave as they were: of contexts, of untouched clusters.

        After a repair rows of one table may be the same machine, so none are offered.
        """
        state = posterior.state
        if state.messages:
            return ()
        untouched = [c for c in state.clusters if not c.concerns(posterior.likelihood)]
        contexts = state.under(posterior.likelihood.context).fixed_answers
        found = (contexts, *(self._untouched(posterior, cluster) for cluster in untouched))
        return [known for known in found if known.observations]

    def _untouched(self, posterior: Posterior, cluster: TableCluster) -> FixedAnswers:
        """Answers about an untouched cluster, computed once for the table."""
        key = cluster.cluster.signs
        if key not in self._clusters:
            every = np.arange(len(self.table))
            asking = frozenset(place for place, o in enumerate(self._observations) if o.context)
            answers = row_answer_probabilities(posterior, self, every, frozenset(key), asking)
            self._clusters[key] = FixedAnswers.of(answers)
        return self._clusters[key]

    @cached_property
    def pairs(self) -> tuple[IntArray, IntArray, IntArray, IntArray]:
        """Configuration and observation of each pair; observation and first pair of each run."""
        compiled = self.table.compiled
        rows: list[IntArray] = []
        observations: list[IntArray] = []
        grouped: list[int] = []
        starts: list[int] = []
        for sign, looks in enumerate(compiled.observations_of_sign):
            if sign in self.clustered:
                continue
            block = self.table.configurations.rows_of(sign)
            for look in looks:
                starts.append(sum(len(part) for part in rows))
                grouped.append(look)
                rows.append(np.arange(block.start, block.stop))
                observations.append(np.full(block.stop - block.start, look))
        empty = np.zeros(0, dtype=np.int64)
        return (
            np.concatenate([empty, *rows]),
            np.concatenate([empty, *observations]),
            np.array(grouped, dtype=np.int64),
            np.array(starts, dtype=np.int64),
        )

    @cached_property
    def prior_answers(self) -> tuple[FloatArray, FloatArray]:
        """P(answer | configuration) (N, A) with no findings, and its entropy (N,) in bits."""
        rows, observations, _, _ = self.pairs
        distribution = self.table.configurations.distribution[rows]  # (N, V)
        answers = self.answers[observations, : distribution.shape[1]]  # (N, V, A)
        probability = np.einsum("nv,nva->na", distribution, answers)
        return probability, entropy_bits(probability)


def support(weights: FloatArray, dropped_mass: float) -> IntArray:
    """Hypotheses left when the lightest, ``dropped_mass`` together at most, are dropped."""
    if dropped_mass <= 0.0:
        return np.flatnonzero(weights > 0.0)
    ascending = np.sort(weights)
    first_kept = int(np.searchsorted(np.cumsum(ascending), dropped_mass, side="right"))
    return np.flatnonzero(weights >= ascending[min(first_kept, len(weights) - 1)])


def information_gains(posterior: Posterior, gain_table: GainTable, dropped_mass: float) -> Gains:
    """Gain in bits and answer probabilities of every observation.

    Parameters
    ----------
    posterior : Posterior
    gain_table : GainTable
        Of the same hypothesis table.
    dropped_mass : float
        Posterior mass that may be left out of the sums; 0 leaves out nothing.

    Returns
    -------
    Gains
        ``bits`` shape ``(O,)``; an observation already made is included, as a second look.
    """
    rows = support(posterior.weights, dropped_mass)
    weights = posterior.weights[rows] / posterior.weights[rows].sum()  # (R',)
    past = frozenset(posterior.state.messages)
    bits, answers = _grouped_gains(posterior, gain_table)
    fixed = gain_table.fixed_answers(posterior)
    for known in fixed:
        _fill_fixed(known, posterior.weights, bits, answers)
    settled = {observation for known in fixed for observation in known.observations}
    by_row = row_answer_probabilities(
        posterior, gain_table, rows, past | gain_table.clustered, settled
    )
    same_machine = Partition(posterior.state.table.labels[rows]) if past else None
    for observation, probability in by_row.items():  # (R', A)
        bits[observation] = _gain_about(same_machine, weights, probability)
        answers[observation, : probability.shape[1]] = weights @ probability
    return Gains(np.maximum(bits, 0.0), answers)


class Partition:
    """Rows grouped by class, ready to be summed."""

    def __init__(self, labels: IntArray) -> None:
        self.order = np.argsort(labels, kind="stable")
        self.starts = np.flatnonzero(np.diff(labels[self.order], prepend=-1))

    def sum(self, values: FloatArray) -> FloatArray:
        """Sums over the rows (first axis) of each class."""
        return np.asarray(np.add.reduceat(values[self.order], self.starts))


def class_information_gains(
    posterior: Posterior, gain_table: GainTable, labels: IntArray, dropped_mass: float
) -> FloatArray:
    """Gain of every observation about the class of the hypothesis, in bits, shape ``(O,)``.

    ``labels`` (H,) numbers the classes, for example the set of repairs a hypothesis calls for.
    """
    rows = support(posterior.weights, dropped_mass)
    weights = posterior.weights[rows] / posterior.weights[rows].sum()
    every = frozenset(range(len(gain_table.table.compiled.signs)))
    bits = np.zeros(len(gain_table.answers))
    by_row = row_answer_probabilities(posterior, gain_table, rows, every)
    classes = Partition(labels[rows])
    for observation, probability in by_row.items():
        bits[observation] = _gain_about(classes, weights, probability)
    return np.maximum(bits, 0.0)


def _gain_about(classes: Partition | None, weights: FloatArray, probability: FloatArray) -> float:
    """Mutual information of the class of a row and the answer, bits; None: each row is a class.

    ``weights`` (R',) of the rows, ``probability`` (R', A) of the answers given the row.
    """
    mean = weights @ probability
    if classes is None:
        return float(weights @ plogp(probability).sum(axis=1) - plogp(mean).sum())
    joint = classes.sum(weights[:, None] * probability)  # (classes, A)
    return float(plogp(joint).sum() - plogp(classes.sum(weights)).sum() - plogp(mean).sum())


def row_answer_probabilities(
    posterior: Posterior,
    gain_table: GainTable,
    rows: IntArray,
    signs: frozenset[int],
    settled: Set[int] = frozenset(),
) -> Mapping[int, FloatArray]:
    """P(answer | hypothesis, evidence), ``(R', A)``, of observations of signs and contexts.

    Observations in ``settled`` are left out.
    """
    compiled = gain_table.table.compiled
    looks = {
        sign: [look for look in compiled.observations_of_sign[sign] if look not in settled]
        for sign in signs
    }
    wanted = frozenset(sign for sign, open_looks in looks.items() if open_looks)
    result: dict[int, FloatArray] = {}
    for sign, shown in _shown_distributions(posterior, rows, wanted).items():
        for look in looks[sign]:
            matrix = gain_table.answer_matrices[look]
            result[look] = shown[:, : len(matrix)] @ matrix
    view = posterior.state.under(posterior.likelihood.context)
    result.update(
        {place: answers[rows] for place, answers in view.answers.items() if place not in settled}
    )
    return result


def _fill_fixed(
    known: FixedAnswers, weights: FloatArray, bits: FloatArray, answers: FloatArray
) -> None:
    """Gains and answers of observations whose probabilities given the hypothesis are fixed."""
    mean = weights @ known.probability
    noise = weights @ known.entropy
    for place, observation in enumerate(known.observations):
        block = mean[known.first[place] : known.first[place + 1]]
        answers[observation, : len(block)] = block
        bits[observation] = -plogp(block).sum() - noise[place]


def _shown_distributions(
    posterior: Posterior, rows: IntArray, signs: frozenset[int]
) -> Mapping[int, FloatArray]:
    """P(shown state | hypothesis, evidence), ``(R', V)``, of signs that can be looked at."""
    state, likelihood = posterior.state, posterior.likelihood
    result: dict[int, FloatArray] = {}
    for sign in sorted(signs - state.clustered):
        weighted = state.local(sign, rows) * likelihood.sign[sign]
        result[sign] = weighted / weighted.sum(axis=1, keepdims=True)
    for cluster in state.clusters:
        if not signs.intersection(cluster.cluster.signs):
            continue
        needed = cluster.signs_with_evidence(likelihood)
        found = cluster_posterior(
            cluster.cluster, {sign: state.local(sign, rows) for sign in needed}, likelihood.sign
        )
        for sign in cluster.cluster.signs:
            if sign in signs:
                local = state.local(sign, rows)
                result[sign] = found.shown_distribution(sign, local, likelihood.sign[sign])
    return result


def _grouped_gains(posterior: Posterior, gain_table: GainTable) -> tuple[FloatArray, FloatArray]:
    """Gains of observations of signs outside clusters and without a past; 0 for the others."""
    pair_row, _, grouped, starts = gain_table.pairs
    bits = np.zeros(len(gain_table.answers))
    answers = np.zeros((len(gain_table.answers), gain_table.answers.shape[2]))
    if len(grouped) == 0:
        return bits, answers
    probability, entropy = _answers_given_configuration(posterior, gain_table)
    mass = posterior.state.table.configuration_mass(posterior.weights)[pair_row]  # (N,)
    answers[grouped] = np.add.reduceat(mass[:, None] * probability, starts)
    noise = np.add.reduceat(mass * entropy, starts)
    bits[grouped] = entropy_bits(answers[grouped]) - noise
    return bits, answers


def _answers_given_configuration(
    posterior: Posterior, gain_table: GainTable
) -> tuple[FloatArray, FloatArray]:
    """P(answer | configuration, findings on its sign) (N, A) and its entropy (N,)."""
    probability, entropy = gain_table.prior_answers
    pair_row, pair_observation, _, _ = gain_table.pairs
    configurations = posterior.state.table.configurations
    sign_of_pair = configurations.sign_of_row[pair_row]
    changed = np.flatnonzero(posterior.likelihood.has_findings[sign_of_pair])
    if len(changed) == 0:
        return probability, entropy
    probability, entropy = probability.copy(), entropy.copy()
    weighted = configurations.distribution[pair_row[changed]]
    weighted = weighted * posterior.likelihood.sign[sign_of_pair[changed]]  # (n, V)
    total = weighted.sum(axis=1, keepdims=True)
    weighted = np.divide(weighted, total, out=np.zeros_like(weighted), where=total > 0.0)
    answers = gain_table.answers[pair_observation[changed], : weighted.shape[1]]
    probability[changed] = np.einsum("nv,nva->na", weighted, answers)
    entropy[changed] = entropy_bits(probability[changed])
    return probability, entropy
