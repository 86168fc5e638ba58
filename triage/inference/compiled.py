"""A fault network as arrays: what every other module of this package computes with.

Axes: ``F`` failure modes (a sentinel ``F`` stands for "no further mode"), ``C`` combinations of
context values, ``S`` signs, ``V`` states of a sign (padded to the longest), ``O`` observations,
``A`` answers (padded).

Each sign sees a set of failed modes only through the **classes** of its links: two modes with the
same link are interchangeable for it. Class 0 is "not a cause".
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from triage.network.values import (
    Combination,
    ComponentKind,
    FaultNetwork,
    NetworkIndex,
    Observation,
    Sign,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class SignArrays:
    """Local distributions of one sign.

    ``link_class`` (F+1,) class of each mode; ``link_cumulative`` (L+1, V) is P(state <= v) of each
    class alone; ``leak_cumulative`` (V,). For a table sign ``row_modes`` holds the modes of each
    decision row and ``row_distribution`` (rows, V).
    """

    id: str
    states: tuple[str, ...]
    link_class: IntArray
    link_cumulative: FloatArray
    leak_cumulative: FloatArray
    row_modes: tuple[tuple[int, ...], ...]
    row_distribution: FloatArray

    @property
    def is_table(self) -> bool:
        """Whether the sign follows a decision list instead of noisy-MAX."""
        return len(self.row_modes) > 0

    def local_configurations(self, members: IntArray) -> tuple[IntArray, FloatArray]:
        """Distinct ways the sign sees the given sets.

        Parameters
        ----------
        members : ndarray
            Shape ``(H, K)``, modes of each set, padded with ``F``.

        Returns
        -------
        codes : ndarray
            Shape ``(H,)``, configuration of each set.
        distribution : ndarray
            Shape ``(U, V)``, P(state | configuration).
        """
        classes = np.sort(self.link_class[members], axis=1)  # (H, K)
        base = len(self.link_cumulative)
        keys = classes @ base ** np.arange(members.shape[1], dtype=np.int64)  # (H,)
        _, first, codes = np.unique(keys, return_index=True, return_inverse=True)
        return codes, self.distribution(members[first])

    def distribution(self, members: IntArray, *, with_leak: bool = True) -> FloatArray:
        """P(state | set), shape ``(H, V)``; without the leak, of the modes of the set alone."""
        if self.is_table:
            return self._table_distribution(members)
        cumulative = np.prod(self.link_cumulative[self.link_class[members]], axis=1)  # (H, V)
        if with_leak:
            cumulative = cumulative * self.leak_cumulative
        return np.diff(cumulative, axis=1, prepend=0.0)

    def _table_distribution(self, members: IntArray) -> FloatArray:
        result = np.empty((len(members), len(self.states)))
        undecided = np.ones(len(members), dtype=bool)
        for modes, distribution in zip(self.row_modes, self.row_distribution, strict=True):
            matches = undecided.copy()
            for mode in modes:
                matches &= (members == mode).any(axis=1)
            result[matches] = distribution
            undecided &= ~matches
        return result


@dataclass(frozen=True, slots=True)
class MaskArrays:
    """Mask on a sign: position of the masker, its masking states (V,) as booleans, state shown."""

    masker: int
    is_masking: NDArray[np.bool_]
    shows: int


class CompiledNetwork:
    """Arrays of one fault network, in file order."""

    def __init__(self, network: FaultNetwork) -> None:
        self.network = network
        self.index = NetworkIndex(network)
        self.mode_ids = tuple(self.index.modes)
        self.mode_position = {mode: position for position, mode in enumerate(self.mode_ids)}
        self.sign_ids = tuple(network.signs)
        self.sign_position = {sign: position for position, sign in enumerate(self.sign_ids)}
        self.observation_ids = tuple(network.observations)
        self.observations: tuple[Observation, ...] = tuple(network.observations.values())

    @property
    def mode_count(self) -> int:
        """``F``, also the sentinel that pads sets."""
        return len(self.mode_ids)

    @cached_property
    def component_of_mode(self) -> IntArray:
        """Shape ``(F,)``, position of each mode's component."""
        order = {component: place for place, component in enumerate(self.network.components)}
        return np.array([order[self.index.component_of[mode].id] for mode in self.mode_ids])

    @cached_property
    def is_exclusive(self) -> NDArray[np.bool_]:
        """Shape ``(F,)``: the mode excludes every other ("nothing failed").

        With one expected failed mode per call every mode excludes every other.
        """
        if self.network.expected_failed_modes == 1.0:
            return np.ones(self.mode_count, dtype=bool)
        return self.nothing_failed

    @cached_property
    def nothing_failed(self) -> NDArray[np.bool_]:
        """Shape ``(F,)``: the mode is a way in which nothing failed."""
        kinds = [self.index.component_of[mode].kind for mode in self.mode_ids]
        return np.array([kind is ComponentKind.NOTHING_FAILED for kind in kinds])

    @cached_property
    def context_ids(self) -> tuple[str, ...]:
        """Context variables, in file order."""
        return tuple(self.network.contexts)

    @cached_property
    def context_values(self) -> IntArray:
        """Shape ``(C, contexts)``: value of each context variable in each combination."""
        sizes = [len(context.values) for context in self.network.contexts.values()]
        combinations = list(product(*(range(size) for size in sizes)))
        return np.array(combinations, dtype=np.int64).reshape(len(combinations), len(sizes))

    @cached_property
    def context_prior(self) -> FloatArray:
        """Shape ``(C,)``, probability of each combination at the call."""
        prior = np.ones(len(self.context_values))
        for column, context in enumerate(self.network.contexts.values()):
            prior = prior * np.array(context.probabilities)[self.context_values[:, column]]
        return prior

    @cached_property
    def multipliers(self) -> FloatArray:
        """Shape ``(C, F)``, product of the multipliers that act on each mode."""
        result = np.ones((len(self.context_values), self.mode_count))
        for column, context in enumerate(self.network.contexts.values()):
            for position, mode in enumerate(self.index.modes.values()):
                by_value = mode.multipliers.get(context.id, {})
                factors = np.array([by_value.get(value, 1.0) for value in context.values])
                result[:, position] *= factors[self.context_values[:, column]]
        return result

    @cached_property
    def signs(self) -> tuple[SignArrays, ...]:
        """Arrays of each sign."""
        return tuple(_compile_sign(sign, self) for sign in self.network.signs.values())

    @cached_property
    def masks(self) -> tuple[tuple[MaskArrays, ...], ...]:
        """Masks on each sign, in the order in which they act."""
        return tuple(
            tuple(self._compile_mask(sign, place) for place in range(len(sign.masks)))
            for sign in self.network.signs.values()
        )

    @cached_property
    def observations_of_sign(self) -> tuple[tuple[int, ...], ...]:
        """Positions of the observations that look at each sign."""
        return tuple(
            tuple(
                position
                for position, observation in enumerate(self.observations)
                if observation.sign == sign
            )
            for sign in self.sign_ids
        )

    def _compile_mask(self, sign: Sign, place: int) -> MaskArrays:
        mask = sign.masks[place]
        masker = self.network.signs[mask.masker]
        is_masking = np.array([state in mask.states for state in masker.states])
        return MaskArrays(
            self.sign_position[mask.masker], is_masking, sign.states.index(mask.shows)
        )


