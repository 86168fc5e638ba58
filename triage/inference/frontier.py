"""Sum over every set of failed modes at once, without a cap and without cancellation.

State of the sum: the joint distribution of the signs that are open, for each context combination.
Roots (components, or components joined by a pair) are taken one by one; a root opens the signs it
acts on, with their leak, and raises every open axis to ``max(state, activation)``. A **group** of
signs, one sign or a cluster joined by masks, is closed when no later root acts on it: its axes are
contracted with the likelihood of its findings. All terms are non-negative, nothing cancels;
Quickscore [Heckerman1989]_, which subtracts, loses all digits at 16 positive findings.

Cost O(C 2^frontier) a root, the frontier being the open signs; the order of roots is greedy.

Axes of the state: ``C`` context combinations, then one per open sign.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import CompiledNetwork
from triage.inference.masking import Cluster, clusters
from triage.inference.posterior import Likelihoods
from triage.inference.prior import Prior

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Signs contracted together; ``likelihood`` has one axis per sign."""

    signs: tuple[int, ...]
    likelihood: FloatArray


@dataclass(frozen=True, slots=True)
class Plan:
    """Order of the roots, the groups closed after each, the rest, and the largest state (cells)."""

    roots: tuple[int, ...]
    closes: tuple[tuple[Group, ...], ...]
    untouched: tuple[Group, ...]
    cells: int


class Frontier:
    """Joint distribution of the open signs."""

    def __init__(self, compiled: CompiledNetwork, contexts: int) -> None:
        self._compiled = compiled
        self._open: list[int] = []
        self.state = np.ones(contexts)

    def open(self, signs: Sequence[int]) -> None:
        """Add an axis, distributed as its leak, for each sign not open yet."""
        for sign in signs:
            if sign not in self._open:
                leak = np.diff(self._compiled.signs[sign].leak_cumulative, prepend=0.0)
                self.state = self.state[..., None] * leak
                self._open.append(sign)

    def act(self, states: Sequence[tuple[int, ...]], weights: Sequence[FloatArray]) -> None:
        """Let a root act: add up its states, weights ``(C,)`` each."""
        shape = (-1, *([1] * len(self._open)))
        total = np.zeros_like(self.state)
        for modes, weight in zip(states, weights, strict=True):
            total += weight.reshape(shape) * self.raised(modes)
        self.state = total

    def raised(self, modes: Sequence[int]) -> FloatArray:
        """State with every open sign raised by the activations of some modes."""
        state = self.state
        for axis, sign in enumerate(self._open, start=1):
            arrays = self._compiled.signs[sign]
            if any(arrays.link_class[mode] for mode in modes):
                members = np.array([modes], dtype=np.int64)
                state = _maximum(state, axis, arrays.distribution(members, with_leak=False)[0])
        return state

    def close(self, group: Group) -> None:
        """Contract the axes of a group with its likelihood."""
        self.open(group.signs)
        axes = [self._open.index(sign) + 1 for sign in group.signs]
        every = list(range(len(axes)))
        self.state = np.tensordot(self.state, group.likelihood, (axes, every))
        self._open = [sign for sign in self._open if sign not in group.signs]


def plan_frontier(compiled: CompiledNetwork, prior: Prior, likelihood: Likelihoods) -> Plan:
    """Greedy plan: next comes the root that leaves the fewest cells open."""
    groups = groups_of(compiled, likelihood)
    signs = [sign for group in groups for sign in group.signs]
    size = {sign: len(compiled.signs[sign].states) for sign in signs}
    touches = {
        place: _touched(compiled, signs, [mode for state in root.states for mode in state])
        for place, root in enumerate(prior.roots)
    }
    order: list[int] = []
    closes: list[tuple[Group, ...]] = []
    opened: frozenset[int] = frozenset()
    waiting = list(groups)
    largest = 1
    while touches:
        place = min(touches, key=lambda root: (_cells(opened | touches[root], size), root))
        opened |= touches.pop(place)
        later = frozenset[int]().union(*touches.values())
        done = [g for g in waiting if opened & set(g.signs) and not later & set(g.signs)]
        largest = max(largest, _cells(opened.union(*(group.signs for group in done)), size))
        opened = opened.difference(*(group.signs for group in done))
        waiting = [group for group in waiting if group not in done]
        order.append(place)
        closes.append(tuple(done))
    return Plan(tuple(order), tuple(closes), tuple(waiting), largest)


