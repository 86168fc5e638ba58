r"""Posterior over hypotheses: prior times one factor per sign that has findings.

.. math:: w(h) \propto P(h) \prod_j \sum_s P(s_j = s \mid h) \prod_o P(o \mid s)

The factor of a sign is a short table over its local configurations, gathered by code; clusters of
masked signs are summed jointly (``masking``). Factors are scaled by their largest value and the
scales are added as logarithms, so that many findings cannot underflow.

Axes: ``H`` hypotheses, ``S`` signs, ``V`` states, ``R`` local configurations, ``C`` context
combinations, ``Z`` shown states of maskers.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.errors import ImpossibleEvidenceError
from triage.inference.compiled import CompiledNetwork
from triage.inference.evidence import Finding, finding_likelihood
from triage.inference.hypotheses import HypothesisTable
from triage.inference.information import entropy_bits
from triage.inference.masking import SEEN, Cluster, cluster_posterior, clusters

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

VIEWS_KEPT = 64  # context findings change rarely within a call; one view is a few MB at most


@dataclass(frozen=True, slots=True)
class Likelihoods:
    """P(findings | state) of one epoch.

    ``sign`` (S, V), 1 where nothing was found; ``has_findings`` (S,); ``context`` (C,).
    """

    sign: FloatArray
    has_findings: NDArray[np.bool_]
    context: FloatArray


def likelihoods(
    compiled: CompiledNetwork, findings: Sequence[Finding], context_findings: Sequence[Finding]
) -> Likelihoods:
    """Likelihood of the findings of one epoch; context findings hold in every epoch.

    Raises
    ------
    UnknownObservationError, UnknownAnswerError, ReadingError
        A finding does not fit the network.
    """
    state_count = max((len(sign.states) for sign in compiled.signs), default=1)
    sign = np.ones((len(compiled.signs), state_count))
    has_findings = np.zeros(len(compiled.signs), dtype=bool)
    for finding in findings:
        observation = compiled.index.observation(finding.observation)
        column = finding_likelihood(observation, finding.answer)
        if observation.sign is not None and column is not None:
            position = compiled.sign_position[observation.sign]
            sign[position, : len(column)] *= column
            has_findings[position] = True
    context = np.ones(len(compiled.context_prior))
    for finding in context_findings:
        observation = compiled.index.observation(finding.observation)
        column = finding_likelihood(observation, finding.answer)
        if observation.context is not None and column is not None:
            place = compiled.context_ids.index(observation.context)
            context = context * column[compiled.context_values[:, place]]
    return Likelihoods(sign, has_findings, context)


@dataclass(frozen=True, slots=True)
class FixedAnswers:
    """Answers whose probability given the hypothesis the present findings do not change.

    ``observations`` (n,) positions; ``probability`` (H, sum of A) side by side, ``first`` (n+1,)
    the columns of each; ``entropy`` (H, n) of each, bits.
    """

    observations: tuple[int, ...]
    probability: FloatArray
    first: tuple[int, ...]
    entropy: FloatArray

    @classmethod
    def of(cls, answers: Mapping[int, FloatArray]) -> "FixedAnswers":
        """Stack the answers of several observations."""
        blocks = list(answers.values())
        first = [0]
        for block in blocks:
            first.append(first[-1] + block.shape[1])
        empty = np.zeros((0, 0))
        return cls(
            tuple(answers),
            np.concatenate(blocks, axis=1) if blocks else empty,
            tuple(first),
            np.stack([entropy_bits(block) for block in blocks], axis=1) if blocks else empty,
        )


class ContextView:
    """The machine's hypotheses seen under some context findings, computed once per findings."""

    def __init__(
        self, compiled: CompiledNetwork, joint: FloatArray, likelihood: FloatArray
    ) -> None:
        self._compiled = compiled
        self._joint = joint
        self._likelihood = likelihood
        self.weights: FloatArray = likelihood @ joint  # (H,)

    @cached_property
    def value_probabilities(self) -> Mapping[str, FloatArray]:
        """P(value | hypothesis, context findings), ``(H, values)``, of each context."""
        joint = self._joint * self._likelihood[:, None]
        total = np.where(self.weights > 0.0, self.weights, 1.0)
        result = {}
        for place, (name, context) in enumerate(self._compiled.network.contexts.items()):
            values = self._compiled.context_values[:, place]
            is_value = values == np.arange(len(context.values))[:, None]
            result[name] = (is_value.astype(np.float64) @ joint / total).T
        return result

    @cached_property
    def answers(self) -> Mapping[int, FloatArray]:
        """P(answer | hypothesis), ``(H, A)``, of each observation of a context."""
        result = {}
        for place, entry in enumerate(self._compiled.observations):
            if entry.context is not None:
                value = self.value_probabilities[entry.context]
                result[place] = value @ np.asarray(entry.likelihood)
        return result

    @cached_property
    def fixed_answers(self) -> "FixedAnswers":
        """The same, ready for gains: findings on signs do not change them."""
        return FixedAnswers.of(self.answers)


