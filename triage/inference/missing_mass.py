"""How much of the evidence's probability the table of hypotheses leaves out.

The table holds sets of at most ``K`` failed modes. The prior knows no cap, and neither does the
**frontier sum** here: it adds up P(evidence, h) over *every* set of failed modes, so

    missing mass = 1 - P(evidence, table) / P(evidence)

is exact. State of the sum: the joint distribution of the signs that are open. Roots are taken one by
one; each opens its signs (with their leak), acts on every open axis as ``max(state, activation)``,
and a sign with no root left is closed by contracting it with its likelihood. All terms are
non-negative, nothing cancels; Quickscore [Heckerman1989]_, which subtracts, loses all digits at 16
positive findings. Signs of a mask cluster stay open to the end and are contracted together.

Cost O(C 2^frontier) a root. Where that exceeds a budget the sum is made for the average machine
(context odds averaged), and the result says so.

Axes of the state: ``C`` context combinations, then one per open sign.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import product

import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import CompiledNetwork
from triage.inference.masking import Cluster, clusters
from triage.inference.posterior import Likelihoods
from triage.inference.prior import Prior

FloatArray = NDArray[np.float64]

CELLS_MAX = 1_500_000  # doubles in the state, 12 MB: about 0.1 s a root step on one core


class Certainty(StrEnum):
    """How the missing mass was found."""

    EXACT = "exact"
    AVERAGED = "averaged"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class MissingMass:
    """Share of P(evidence) beyond the table; ``certainty`` says how it was found."""

    share: float
    certainty: Certainty


@dataclass(frozen=True, slots=True)
class _RootStates:
    """A root: weight (C,) of each of its states, and the modes of that state."""

    weights: tuple[FloatArray, ...]
    modes: tuple[tuple[int, ...], ...]


def log_evidence_without_cap(
    compiled: CompiledNetwork, prior: Prior, likelihood: Likelihoods
) -> float | None:
    """Natural logarithm of P(evidence), over every set of failed modes.

    Parameters
    ----------
    compiled, prior
        The network and its solved prior.
    likelihood : Likelihoods
        Findings of one epoch.

    Returns
    -------
    float or None
        Nats; None if the sum exceeds its budget or a sign with findings follows a table.
    """
    observed = tuple(int(sign) for sign in np.flatnonzero(likelihood.has_findings))
    if any(compiled.signs[sign].is_table for sign in observed):
        return None
    scale = likelihood.context * prior.context / prior.normaliser  # (C,)
    used = scale > 0.0
    plan = _plan(compiled, prior, observed)
    if plan.cells * np.count_nonzero(used) > CELLS_MAX:
        return None
    total = _frontier_sum(compiled, prior, likelihood, plan, prior.odds[used])
    return float(np.log(scale[used] @ total))


def averaged(prior: Prior, likelihood: Likelihoods) -> Prior:
    """Prior of the average machine: one context combination with the mean odds of all."""
    scale = likelihood.context * prior.context / prior.normaliser  # (C,)
    mean = (scale @ prior.odds)[None, :] / scale.sum()
    return replace(prior, odds=mean, normaliser=np.ones(1), context=np.array([scale.sum()]))


def missing_mass(log_table: float, log_everything: float, certainty: Certainty) -> MissingMass:
    """Share of P(evidence) the table leaves out, from two logarithms of evidence (nats)."""
    return MissingMass(max(0.0, -float(np.expm1(log_table - log_everything))), certainty)


@dataclass(frozen=True, slots=True)
class _Plan:
    """Order of the roots, signs opened and closed at each, and the largest number of cells."""

    roots: tuple[int, ...]
    opens: tuple[tuple[int, ...], ...]
    closes: tuple[tuple[int, ...], ...]
    clusters: tuple[Cluster, ...]
    cells: int


def _plan(compiled: CompiledNetwork, prior: Prior, observed: Sequence[int]) -> _Plan:
    """Greedy order: next the root that leaves the fewest cells open."""
    concerned = [
        cluster for cluster in clusters(compiled) if any(sign in observed for sign in cluster.signs)
    ]
    joint = {
        sign
        for cluster in concerned
        for sign in cluster.signs
        if sign in observed or sign in cluster.maskers
    }
    signs = sorted(set(observed) | joint)
    touches = {
        place: frozenset(
            sign
            for sign in signs
            if any(compiled.signs[sign].link_class[mode] for state in root.states for mode in state)
        )
        for place, root in enumerate(prior.roots)
    }
    size = {sign: len(compiled.signs[sign].states) for sign in signs}
    order: list[int] = []
    opens: list[tuple[int, ...]] = []
    closes: list[tuple[int, ...]] = []
    open_signs: set[int] = set()
    left = set(touches)
    largest = 1
    while left:
        place = min(left, key=lambda root: (_cells(open_signs | touches[root], size), root))
        left.remove(place)
        new = tuple(sorted(touches[place] - open_signs))
        open_signs |= touches[place]
        largest = max(largest, _cells(open_signs, size))
        later = frozenset[int]().union(*(touches[root] for root in left))
        done = tuple(sorted(sign for sign in open_signs if sign not in later | joint))
        open_signs -= set(done)
        order.append(place)
        opens.append(new)
        closes.append(done)
    rest = tuple(sign for sign in signs if sign in joint and sign not in open_signs)
    largest = max(largest, _cells(open_signs | set(rest), size))
    return _Plan(tuple(order), (*opens, rest), tuple(closes), tuple(concerned), largest)


def _cells(signs: set[int] | frozenset[int], size: dict[int, int]) -> int:
    return int(np.prod([size[sign] for sign in signs], dtype=np.int64))


def _frontier_sum(
    compiled: CompiledNetwork,
    prior: Prior,
    likelihood: Likelihoods,
    plan: _Plan,
    odds: FloatArray,
) -> FloatArray:
    """Sum over hypotheses of odds times P(evidence | hypothesis), shape ``(C,)``."""
    frontier = _Frontier(compiled, likelihood, len(odds))
    for place, opens, closes in zip(plan.roots, plan.opens, plan.closes, strict=False):
        frontier.open(opens)
        frontier.act(_root_states(prior, place, odds))
        frontier.close(closes)
    frontier.open(plan.opens[-1])
    some = frontier.contract_clusters(plan.clusters)
    nothing = _Frontier(compiled, likelihood, 1)
    everything = sorted({sign for opens in plan.opens for sign in opens})
    return (
        some * _never_opened(compiled, likelihood, everything)
        - _evidence_of_set(compiled, likelihood, plan, (), nothing)
        + sum(
            odds[:, mode] * _evidence_of_set(compiled, likelihood, plan, (int(mode),), nothing)
            for mode in prior.exclusive
        )
    )


class _Frontier:
    """Joint distribution of the open signs, one axis each after the axis of contexts."""

    def __init__(self, compiled: CompiledNetwork, likelihood: Likelihoods, count: int) -> None:
        self.compiled = compiled
        self.likelihood = likelihood
        self.signs: list[int] = []
        self.state = np.ones(count)

    def open(self, signs: Sequence[int]) -> None:
        """Add an axis per sign, distributed as its leak."""
        for sign in signs:
            leak = np.diff(self.compiled.signs[sign].leak_cumulative, prepend=0.0)
            self.state = self.state[..., None] * leak
            self.signs.append(sign)

    def act(self, root: _RootStates) -> None:
        """Let a root act: add up its states, each raising the open signs by its activations."""
        shape = (-1, *([1] * len(self.signs)))
        total = np.zeros_like(self.state)
        for weight, modes in zip(root.weights, root.modes, strict=True):
            total += weight.reshape(shape) * self._raised(modes)
        self.state = total

    def close(self, signs: Sequence[int]) -> None:
        """Contract signs that no further root acts on with their likelihood."""
        for sign in signs:
            axis = self.signs.index(sign) + 1
            count = self.state.shape[axis]
            moved = np.moveaxis(self.state, axis, -1)
            self.state = moved @ self.likelihood.sign[sign, :count]
            self.signs.remove(sign)

    def contract_clusters(self, concerned: Sequence[Cluster]) -> FloatArray:
        """Contract the axes still open, all of clusters, with the joint likelihood of each."""
        for cluster in concerned:
            inside = [sign for sign in self.signs if sign in cluster.signs]
            joint = cluster_likelihood(self.compiled, cluster, inside, self.likelihood.sign)
            axes = [self.signs.index(sign) + 1 for sign in inside]
            self.state = np.tensordot(self.state, joint, (axes, list(range(len(axes)))))
            self.signs = [sign for sign in self.signs if sign not in inside]
        return self.state

    def _raised(self, modes: Sequence[int]) -> FloatArray:
        state = self.state
        for axis, sign in enumerate(self.signs, start=1):
            arrays = self.compiled.signs[sign]
            if any(arrays.link_class[mode] for mode in modes):
                members = np.array([modes], dtype=np.int64)
                caused = arrays.distribution(members, with_leak=False)[0]
                state = _maximum(state, axis, caused)
        return state


def _maximum(state: FloatArray, axis: int, caused: FloatArray) -> FloatArray:
    """Distribution of max(state on the axis, activation); ``caused`` (V,) is the activation's."""
    moved = np.moveaxis(state, axis, -1)  # (..., V)
    at_most = np.cumsum(caused)
    raised = moved * at_most
    lower = np.cumsum(moved, axis=-1)
    raised[..., 1:] += lower[..., :-1] * caused[1:]
    return np.moveaxis(raised, -1, axis)