def _compile_sign(sign: Sign, compiled: CompiledNetwork) -> SignArrays:
    state_count = len(sign.states)
    link_class = np.zeros(compiled.mode_count + 1, dtype=np.int64)
    if sign.combination is Combination.TABLE:
        for number, mode in enumerate(sign.parents, start=1):
            link_class[compiled.mode_position[mode]] = number
        links: list[tuple[float, ...]] = [_normal(state_count)] * (len(sign.parents) + 1)
    else:
        links = [_normal(state_count), *dict.fromkeys(sign.causes.values())]
        for mode, link in sign.causes.items():
            link_class[compiled.mode_position[mode]] = links.index(link, 1)
    rows = tuple(tuple(compiled.mode_position[mode] for mode in row.when) for row in sign.rows)
    return SignArrays(
        id=sign.id,
        states=sign.states,
        link_class=link_class,
        link_cumulative=_cumulative(np.array(links)),
        leak_cumulative=_cumulative(np.array([sign.leak]))[0],
        row_modes=rows,
        row_distribution=np.array([row.then for row in sign.rows]).reshape(-1, state_count),
    )


def _normal(state_count: int) -> tuple[float, ...]:
    return (1.0, *([0.0] * (state_count - 1)))


def _cumulative(distributions: FloatArray) -> FloatArray:
    cumulative = np.cumsum(distributions, axis=1)
    cumulative[:, -1] = 1.0  # exactly, so that products of many links stay distributions
    return cumulative