@dataclass(frozen=True)
class MachineState:
    """Hypotheses about the machine as it is now.

    ``context_joint`` (C, H) is P(context, hypothesis), past repairs included. ``messages`` maps a
    sign to ``(H, V)``: P(findings made before the last repair | state the sign has now); empty
    before any repair.
    """

    table: HypothesisTable
    context_joint: FloatArray
    messages: Mapping[int, FloatArray] = field(default_factory=dict)
    _views: dict[bytes, ContextView] = field(default_factory=dict, repr=False)

    def under(self, context_likelihood: FloatArray) -> ContextView:
        """Hypotheses under context findings; the views of the last few findings are kept."""
        key = context_likelihood.tobytes()
        view = self._views.get(key)
        if view is None:
            view = ContextView(self.table.compiled, self.context_joint, context_likelihood)
            if len(self._views) >= VIEWS_KEPT:
                self._views.clear()
            self._views[key] = view
        return view

    def local(self, sign: int, rows: IntArray | slice = slice(None)) -> FloatArray:
        """P(state, findings made before | hypothesis) of one sign, shape ``(rows, V)``."""
        configurations = self.table.configurations
        local = configurations.distribution[configurations.codes[sign, rows]]
        if sign in self.messages:
            local = local * self.messages[sign][rows]
        return local

    @cached_property
    def clusters(self) -> tuple["TableCluster", ...]:
        """Clusters of masked signs, prepared for this table."""
        return tuple(TableCluster(self, cluster) for cluster in clusters(self.table.compiled))

    @cached_property
    def clustered(self) -> frozenset[int]:
        """Signs that belong to a cluster."""
        return frozenset(sign for cluster in self.clusters for sign in cluster.cluster.signs)


