"""A network's numbers at work on answer patterns: likelihood of cells, of jobs, of contexts.

Axes: ``J`` jobs, ``H`` hypotheses, ``C`` context combinations, ``Q`` patterns of answers about
contexts, ``N`` cells of a unit.
"""

from collections.abc import Sequence
from copy import copy
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import CompiledNetwork
from triage.inference.prior import Prior, solve_prior
from triage.learning.columns import JobColumns
from triage.learning.layout import Layout, Unit
from triage.learning.parameters import (
    Parameters,
    answer_table,
    answer_tables,
    network_with,
    parameters_of,
)
from triage.learning.units import Cells, CellStates, cell_states, configuration_distribution
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DIRECT_KEYS_MAX = 2_000_000  # below, distinct keys are found by counting instead of sorting
JOBS_AT_ONCE = 1000


class Model:
    """Numbers of one network over a layout."""

    def __init__(self, layout: Layout, parameters: Parameters) -> None:
        self.layout = layout
        self.parameters = parameters
        self.tables = answer_tables(layout, parameters)
        self.distributions = tuple(
            configuration_distribution(sign, links)
            for sign, links in zip(layout.signs, parameters.links, strict=True)
        )

    @classmethod
    def of(cls, network: FaultNetwork, layout: Layout | None = None) -> "Model":
        """Model of a network; the layout may be that of another version with the same structure."""
        return cls(layout or Layout(network), parameters_of(network))

    def with_links(self, sign: int, parameters: Parameters) -> "Model":
        """Model that differs in the links of one sign; shares everything else, the prior too."""
        other = copy(self)
        other.__dict__.pop("compiled", None)
        other.parameters = parameters
        here = configuration_distribution(self.layout.signs[sign], parameters.links[sign])
        other.distributions = (
            *self.distributions[:sign],
            here,
            *self.distributions[sign + 1 :],
        )
        return other

    def with_channel(self, observation: int, parameters: Parameters) -> "Model":
        """Model that differs in the channel of one observation; shares everything else."""
        other = copy(self)
        other.__dict__.pop("compiled", None)
        other.parameters = parameters
        entry = self.layout.compiled.observations[observation]
        here = answer_table(entry, parameters.channels[observation])
        other.tables = (*self.tables[:observation], here, *self.tables[observation + 1 :])
        return other

    @cached_property
    def compiled(self) -> CompiledNetwork:
        """The network with these numbers, as arrays."""
        return CompiledNetwork(network_with(self.layout.network, self.parameters))

    @cached_property
    def prior(self) -> Prior:
        """Base odds that reproduce the shares."""
        return solve_prior(self.compiled)

    @cached_property
    def joint(self) -> FloatArray:
        """P(context combination, hypothesis), shape ``(C, H)``."""
        return self.prior.context_joint(self.layout.members)

    def cell_states(self, unit: Unit, cells: Cells, *, with_states: bool = True) -> CellStates:
        """Likelihood of the cells of a unit and what they say about its signs."""
        return cell_states(
            unit,
            cells,
            [self.distributions[sign] for sign in unit.signs],
            [self.tables[place] for place in unit.observations],
            with_states=with_states,
        )

    def context_likelihood(self, codes: IntArray) -> FloatArray:
        """P(answers about contexts | combination), ``(Q, C)``, of codes (Q, observations)."""
        layout = self.layout
        values = layout.compiled.context_values  # (C, contexts)
        result = np.ones((len(codes), len(values)))
        for column, place in enumerate(layout.context_observations):
            context = layout.compiled.observations[place].context
            assert context is not None
            table = self.tables[place][codes[:, column]]  # (Q, values)
            result *= table[:, values[:, layout.compiled.context_ids.index(context)]]
        return result

    def log_joint(self, columns: JobColumns) -> FloatArray:
        """Log P(hypothesis, answers), shape ``(J, H)``; what is known of causes is left out."""
        layout = self.layout
        pattern = patterns(columns, layout.context_observations, layout.context_strides)
        found, place = np.unique(pattern, return_inverse=True)
        with np.errstate(divide="ignore"):
            context = np.log(self.context_likelihood(context_codes(layout, found)) @ self.joint)
        total = context[place.ravel()]
        for unit in layout.units:
            pattern = patterns(columns, unit.observations, unit.strides)
            jobs = np.flatnonzero(pattern > 0)
            if len(jobs) > 0:
                found, place = np.unique(pattern[jobs], return_inverse=True)
                total[jobs] += self._log_table(unit, found)[place.ravel()][:, unit.config]
        return np.asarray(total)

    def log_posterior(self, columns: JobColumns) -> FloatArray:
        """Log P(hypothesis | answers), shape ``(J, H)``."""
        blocks = []
        for start in range(0, len(columns), JOBS_AT_ONCE):
            block = self.log_joint(columns.taking(slice(start, start + JOBS_AT_ONCE)))
            best = block.max(axis=1, keepdims=True)
            block -= best + np.log(np.exp(block - best).sum(axis=1, keepdims=True))
            blocks.append(block)
        return np.concatenate(blocks) if blocks else np.zeros((0, len(self.layout.members)))

    def _log_table(self, unit: Unit, found: IntArray) -> FloatArray:
        """Log likelihood of every configuration for each pattern, ``(patterns, U)``."""
        configs = len(unit.sign_config)
        cells = Cells(
            np.tile(np.arange(configs), len(found)),
            np.repeat(unit_codes(found, unit, self.layout), configs, axis=0),
        )
        likelihood = self.cell_states(unit, cells, with_states=False).likelihood
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(likelihood).reshape(len(found), configs))


def patterns(columns: JobColumns, observations: Sequence[int], strides: IntArray) -> IntArray:
    """Number of the answer pattern of each job, shape ``(J,)``; 0 if nothing was answered."""
    pattern = np.zeros(len(columns), dtype=np.int64)
    for observation, stride in zip(observations, strides, strict=True):
        pattern += columns.answers[observation] * stride
    return pattern


def unit_codes(found: IntArray, unit: Unit, layout: Layout) -> IntArray:
    """Codes of answer patterns of a unit, shape ``(patterns, observations)``."""
    counts = np.array([layout.code_counts[place] for place in unit.observations])
    return np.asarray(found[:, None] // unit.strides % counts)


def context_codes(layout: Layout, found: IntArray) -> IntArray:
    """Codes of answer patterns about contexts, shape ``(patterns, observations)``."""
    counts = [layout.code_counts[place] for place in layout.context_observations]
    return np.asarray(found[:, None] // layout.context_strides % np.array(counts, dtype=np.int64))


def sums(groups: IntArray, values: FloatArray, count: int) -> FloatArray:
    """Sum of ``values`` (N,) by group, shape ``(count,)``."""
    return np.asarray(np.bincount(groups, values, count), dtype=np.float64)


def distinct(keys: IntArray, size: int) -> tuple[IntArray, IntArray]:
    """Distinct keys in order, and the place of each key among them; keys are below ``size``."""
    if size > DIRECT_KEYS_MAX:
        found, places = np.unique(keys, return_inverse=True)
        return found, np.asarray(places, dtype=np.int64).ravel()
    found = np.flatnonzero(np.bincount(keys, minlength=size))
    place_of = np.zeros(size, dtype=np.int64)
    place_of[found] = np.arange(len(found))
    return found, place_of[keys]
