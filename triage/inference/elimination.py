r"""Exact sums over everything that was not observed, in any discrete Bayesian network.

**Variable elimination** [ZhangPoole1996]_ multiplies the tables that mention a variable, sums the
variable out and goes on with the rest. The order decides the cost; **min-fill** [Kjaerulff1990]_
picks the variable whose removal joins the fewest strangers. The products are written down once, as
a **tape** of two-operand steps, and replayed for any findings:

- Every variable has a **likelihood** vector, one number per state: ones if nothing is known of it,
  a single one for a hard finding, anything non-negative for a soft one.
- ``P(evidence)`` is linear in each of these vectors, so one pass backwards over the tape gives
  the derivative, ``P(variable = s, evidence without its own finding)``, for *all* variables
  [Darwiche2003]_.
- Some variables may be **fixed**, each to one state per hypothesis. Tables that depend on them get
  a last axis over hypotheses, the others do not, and the same steps serve both. The hypothesis
  axis comes last because the inner loop then runs over it, which is six times as fast.

Axes: ``H`` hypotheses, ``V`` states of one variable.

Cost: ``O(H n 2^w)`` for ``n`` binary variables and width ``w``, forward and backward alike.

>>> rain = DiscreteNetwork(
...     name="rain",
...     states={"rain": ("no", "yes"), "grass": ("dry", "wet")},
...     parents={"rain": (), "grass": ("rain",)},
...     tables={"rain": np.array([0.8, 0.2]), "grass": np.array([[0.9, 0.1], [0.0, 1.0]])},
... )
>>> wet = {"grass": np.array([0.0, 1.0])}
>>> probability, joint = Elimination(rain, ["grass"]).derivatives(wet)
>>> round(float(probability), 9), joint["rain"].round(9).tolist()
(0.28, [0.08, 0.2])
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from string import ascii_letters

import numpy as np
from numpy.typing import NDArray

from triage.errors import NetworkFileError
from triage.network.discrete import DiscreteNetwork, FloatArray

IntArray = NDArray[np.intp]
Scope = tuple[str, ...]

LARGEST_TABLE = 2**27
"""Most numbers in one table, per hypothesis: 1 GiB in float64. A wider network would stop the
machine, not just take long."""


@dataclass(frozen=True, slots=True)
class Step:
    """One product of two tables, and its derivative, as ``einsum`` subscripts.

    ``left`` and ``right`` are positions on the tape; the result goes to the end of it.
    """

    left: int
    right: int
    product: str
    to_left: str
    to_right: str


class Elimination:
    """Elimination of a network, compiled once and run for any findings.

    Parameters
    ----------
    network : DiscreteNetwork
        Any discrete network.
    about : Iterable[str]
        Variables that will be asked about or observed. What lies below them all is pruned.
    fixed : Mapping[str, IntArray], optional
        State of each fixed variable under each hypothesis, shape ``(H,)``. Their tables are
        indexed by these, so fixing variables makes the rest easier, never harder.

    Raises
    ------
    UnknownObservationError
        A variable that the network does not have.
    NetworkFileError
        The network is too densely connected: a table would exceed ``LARGEST_TABLE``.

    Attributes
    ----------
    variables : tuple[str, ...]
        What was not pruned, in network order.
    """

    def __init__(
        self,
        network: DiscreteNetwork,
        about: Iterable[str],
        fixed: Mapping[str, IntArray] | None = None,
    ) -> None:
        fixed = fixed or {}
        self._network = network
        self.variables = network.ancestors([*about, *fixed])
        self._tape: list[FloatArray] = []  # constant beginning: likelihoods of nothing, then tables
        self._scopes: list[Scope] = []
        self._steps: list[Step] = []
        for variable in self.variables:
            self._put((variable,), np.ones(len(network.states[variable])))
        for variable, states in fixed.items():
            indicator = np.eye(len(network.states[variable]))[:, states]  # (V, H)
            self._put((variable,), indicator)
        prior = np.ones(())
        for variable in self.variables:
            scope, table = _fix(network.scope(variable), network.tables[variable], fixed)
            if scope:
                self._put(scope, table)
            else:
                prior = prior * table  # (H,)
        tables = range(len(self.variables), len(self._tape))
        self._put((), prior)
        order = min_fill_order(self.variables, [self._scopes[slot] for slot in tables])
        self._compile(order)

    def evidence_probability(self, likelihoods: Mapping[str, FloatArray]) -> FloatArray:
        """``P(h, evidence)``, shape ``(H,)``; a scalar array if nothing is fixed.

        ``likelihoods`` holds a vector ``(V,)`` for each variable something is known of.
        """
        return self._forward(likelihoods)[-1]

    def derivatives(
        self, likelihoods: Mapping[str, FloatArray]
    ) -> tuple[FloatArray, Mapping[str, FloatArray]]:
        """``P(h, evidence)`` and, for every variable, what it would be in each of its states.

        Parameters
        ----------
        likelihoods : Mapping[str, FloatArray]
            A vector ``(V,)`` for each variable something is known of.

        Returns
        -------
        evidence : FloatArray
            ``P(h, evidence)``, shape ``(H,)``; a scalar array if nothing is fixed.
        joint : Mapping[str, FloatArray]
            ``P(h, variable = s, evidence)`` by variable, shape ``(V, H)``, or ``(V,)`` if nothing
            is fixed; the variable's own likelihood is left out.
        """
        tape = self._forward(likelihoods)
        known = range(len(self.variables), len(self._tape))  # constants: no derivative is wanted
        gradient = [np.ones(())] * len(tape)
        for slot in range(len(tape) - 1, len(self._tape) - 1, -1):
            step = self._steps[slot - len(self._tape)]
            if step.left not in known:
                gradient[step.left] = np.einsum(step.to_left, gradient[slot], tape[step.right])
            if step.right not in known:
                gradient[step.right] = np.einsum(step.to_right, gradient[slot], tape[step.left])
        return tape[-1], dict(zip(self.variables, gradient, strict=False))

    def _forward(self, likelihoods: Mapping[str, FloatArray]) -> list[FloatArray]:
        tape = list(self._tape)
        for slot, variable in enumerate(self.variables):
            tape[slot] = likelihoods.get(variable, tape[slot])
        for step in self._steps:
            tape.append(np.einsum(step.product, tape[step.left], tape[step.right]))
        return tape

    def _put(self, scope: Scope, table: FloatArray) -> None:
        self._tape.append(table)
        self._scopes.append(scope)

    def _compile(self, order: Sequence[str]) -> None:
        """Write the steps: one bucket per variable, then the product of what is left."""
        waiting = list(range(len(self.variables), len(self._tape)))
        for variable in order:
            bucket = [slot for slot in waiting if variable in self._scopes[slot]]
            waiting = [slot for slot in waiting if slot not in bucket]
            # Small tables first. The variable's own likelihood is the smallest, and it makes sure
            # that every step has two operands that know the variable.
            bucket.sort(key=lambda slot: len(self._scopes[slot]))
            result = self.variables.index(variable)
            for slot in bucket[:-1]:
                result = self._multiply(result, slot)
            waiting.append(self._multiply(result, bucket[-1], sum_out=variable))
        result = waiting[0]
        for slot in waiting[1:]:
            result = self._multiply(result, slot)

    def _multiply(self, left: int, right: int, sum_out: str | None = None) -> int:
        """Add the step for one product, summed over one variable; position of its result."""
        scopes = self._scopes[left], self._scopes[right]
        union = tuple(dict.fromkeys(scopes[0] + scopes[1]))
        size = math.prod(len(self._network.states[variable]) for variable in union)
        if size > LARGEST_TABLE:
            problem = (
                f"elimination needs a table of {size} numbers; expected at most {LARGEST_TABLE}"
            )
            raise NetworkFileError(self._network.name, [f"{problem}; fix more variables"])
        scope = tuple(variable for variable in union if variable != sum_out)
        letters = dict(zip(union, ascii_letters, strict=False))
        a, b, c = (
            "".join(letters[variable] for variable in axes) + "..." for axes in (*scopes, scope)
        )
        self._steps.append(Step(left, right, f"{a},{b}->{c}", f"{c},{b}->{a}", f"{c},{a}->{b}"))
        self._scopes.append(scope)
        return len(self._scopes) - 1


def min_fill_order(variables: Sequence[str], scopes: Iterable[Scope]) -> list[str]:
    """Order of elimination that joins the fewest strangers at each step.

    Parameters
    ----------
    variables : Sequence[str]
        What to eliminate; earlier ones first among equals.
    scopes : Iterable[tuple[str, ...]]
        Variables that stand in a table together.

    Returns
    -------
    list[str]
        The variables, in order of elimination.
    """
    position = {variable: place for place, variable in enumerate(variables)}
    neighbours: dict[str, set[str]] = {variable: set() for variable in variables}
    for scope in scopes:
        for variable in scope:
            neighbours[variable].update(set(scope) - {variable})

    def cost(variable: str) -> tuple[int, int, int]:
        around = neighbours[variable]
        strangers = sum(b not in neighbours[a] for a, b in combinations(around, 2))
        return strangers, len(around), position[variable]

    order = []
    while neighbours:
        variable = min(neighbours, key=cost)
        around = neighbours.pop(variable)
        for other in around:
            neighbours[other] |= around
            neighbours[other] -= {other, variable}
        order.append(variable)
    return order


def _fix(
    scope: Scope, table: FloatArray, fixed: Mapping[str, IntArray]
) -> tuple[Scope, FloatArray]:
    """Table without its fixed variables: ``(V, ..., H)`` if it had any, else as it is."""
    free = tuple(variable for variable in scope if variable not in fixed)
    if len(free) == len(scope):
        return scope, table
    axes = [scope.index(variable) for variable in free]
    axes += [axis for axis, variable in enumerate(scope) if variable in fixed]
    states = tuple(fixed[variable] for variable in scope if variable in fixed)
    leading = (slice(None),) * len(free)
    picked = table.transpose(axes)[leading + states]  # (V, ..., H)
    return free, np.ascontiguousarray(picked)