class TableCluster:
    """A cluster over a whole table: maskers are summed once per joint configuration of theirs."""

    def __init__(self, state: MachineState, cluster: Cluster) -> None:
        self.state = state
        self.cluster = cluster
        self.has_past = any(sign in state.messages for sign in cluster.signs)

    @cached_property
    def _joint_codes(self) -> tuple[IntArray, IntArray]:
        """One row of each joint configuration of the maskers, and the configuration of each row."""
        configurations = self.state.table.configurations
        key = np.zeros(len(self.state.table), dtype=np.int64)
        for sign in self.cluster.maskers:
            rows = configurations.rows_of(sign)
            key = key * (rows.stop - rows.start) + configurations.codes[sign] - rows.start
        _, first, codes = np.unique(key, return_index=True, return_inverse=True)
        return first, codes

    def concerns(self, likelihood: Likelihoods) -> bool:
        """Whether the cluster carries findings, made now or before a repair."""
        return self.has_past or bool(likelihood.has_findings[list(self.cluster.signs)].any())

    def signs_with_evidence(self, likelihood: Likelihoods) -> tuple[int, ...]:
        """Every masker, and the other signs that carry findings, made now or before a repair."""
        others = [
            sign
            for sign in self.cluster.others
            if likelihood.has_findings[sign] or sign in self.state.messages
        ]
        return (*self.cluster.maskers, *others)

    def factor(self, likelihood: Likelihoods, sign_factor: FloatArray) -> FloatArray:
        """P(findings of the cluster | hypothesis), shape ``(H,)``.

        ``sign_factor`` (R,) is P(findings | configuration) of signs that are seen.
        """
        needed = self.signs_with_evidence(likelihood)
        if self.has_past:
            local = {sign: self.state.local(sign) for sign in needed}
            return cluster_posterior(self.cluster, local, likelihood.sign).factor
        looked_at = [sign for sign in needed if sign in self.cluster.others]
        first, codes = self._joint_codes
        local = {sign: self.state.local(sign, first) for sign in self.cluster.maskers}
        joint = cluster_posterior(self.cluster, local, likelihood.sign).joint  # (U, Z)
        return self._sum_of_patterns(looked_at, joint, codes, likelihood.sign, sign_factor)

    def _sum_of_patterns(
        self,
        looked_at: Sequence[int],
        joint: FloatArray,
        codes: IntArray,
        likelihood: FloatArray,
        sign_factor: FloatArray,
    ) -> FloatArray:
        """Add up the joint states by which of the signs looked at they hide."""
        if not looked_at:
            return np.asarray(joint.sum(axis=1)[codes])
        forced = np.array([self.cluster.forced[sign] for sign in looked_at])  # (signs, Z)
        for sign, states in zip(looked_at, forced, strict=True):
            joint = joint * np.where(states == SEEN, 1.0, likelihood[sign, np.maximum(states, 0)])
        patterns, pattern_of = np.unique(forced == SEEN, axis=1, return_inverse=True)
        total = np.zeros(len(codes))
        for place in range(patterns.shape[1]):
            term = joint[:, pattern_of.ravel() == place].sum(axis=1)[codes]  # (H,)
            for sign, is_seen in zip(looked_at, patterns[:, place], strict=True):
                if is_seen:
                    term = term * sign_factor[self.state.table.configurations.codes[sign]]
            total += term
        return total


@dataclass(frozen=True)
class Posterior:
    """Posterior over the hypotheses of a table.

    ``weights`` (H,) sum to 1; ``log_evidence`` in nats is that of the evidence under the
    hypotheses of the table, so it leaves out what the table leaves out.
    """

    state: MachineState
    likelihood: Likelihoods
    weights: FloatArray
    log_evidence: float

    @property
    def mode_probabilities(self) -> FloatArray:
        """P(mode has failed | evidence), shape ``(F,)``."""
        return self.state.table.mode_probabilities(self.weights)


def sign_factors(state: MachineState, likelihood: Likelihoods) -> FloatArray:
    """P(findings on the sign | configuration), shape ``(R,)``, masks left out."""
    configurations = state.table.configurations
    per_row = likelihood.sign[configurations.sign_of_row]  # (R, V)
    return np.asarray(np.einsum("rv,rv->r", configurations.distribution, per_row))


def posterior(state: MachineState, likelihood: Likelihoods) -> Posterior:
    """Bayes' rule over the table; O(signs with findings x H).

    Raises
    ------
    ImpossibleEvidenceError
        The evidence has probability 0 under every hypothesis; names no findings (the engine adds
        those in conflict).
    """
    factor = sign_factors(state, likelihood)
    weights = state.under(likelihood.context).weights.copy()  # (H,)
    log_scale = 0.0
    for term in _factors(state, likelihood, factor):
        largest = term.max()
        if largest <= 0.0:
            raise ImpossibleEvidenceError(())
        weights *= term / largest
        log_scale += np.log(largest)
    total = weights.sum()
    if total <= 0.0:
        raise ImpossibleEvidenceError(())
    return Posterior(state, likelihood, weights / total, float(np.log(total) + log_scale))


def _factors(state: MachineState, likelihood: Likelihoods, factor: FloatArray) -> list[FloatArray]:
    """One factor ``(H,)`` per sign or cluster that carries findings."""
    codes = state.table.configurations.codes
    terms = []
    for sign in range(len(codes)):
        if sign in state.clustered:
            continue
        if sign in state.messages:
            terms.append(state.local(sign) @ likelihood.sign[sign])
        elif likelihood.has_findings[sign]:
            terms.append(factor[codes[sign]])
    for cluster in state.clusters:
        if cluster.concerns(likelihood):
            terms.append(cluster.factor(likelihood, factor))
    return terms
