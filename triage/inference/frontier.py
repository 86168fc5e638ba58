"""Sum over every set of failed modes at once, without a cap and without cancellation.

State of the sum: the joint distribution of the signs that are open, for each context combination.
Roots (components, or components joined by a pair) are taken one by one; a root opens the signs it
acts on, with their leak, and raises every open axis to ``max(state, activation)``. A **group** of
signs is closed when no later root acts on it: its axes are contracted with the likelihood of its
findings. A masked sign is closed under its maskers, which must be final and stay open. Neighbouring
states that no finding and no mask tells apart are one state here. All terms are non-negative,
nothing cancels; Quickscore [Heckerman1989]_, which subtracts, loses all digits at 16 positive
findings.

Cost O(C 2^frontier) a root, the frontier being the open signs; the order of roots is greedy.

Axes of the state: ``C`` context combinations, then one per open sign.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import CompiledNetwork
from triage.inference.masking import Cluster, clusters
from triage.inference.posterior import Likelihoods
from triage.inference.prior import Prior

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """A sign, or the maskers of a cluster, contracted when no later root acts on them.

    ``likelihood`` has one axis per sign of ``under`` (maskers that must be final and stay open),
    then one per sign of ``signs`` (closed).
    """

    signs: tuple[int, ...]
    likelihood: FloatArray
    under: tuple[int, ...] = ()

    @property
    def needed(self) -> frozenset[int]:
        """Signs that must be open and final."""
        return frozenset((*self.under, *self.signs))


@dataclass(frozen=True, slots=True)
class Plan:
    """Order of the roots, the groups closed after each, the rest, and the largest state (cells).

    ``acts_on`` holds the signs each root acts on; ``first_states`` gives for each sign the first
    state of each run of states that are one here.
    """

    roots: tuple[int, ...]
    acts_on: tuple[tuple[int, ...], ...]
    closes: tuple[tuple[Group, ...], ...]
    untouched: tuple[Group, ...]
    cells: int
    first_states: Mapping[int, IntArray]

    @property
    def groups(self) -> tuple[Group, ...]:
        """Every group, in the order in which they are closed."""
        return tuple(group for groups in (*self.closes, self.untouched) for group in groups)


class Frontier:
    """Joint distribution of the open signs."""

    def __init__(
        self, compiled: CompiledNetwork, first_states: Mapping[int, IntArray], contexts: int
    ) -> None:
        self._compiled = compiled
        self._first_states = first_states
        self._open: list[int] = []
        self.state = np.ones(contexts)

    def open(self, signs: Sequence[int]) -> tuple[int, ...]:
        """Add an axis, distributed as its leak, for each sign not open yet; returns those."""
        new = tuple(sign for sign in signs if sign not in self._open)
        for sign in new:
            leak = np.diff(self._compiled.signs[sign].leak_cumulative, prepend=0.0)
            merged = np.add.reduceat(leak, self._first_states[sign])
            self.state = self.state[..., None] * merged
            self._open.append(sign)
        return new

    def act(self, states: Sequence[tuple[int, ...]], weights: Sequence[FloatArray]) -> None:
        """Let a root act: add up its states, weights ``(C,)`` each."""
        shape = (-1, *([1] * len(self._open)))
        total = np.zeros_like(self.state)
        for modes, weight in zip(states, weights, strict=True):
            total += weight.reshape(shape) * self.raised(modes, self._open)
        self.state = total

    def raised(self, modes: Sequence[int], signs: Sequence[int]) -> FloatArray:
        """State with some open signs raised by the activations of some modes."""
        state = self.state
        for sign in signs:
            axis = self._open.index(sign) + 1
            arrays = self._compiled.signs[sign]
            classes = [int(arrays.link_class[mode]) for mode in modes]
            if any(classes):
                at_most = arrays.link_cumulative[classes].prod(axis=0)  # (V,)
                last = np.append(self._first_states[sign][1:], len(at_most)) - 1
                state = _maximum(state, axis, at_most[last].tolist())
        return state

    def close(self, group: Group) -> None:
        """Contract the axes of a group with its likelihood."""
        self.open((*group.under, *group.signs))
        axes = [self._open.index(sign) + 1 for sign in (*group.under, *group.signs)]
        moved = np.moveaxis(self.state, axes, range(-len(axes), 0))
        closed = tuple(range(-len(group.signs), 0))
        summed = (moved * group.likelihood).sum(axis=closed)
        self._open = [sign for sign in self._open if sign not in group.needed]
        self._open.extend(group.under)
        self.state = summed


def plan_frontier(compiled: CompiledNetwork, prior: Prior, likelihood: Likelihoods) -> Plan:
    """Greedy plan: next comes the root that leaves the fewest cells open.

    Sets of signs are bits of a number here: a call is planned anew after every answer.
    """
    groups, first_states = _merged(groups_of(compiled, likelihood))
    signs = tuple(first_states)
    masks = _Masks(signs, {sign: len(first) for sign, first in first_states.items()})
    acts_on = _acts_on(compiled, prior, signs)
    touches = {root: masks.of(touched) for root, touched in enumerate(acts_on)}
    waiting = [_Waiting(group, masks) for group in groups]
    order: list[int] = []
    closes: list[tuple[Group, ...]] = []
    opened, largest = 0, 1
    while touches:
        root = min(touches, key=lambda place: (masks.cells(touches[place] & ~opened), place))
        opened |= touches.pop(root)
        largest = max(largest, masks.cells(opened))
        later = 0
        for touched in touches.values():
            later |= touched
        done = []
        for one in tuple(waiting):
            held = any(one.needed & other.under for other in waiting)
            if opened & one.signs and not later & one.needed and not held:
                largest = max(largest, masks.cells(opened | one.needed))
                opened = (opened | one.needed) & ~one.signs
                waiting.remove(one)
                done.append(one.group)
        order.append(root)
        closes.append(tuple(done))
    return Plan(
        roots=tuple(order),
        acts_on=tuple(acts_on[root] for root in order),
        closes=tuple(closes),
        untouched=tuple(one.group for one in waiting),
        cells=largest,
        first_states=first_states,
    )


class _Masks:
    """Sets of signs as bits, and how many cells the joint states of such a set have."""

    def __init__(self, signs: Sequence[int], size: Mapping[int, int]) -> None:
        self._bit = {sign: 1 << place for place, sign in enumerate(signs)}
        self._size = [size[sign] for sign in signs]
        self._cells: dict[int, int] = {0: 1}

    def of(self, signs: Iterable[int]) -> int:
        """Bits of some signs."""
        return sum(self._bit[sign] for sign in set(signs))

    def cells(self, mask: int) -> int:
        """Product of the numbers of states."""
        if mask not in self._cells:
            lowest = mask & -mask
            rest = self.cells(mask ^ lowest)
            self._cells[mask] = rest * self._size[lowest.bit_length() - 1]
        return self._cells[mask]


class _Waiting:
    """A group not closed yet, with its signs as bits."""

    def __init__(self, group: Group, masks: _Masks) -> None:
        self.group = group
        self.signs, self.under = masks.of(group.signs), masks.of(group.under)
        self.needed = self.signs | self.under


def sum_over_failed_sets(
    compiled: CompiledNetwork, prior: Prior, plan: Plan, odds: FloatArray
) -> FloatArray:
    """Sum over every set of failed modes, the empty one included, of odds times P(findings | set).

    ``odds`` (C, F) base odds per context combination. Returns shape ``(C,)``.
    """
    frontier = Frontier(compiled, plan.first_states, len(odds))
    for root, touched, closes in zip(plan.roots, plan.acts_on, plan.closes, strict=True):
        states = prior.roots[root].states
        frontier.open(touched)
        frontier.act(states, [_state_weight(prior, odds, state) for state in states])
        for group in closes:
            frontier.close(group)
    for group in plan.untouched:
        frontier.close(group)
    return frontier.state


def evidence_of_set(compiled: CompiledNetwork, plan: Plan, modes: tuple[int, ...]) -> float:
    """P(findings | exactly these modes have failed)."""
    frontier = Frontier(compiled, plan.first_states, 1)
    for group in plan.groups:
        new = frontier.open(sorted(group.needed))
        frontier.state = frontier.raised(modes, new)
        frontier.close(group)
    return float(frontier.state[0])


def groups_of(compiled: CompiledNetwork, likelihood: Likelihoods) -> tuple[Group, ...]:
    """Signs with findings, each masked one under its maskers; then the maskers together."""
    with_findings = [int(sign) for sign in np.flatnonzero(likelihood.has_findings)]
    groups, clustered = [], set[int]()
    for cluster in clusters(compiled):
        clustered |= set(cluster.signs)
        looked_at = [sign for sign in cluster.signs if sign in with_findings]
        if looked_at:
            groups.extend(_cluster_groups(compiled, cluster, looked_at, likelihood.sign))
    for sign in with_findings:
        if sign not in clustered:
            count = len(compiled.signs[sign].states)
            groups.append(Group((sign,), likelihood.sign[sign, :count]))
    return tuple(groups)


def _merged(groups: Sequence[Group]) -> tuple[tuple[Group, ...], Mapping[int, IntArray]]:
    """Groups with states that nothing tells apart merged, and the first state of each run."""
    differs: dict[int, NDArray[np.bool_]] = {}
    for group in groups:
        for axis, sign in enumerate((*group.under, *group.signs)):
            slices = np.moveaxis(group.likelihood, axis, 0)
            steps = (slices[1:] != slices[:-1]).reshape(len(slices) - 1, -1).any(axis=1)
            differs[sign] = differs.get(sign, np.zeros_like(steps)) | steps
    first = {sign: np.flatnonzero(np.append(True, steps)) for sign, steps in differs.items()}
    kept = [np.ix_(*(first[sign] for sign in (*group.under, *group.signs))) for group in groups]
    merged = [
        replace(group, likelihood=group.likelihood[cells])
        for group, cells in zip(groups, kept, strict=True)
    ]
    return tuple(merged), first


def _cluster_groups(
    compiled: CompiledNetwork, cluster: Cluster, looked_at: Sequence[int], likelihood: FloatArray
) -> list[Group]:
    """One group per masked sign looked at, under the maskers that bear on it; then the maskers."""
    bearing = _bearing(compiled, looked_at)
    maskers = tuple(sign for sign in cluster.maskers if sign in bearing)
    counts = [len(compiled.signs[sign].states) for sign in maskers]
    others = [sign for sign in looked_at if sign not in maskers]
    tables = {sign: np.empty((*counts, len(compiled.signs[sign].states))) for sign in others}
    own = np.empty(counts)
    for cell in product(*(range(count) for count in counts)):
        shown: dict[int, int] = {}
        for sign, seen in zip(maskers, cell, strict=True):
            forced = _forced(compiled, sign, shown)
            shown[sign] = seen if forced is None else forced
        own[cell] = np.prod([likelihood[sign, state] for sign, state in shown.items()])
        for sign, table in tables.items():
            forced = _forced(compiled, sign, shown)
            states = likelihood[sign, : table.shape[-1]]
            table[cell] = states if forced is None else likelihood[sign, forced]
    return [
        *(Group((sign,), table, under=maskers) for sign, table in tables.items()),
        Group(maskers, own),
    ]


def _bearing(compiled: CompiledNetwork, signs: Sequence[int]) -> frozenset[int]:
    """The signs and every masker that bears on them, directly or through another masker."""
    found: set[int] = set()
    stack = list(signs)
    while stack:
        sign = stack.pop()
        if sign not in found:
            found.add(sign)
            stack.extend(mask.masker for mask in compiled.masks[sign])
    return frozenset(found)


def _forced(compiled: CompiledNetwork, sign: int, shown: Mapping[int, int]) -> int | None:
    """State the first acting mask forces, given what the maskers show; None if none acts."""
    for mask in compiled.masks[sign]:
        if mask.is_masking[shown[mask.masker]]:
            return mask.shows
    return None


def _maximum(state: FloatArray, axis: int, at_most: Sequence[float]) -> FloatArray:
    """Distribution of max(state on the axis, activation); ``at_most`` is P(activation <= value).

    Value by value and not by running sums along the axis, which is short: several times faster.
    """
    moved = np.moveaxis(state, axis, 0)  # (V, ...)
    maximum = np.empty_like(state)
    raised = np.moveaxis(maximum, axis, 0)
    np.multiply(moved[0], at_most[0], out=raised[0])
    below = moved[0]
    for place, (before, here) in enumerate(pairwise(at_most), start=1):
        if place > 1:
            below = below + moved[place - 1]
        np.multiply(below, here - before, out=raised[place])
        raised[place] += moved[place] if here == 1.0 else moved[place] * here
    return maximum


def _state_weight(prior: Prior, odds: FloatArray, state: tuple[int, ...]) -> FloatArray:
    weight: FloatArray = np.prod(odds[:, list(state)], axis=1)
    for first, second, factor in prior.pairs:
        if first in state and second in state:
            weight = weight * factor
    return weight


def _acts_on(
    compiled: CompiledNetwork, prior: Prior, signs: Sequence[int]
) -> tuple[tuple[int, ...], ...]:
    """Signs that some mode of each root acts on, in their order."""
    acts = np.zeros((len(signs), compiled.mode_count + 1), dtype=bool)
    for place, sign in enumerate(signs):
        acts[place] = compiled.signs[sign].link_class != 0
    modes = [sorted({mode for state in root.states for mode in state}) for root in prior.roots]
    return tuple(
        tuple(sorted(signs[int(place)] for place in np.flatnonzero(acts[:, chosen].any(axis=1))))
        for chosen in modes
    )