def cluster_likelihood(
    compiled: CompiledNetwork, cluster: Cluster, signs: Sequence[int], likelihood: FloatArray
) -> FloatArray:
    """P(findings of the cluster | what each sign would show if seen), one axis per sign."""
    counts = [len(compiled.signs[sign].states) for sign in signs]
    joint = np.empty(counts)
    order = [*cluster.maskers, *(sign for sign in cluster.others if sign in signs)]
    for cell in product(*(range(count) for count in counts)):
        seen = dict(zip(signs, cell, strict=True))
        shown: dict[int, int] = {}
        for sign in order:
            acting = [
                mask.shows for mask in compiled.masks[sign] if mask.is_masking[shown[mask.masker]]
            ]
            shown[sign] = acting[0] if acting else seen[sign]
        joint[cell] = np.prod([likelihood[sign, state] for sign, state in shown.items()])
    return joint


def _root_states(prior: Prior, place: int, odds: FloatArray) -> _RootStates:
    states = prior.roots[place].states
    weights = []
    for state in states:
        weight = np.prod(odds[:, list(state)], axis=1)
        for first, second, factor in prior.pairs:
            if first in state and second in state:
                weight = weight * factor
        weights.append(weight)
    return _RootStates(tuple(weights), states)


def _evidence_of_set(
    compiled: CompiledNetwork,
    likelihood: Likelihoods,
    plan: _Plan,
    modes: tuple[int, ...],
    frontier: _Frontier,
) -> float:
    """P(evidence | exactly these modes have failed)."""
    joint = {sign for cluster in plan.clusters for sign in cluster.signs}
    members = np.array([modes or (compiled.mode_count,)], dtype=np.int64)
    probability = 1.0
    for sign in np.flatnonzero(likelihood.has_findings):
        if sign not in joint:
            arrays = compiled.signs[sign]
            local = arrays.distribution(members)[0]
            probability *= float(local @ likelihood.sign[sign, : len(local)])
    for cluster in plan.clusters:
        inside = [
            sign
            for sign in cluster.signs
            if sign in cluster.maskers or likelihood.has_findings[sign]
        ]
        term = cluster_likelihood(compiled, cluster, inside, likelihood.sign)
        for sign in inside:
            term = np.tensordot(compiled.signs[sign].distribution(members)[0], term, (0, 0))
        probability *= float(term)
    return probability


def _never_opened(
    compiled: CompiledNetwork, likelihood: Likelihoods, opened: Sequence[int]
) -> float:
    """P(findings) of signs that no root that can fail acts on: only the leak speaks."""
    probability = 1.0
    for sign in np.flatnonzero(likelihood.has_findings):
        if sign not in opened:
            leak = np.diff(compiled.signs[sign].leak_cumulative, prepend=0.0)
            probability *= float(leak @ likelihood.sign[sign, : len(leak)])
    return probability