def sum_over_failed_sets(
    compiled: CompiledNetwork, prior: Prior, plan: Plan, odds: FloatArray
) -> FloatArray:
    """Sum over every set of failed modes, the empty one included, of odds times P(findings | set).

    ``odds`` (C, F) base odds per context combination. Returns shape ``(C,)``.
    """
    frontier = Frontier(compiled, len(odds))
    for place, closes in zip(plan.roots, plan.closes, strict=True):
        states = prior.roots[place].states
        touched = _touched(
            compiled,
            [sign for groups in (*plan.closes, plan.untouched) for g in groups for sign in g.signs],
            [mode for state in states for mode in state],
        )
        frontier.open(sorted(touched))
        frontier.act(states, [_state_weight(prior, odds, state) for state in states])
        for group in closes:
            frontier.close(group)
    for group in plan.untouched:
        frontier.close(group)
    return frontier.state


def evidence_of_set(compiled: CompiledNetwork, plan: Plan, modes: tuple[int, ...]) -> float:
    """P(findings | exactly these modes have failed)."""
    probability = 1.0
    for group in (group for groups in (*plan.closes, plan.untouched) for group in groups):
        frontier = Frontier(compiled, 1)
        frontier.open(group.signs)
        frontier.state = frontier.raised(modes)
        frontier.close(group)
        probability *= float(frontier.state[0])
    return probability


def groups_of(compiled: CompiledNetwork, likelihood: Likelihoods) -> tuple[Group, ...]:
    """Signs with findings; those of a cluster together with the maskers of the cluster."""
    with_findings = [int(sign) for sign in np.flatnonzero(likelihood.has_findings)]
    groups, clustered = [], set[int]()
    for cluster in clusters(compiled):
        clustered |= set(cluster.signs)
        if any(sign in with_findings for sign in cluster.signs):
            inside = [s for s in cluster.signs if s in cluster.maskers or s in with_findings]
            joint = _cluster_likelihood(compiled, cluster, inside, likelihood.sign)
            groups.append(Group(tuple(inside), joint))
    for sign in with_findings:
        if sign not in clustered:
            count = len(compiled.signs[sign].states)
            groups.append(Group((sign,), likelihood.sign[sign, :count]))
    return tuple(groups)


def _cluster_likelihood(
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
            masks = compiled.masks[sign]
            acting = [mask.shows for mask in masks if mask.is_masking[shown[mask.masker]]]
            shown[sign] = acting[0] if acting else seen[sign]
        joint[cell] = np.prod([likelihood[sign, state] for sign, state in shown.items()])
    return joint


def _maximum(state: FloatArray, axis: int, caused: FloatArray) -> FloatArray:
    """Distribution of max(state on the axis, activation); ``caused`` (V,) is the activation's."""
    moved = np.moveaxis(state, axis, -1)  # (..., V)
    raised = moved * np.cumsum(caused)
    raised[..., 1:] += np.cumsum(moved, axis=-1)[..., :-1] * caused[1:]
    return np.moveaxis(raised, -1, axis)


def _state_weight(prior: Prior, odds: FloatArray, state: tuple[int, ...]) -> FloatArray:
    weight: FloatArray = np.prod(odds[:, list(state)], axis=1)
    for first, second, factor in prior.pairs:
        if first in state and second in state:
            weight = weight * factor
    return weight


def _touched(
    compiled: CompiledNetwork, signs: Sequence[int], modes: Sequence[int]
) -> frozenset[int]:
    """Signs that some of the modes act on."""
    chosen = np.unique(np.array(modes, dtype=np.int64))
    return frozenset(sign for sign in signs if compiled.signs[sign].link_class[chosen].any())


def _cells(signs: frozenset[int], size: Mapping[int, int]) -> int:
    return int(np.prod([size[sign] for sign in signs], dtype=np.int64))
