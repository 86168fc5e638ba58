"""A discrete Bayesian network as plain tables, for networks that others published.

Fault networks have their own values (``triage.network.values``); this one holds any network of
variables with a few states each, such as those in BIF files (``triage.network.bif``).

Axes of a table: one per parent, in the order of ``parents``, then the variable itself, so that
``tables[v][i, j]`` is the distribution of ``v`` with its first parent in state ``i`` and its
second in state ``j``.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from triage.errors import NetworkFileError, UnknownAnswerError, UnknownObservationError

FloatArray = NDArray[np.float64]

ROW_TOLERANCE = 1e-9
"""How far a row may be from 1, dimensionless; far above the rounding of a sum in float64."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DiscreteNetwork:
    """Variables with their states, parents and probability tables, all in the same order.

    Attributes
    ----------
    name : str
        What messages call it; a path if it came from a file.
    states : Mapping[str, tuple[str, ...]]
        States of each variable.
    parents : Mapping[str, tuple[str, ...]]
        Parents of each variable.
    tables : Mapping[str, FloatArray]
        ``P(variable | parents)``, one axis per parent and the variable last; read-only copies.

    Raises
    ------
    NetworkFileError
        No variable, a table that is missing, of the wrong shape or no distribution, an unknown
        parent or a cycle. All problems are listed.
    """

    name: str
    states: Mapping[str, tuple[str, ...]]
    parents: Mapping[str, tuple[str, ...]]
    tables: Mapping[str, FloatArray]

    def __post_init__(self) -> None:
        tables = {name: np.array(table, dtype=np.float64) for name, table in self.tables.items()}
        for table in tables.values():
            table.setflags(write=False)
        object.__setattr__(self, "tables", MappingProxyType(tables))
        problems = list(self._problems())
        if problems:
            raise NetworkFileError(self.name, problems)

    def scope(self, variable: str) -> tuple[str, ...]:
        """Names of the axes of the variable's table: its parents, then itself."""
        return (*self.parents[variable], variable)

    def state_index(self, variable: str, state: str) -> int:
        """Position of a state, or ``UnknownObservationError`` or ``UnknownAnswerError``."""
        self.require(variable)
        if state not in self.states[variable]:
            raise UnknownAnswerError(variable, state, self.states[variable])
        return self.states[variable].index(state)

    def require(self, variable: str) -> None:
        """Raise ``UnknownObservationError`` unless the network has this variable."""
        if variable not in self.states:
            raise UnknownObservationError(variable, list(self.states))

    def ancestors(self, variables: Iterable[str]) -> tuple[str, ...]:
        """Give these variables and everything above them, in network order.

        The rest is *barren*: summed over, it gives 1 and changes nothing.
        """
        found: set[str] = set()
        waiting = list(variables)
        while waiting:
            variable = waiting.pop()
            self.require(variable)
            if variable not in found:
                found.add(variable)
                waiting.extend(self.parents[variable])
        return tuple(variable for variable in self.states if variable in found)

    def _problems(self) -> Iterator[str]:
        if not self.states:
            yield "no variable found; expected at least one"
        for variable in self.states:
            unknown = [name for name in self.parents[variable] if name not in self.states]
            if unknown:
                yield f'variable "{variable}": parents {unknown} are not variables of the network'
            elif variable not in self.tables:
                yield f'variable "{variable}": no probabilities; expected a table'
            else:
                yield from self._table_problems(variable)
        yield from self._cycles()

    def _table_problems(self, variable: str) -> Iterator[str]:
        table = self.tables[variable]
        shape = tuple(len(self.states[name]) for name in self.scope(variable))
        if table.shape != shape:
            yield f'variable "{variable}": table has shape {table.shape}; expected {shape}'
            return
        if not np.all(np.isfinite(table) & (table >= 0)):
            yield f'variable "{variable}": a probability is negative or missing; expected 0 to 1'
            return
        sums = table.sum(axis=-1)
        for row in np.argwhere(np.abs(sums - 1.0) > ROW_TOLERANCE):
            given = [
                f"{parent} = {self.states[parent][state]}"
                for parent, state in zip(self.parents[variable], row, strict=True)
            ]
            place = f" given {', '.join(given)}" if given else ""
            yield (
                f'variable "{variable}"{place}: probabilities sum to {sums[tuple(row)]:.9g}; '
                f"expected 1 within {ROW_TOLERANCE:g}"
            )

    def _cycles(self) -> Iterator[str]:
        try:
            TopologicalSorter(self.parents).prepare()
        except CycleError as error:
            yield f"variables depend on themselves: {' <- '.join(error.args[1])}; expected no cycle"
