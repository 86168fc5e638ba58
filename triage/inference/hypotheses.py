"""The table of hypotheses: sets of failed modes, and how each sign sees each set.

A **hypothesis** is a non-empty set of at most ``K`` failed modes, one mode a component, or one way
in which nothing failed. For a sign, sets fall into few **local configurations**; everything about
the sign is computed once per configuration and gathered by code (docs/method.md, "Local
configurations").

Axes: ``H`` hypotheses, ``K`` members (padded with ``F``), ``S`` signs, ``R`` local configurations
of all signs one after another, ``V`` states, ``C`` context combinations.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import CompiledNetwork
from triage.inference.prior import Prior

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def failed_sets(compiled: CompiledNetwork, max_failed: int) -> IntArray:
    """Every hypothesis with at most ``max_failed`` failed modes.

    Returns
    -------
    ndarray
        Shape ``(H, max_failed)``: exclusive modes first, then sets by size and position.
    """
    alone = np.flatnonzero(compiled.is_exclusive)[:, None]
    level = np.flatnonzero(~compiled.is_exclusive)[:, None]
    levels = [alone, level]
    for _ in range(max_failed - 1):
        level = extended_sets(compiled, level)
        levels.append(level)
    return np.concatenate([_padded(sets, max_failed, compiled.mode_count) for sets in levels])


def extended_sets(compiled: CompiledNetwork, sets: IntArray) -> IntArray:
    """Every set of ``sets`` (H, k) with one more mode of a later component, shape ``(H', k+1)``.

    Applied to all sets of size ``k`` it yields all sets of size ``k + 1``, each once.
    """
    modes = np.flatnonzero(~compiled.is_exclusive)
    component = compiled.component_of_mode
    is_later = component[modes][None, :] > component[sets].max(axis=1)[:, None]  # (H, modes)
    row, column = np.nonzero(is_later)
    return np.column_stack([sets[row], modes[column]])


def grown_sets(compiled: CompiledNetwork, sets: IntArray) -> IntArray:
    """Every set one mode larger than a set of ``sets`` (H, k), each once, members in order."""
    modes = np.flatnonzero(~compiled.is_exclusive)
    component = compiled.component_of_mode
    taken = (component[modes][None, :, None] == component[sets][:, None, :]).any(axis=2)
    row, column = np.nonzero(~taken)
    return np.unique(np.sort(np.column_stack([sets[row], modes[column]]), axis=1), axis=0)


@dataclass(frozen=True, slots=True)
class Configurations:
    """Local configurations of every sign.

    ``codes`` (S, H): row of the configuration of each hypothesis; ``distribution`` (R, V):
    P(state | configuration); ``sign_of_row`` (R,); ``first_row`` (S+1,).
    """

    codes: IntArray
    distribution: FloatArray
    sign_of_row: IntArray
    first_row: IntArray

    @property
    def row_count(self) -> int:
        """``R``."""
        return len(self.distribution)

    def rows_of(self, sign: int) -> slice:
        """Rows of one sign."""
        return slice(int(self.first_row[sign]), int(self.first_row[sign + 1]))


class HypothesisTable:
    """Hypotheses of one network with their prior and local configurations."""

    def __init__(
        self,
        compiled: CompiledNetwork,
        prior: Prior,
        members: IntArray,
        configurations: Configurations | None = None,
    ) -> None:
        self.compiled = compiled
        self.prior = prior
        self.members = members
        self._configurations = configurations

    def __len__(self) -> int:
        return len(self.members)

    def under(self, prior: Prior) -> "HypothesisTable":
        """The same hypotheses with another prior."""
        return HypothesisTable(self.compiled, prior, self.members, self.configurations)

    @cached_property
    def context_joint(self) -> FloatArray:
        """P(context combination, hypothesis), shape ``(C, H)``."""
        return self.prior.context_joint(self.members)

    @cached_property
    def configurations(self) -> Configurations:
        """Local configurations of every sign; O(S H log H)."""
        if self._configurations is not None:
            return self._configurations
        signs = self.compiled.signs
        state_count = max((len(sign.states) for sign in signs), default=1)
        codes = np.empty((len(signs), len(self.members)), dtype=np.int64)
        blocks, first_row = [], [0]
        for position, sign in enumerate(signs):
            local, distribution = sign.local_configurations(self.members)
            codes[position] = local + first_row[-1]
            padded = np.zeros((len(distribution), state_count))
            padded[:, : distribution.shape[1]] = distribution
            blocks.append(padded)
            first_row.append(first_row[-1] + len(distribution))
        counts = [len(block) for block in blocks]
        return Configurations(
            codes=codes,
            distribution=np.concatenate(blocks) if blocks else np.zeros((0, state_count)),
            sign_of_row=np.repeat(np.arange(len(signs)), counts),
            first_row=np.array(first_row),
        )

    @cached_property
    def _departures(self) -> tuple[IntArray, IntArray, IntArray, IntArray]:
        """Commonest configuration of each sign (S,), and where hypotheses depart from it.

        Most hypotheses hold no cause of a given sign; only the others are stored, run by run: the
        configuration row of each run, where it starts, and the hypotheses of all runs.
        """
        codes = self.configurations.codes
        counts = np.bincount(codes.ravel(), minlength=self.configurations.row_count)
        first = self.configurations.first_row
        commonest = np.array(
            [start + np.argmax(counts[start:stop]) for start, stop in pairwise(first)],
            dtype=np.int64,
        )
        sign, hypothesis = np.nonzero(codes != commonest[:, None])
        row = codes[sign, hypothesis]
        order = np.argsort(row, kind="stable")
        rows, starts = np.unique(row[order], return_index=True)
        return commonest, rows, starts, hypothesis[order]

    def configuration_mass(self, weights: FloatArray) -> FloatArray:
        """Mass of each local configuration, shape ``(R,)``, for weights ``(H,)`` that sum to 1."""
        commonest, rows, starts, hypothesis = self._departures
        mass = np.zeros(self.configurations.row_count)
        if len(rows) > 0:
            mass[rows] = np.add.reduceat(weights[hypothesis], starts)
        departed = np.add.reduceat(mass, self.configurations.first_row[:-1])
        mass[commonest] = weights.sum() - departed
        return mass

    @cached_property
    def labels(self) -> IntArray:
        """Number of the set of failed modes of each row, ``(H,)``; repairs make rows coincide."""
        ordered = np.sort(self.members, axis=1)
        labels = np.unique(ordered, axis=0, return_inverse=True)[1]
        return np.asarray(labels, dtype=np.int64).ravel()

    def mode_probabilities(self, weights: FloatArray) -> FloatArray:
        """P(mode has failed) for each mode, shape ``(F,)``; weights ``(H,)`` sum to 1."""
        repeated = np.repeat(weights, self.members.shape[1])
        count = self.compiled.mode_count
        mass = np.bincount(self.members.ravel(), repeated, minlength=count + 1)
        return np.asarray(mass[:count], dtype=np.float64)


def _padded(sets: IntArray, width: int, sentinel: int) -> IntArray:
    padded = np.full((len(sets), width), sentinel, dtype=np.int64)
    padded[:, : sets.shape[1]] = sets
    return padded
