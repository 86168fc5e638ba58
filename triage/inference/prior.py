r"""Base odds of the failure modes, solved so that the stated shares hold exactly.

Given a context combination ``c`` the call has the prior

.. math:: P(h | c) = \frac{1}{Z(c)} \prod_{m \in h} e^{\theta_m} k_m(c)
          \prod_{(a,b) \subset h} e^{\theta_{ab}}

over every non-empty set ``h`` of failed modes (one mode a component) and over each way in which
nothing failed, which is a set of its own; ``k`` are the context multipliers. This is an exponential
family whose statistics are "mode m has failed" and "both of pair ab have failed". Its ``theta`` are
found by Newton's method on the convex function ``sum_c P(c) log Z(c) - theta . target``, whose
gradient is "expected statistics minus target". No cap on the number of failed modes is involved.

Components joined by pair factors form one **root**; roots are independent but for the exclusion of
the empty set, so every sum factorises: O(C F^2) a step, about ten steps.

A network that expects exactly one failed mode makes every mode exclude every other.
"""

from dataclasses import dataclass
from itertools import product

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from triage.errors import InfeasiblePriorError
from triage.inference.compiled import CompiledNetwork

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

GRADIENT_TOLERANCE = 1e-13  # probability; float64 carries about 1e-15 here
STEPS_MAX = 200


@dataclass(frozen=True, slots=True)
class Root:
    """Components joined by pair factors; ``states`` are the sets of modes they can be in."""

    states: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Prior:
    """Solved prior.

    ``odds`` (C, F) base odds of each mode in each context combination, multipliers included;
    ``pairs`` positions of two modes and the factor that multiplies their odds when both failed;
    ``normaliser`` (C,) is Z(c); ``context`` (C,) the probability of each combination at the call.
    """

    odds: FloatArray
    pairs: tuple[tuple[int, int, float], ...]
    normaliser: FloatArray
    context: FloatArray
    roots: tuple[Root, ...]
    exclusive: IntArray

    def pair_factor(self, members: IntArray) -> FloatArray:
        """Product of the pair factors inside each set, shape ``(H,)`` for members ``(H, K)``."""
        factor = np.ones(len(members))
        for first, second, value in self.pairs:
            both = (members == first).any(axis=1) & (members == second).any(axis=1)
            factor[both] *= value
        return factor

    def context_joint(self, members: IntArray) -> FloatArray:
        """P(context combination, set), shape ``(C, H)``; sums to 1 over every possible set."""
        padded = np.column_stack([self.odds, np.ones(len(self.odds))])  # (C, F+1)
        joint = np.repeat((self.context / self.normaliser)[:, None], len(members), axis=1)
        for column in members.T:
            joint *= padded[:, column]
        return joint * self.pair_factor(members)  # (C, H)


def solve_prior(compiled: CompiledNetwork) -> Prior:
    """Find base odds and pair factors that reproduce shares and pair probabilities.

    Raises
    ------
    InfeasiblePriorError
        No odds do so: ``expected_failed_modes`` below 1, or a pair more probable than its modes.
    """
    family = _Family(compiled)
    theta = family.starting_point()
    for _ in range(STEPS_MAX):
        objective, gradient, curvature = family.evaluate(theta)
        if np.abs(gradient).max() < GRADIENT_TOLERANCE:
            return family.prior(theta)
        step = np.asarray(np.linalg.lstsq(curvature, gradient, rcond=None)[0], dtype=np.float64)
        theta = _line_search(family, theta, step, objective, gradient)
    raise InfeasiblePriorError(
        compiled.network.id,
        f"the shares are still off by {np.abs(gradient).max():.1e} after {STEPS_MAX} steps; "
        "check the pairs and the expected number of failed modes",
    )


class _Family:
    """The exponential family of the module docstring; statistics are modes, then pairs."""

    def __init__(self, compiled: CompiledNetwork) -> None:
        network = compiled.network
        self.compiled = compiled
        self.pairs = [
            (compiled.mode_position[pair.modes[0]], compiled.mode_position[pair.modes[1]])
            for pair in network.pairs
        ]
        self.exclusive = np.flatnonzero(compiled.is_exclusive)
        self.roots = _roots(compiled, self.pairs)
        self.states = _States(self.roots, self.pairs, compiled.mode_count)
        shares = np.array([mode.share for mode in compiled.index.modes.values()])
        factor = np.where(compiled.is_exclusive, 1.0, network.expected_failed_modes)
        pair_targets = [pair.probability for pair in network.pairs]
        self.target = np.concatenate([shares * factor, pair_targets])  # (F + pairs,)
        self._check()

    def starting_point(self) -> FloatArray:
        """Odds that would give the expected number of failed modes if all were independent."""
        surplus = max(self.compiled.network.expected_failed_modes - 1.0, 0.005)
        theta = np.log(self.target * 2.0 * surplus)
        for place, (first, second) in enumerate(self.pairs, start=self.compiled.mode_count):
            theta[place] -= theta[first] + theta[second]
        return theta

    def evaluate(self, theta: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """Objective, its gradient (T,) and its curvature (T, T), ``T`` statistics."""
        odds, factors = self._odds(theta)
        states, weight = self.states, self.compiled.context_prior
        ways = states.weights(odds, factors)  # (C, S)
        root_sums = ways @ states.is_of_root  # (C, roots)
        all_sets, normaliser = self._sums(root_sums, odds)
        scale = weight * all_sets / normaliser  # (C,)
        probability = ways / root_sums[:, states.root]  # (C, S)
        of_root = probability @ states.statistics  # (C, T)
        mean = of_root * (all_sets / normaliser)[:, None]  # (C, T)
        only = odds[:, self.exclusive] / normaliser[:, None]
        second = of_root.T @ (scale[:, None] * of_root)  # (T, T)
        second[states.is_same_root] = 0.0  # there the states say which statistics meet
        likely = scale @ probability  # (S,)
        second += states.statistics.T @ (likely[:, None] * states.statistics)
        mean[:, self.exclusive] = only
        second[np.ix_(self.exclusive, self.exclusive)] = np.diag(weight @ only)
        gradient = weight @ mean - self.target
        curvature = second - mean.T @ (weight[:, None] * mean)
        return float(weight @ np.log(normaliser) - theta @ self.target), gradient, curvature

    def objective(self, theta: FloatArray) -> float:
        """The objective alone."""
        odds, factors = self._odds(theta)
        root_sums = self.states.weights(odds, factors) @ self.states.is_of_root
        _, normaliser = self._sums(root_sums, odds)
        return float(self.compiled.context_prior @ np.log(normaliser) - theta @ self.target)

    def prior(self, theta: FloatArray) -> Prior:
        """Values of the solved family."""
        odds, factors = self._odds(theta)
        root_sums = self.states.weights(odds, factors) @ self.states.is_of_root
        return Prior(
            odds=odds,
            pairs=tuple(
                (first, second, float(factor))
                for (first, second), factor in zip(self.pairs, factors, strict=True)
            ),
            normaliser=self._sums(root_sums, odds)[1],
            context=self.compiled.context_prior,
            roots=self.roots,
            exclusive=self.exclusive,
        )

    def _odds(self, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        count = self.compiled.mode_count
        return np.exp(theta[:count]) * self.compiled.multipliers, np.exp(theta[count:])

    def _sums(self, root_sums: FloatArray, odds: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Weight of all sets of the roots (C,), the empty one too, and the normaliser (C,)."""
        all_sets = np.prod(root_sums, axis=1)
        return all_sets, all_sets - 1.0 + odds[:, self.exclusive].sum(axis=1)

    def _check(self) -> None:
        network = self.compiled.network
        if network.expected_failed_modes < 1.0:
            got = network.expected_failed_modes
            raise InfeasiblePriorError(
                network.id, f"expected_failed_modes is {got}; expected 1 or more"
            )
        for pair, (first, second) in zip(network.pairs, self.pairs, strict=True):
            if pair.probability >= min(self.target[first], self.target[second]):
                raise InfeasiblePriorError(
                    network.id,
                    f"the pair {' + '.join(pair.modes)} has probability {pair.probability}; "
                    "expected less than either of its modes",
                )


class _States:
    """The states of every root, one after the other: ``S`` in all, ``T`` statistics.

    ``statistics`` (S, T) says which hold in a state, ``root`` (S,) of which root it is,
    ``is_of_root`` (S, roots) the same as a table of ones, ``is_same_root`` (T, T) which statistics
    are of one root.
    """

    def __init__(
        self, roots: tuple[Root, ...], pairs: list[tuple[int, int]], mode_count: int
    ) -> None:
        states = [(place, state) for place, root in enumerate(roots) for state in root.states]
        self.root = np.array([place for place, _ in states], dtype=np.int64)
        self.is_of_root = np.zeros((len(states), len(roots)))
        self.is_of_root[np.arange(len(states)), self.root] = 1.0
        self.statistics = np.zeros((len(states), mode_count + len(pairs)))
        longest = max((len(state) for _, state in states), default=0)
        self._modes = np.full((len(states), longest), mode_count)  # (S, K), padded with F
        for number, (_, state) in enumerate(states):
            self._modes[number, : len(state)] = state
            self.statistics[number, list(state)] = 1.0
            for pair, (first, second) in enumerate(pairs, start=mode_count):
                self.statistics[number, pair] = first in state and second in state
        self._has_pair = self.statistics[:, mode_count:] > 0.0  # (S, pairs)
        is_used = self.statistics.T @ self.is_of_root > 0.0  # (T, roots)
        self.is_same_root = (is_used[:, None, :] & is_used[None, :, :]).any(axis=2)

    def weights(self, odds: FloatArray, factors: FloatArray) -> FloatArray:
        """Weight of each state in each context combination, shape ``(C, S)``."""
        padded = np.column_stack([odds, np.ones(len(odds))])  # (C, F+1)
        together = np.prod(np.where(self._has_pair, factors, 1.0), axis=1)  # (S,)
        return np.asarray(np.prod(padded[:, self._modes], axis=2) * together)


def _roots(compiled: CompiledNetwork, pairs: list[tuple[int, int]]) -> tuple[Root, ...]:
    """Components joined by pairs, each with the sets of modes it can be in."""
    component_of = compiled.component_of_mode
    modes_of: dict[int, list[int]] = {}
    for mode in np.flatnonzero(~compiled.is_exclusive):
        modes_of.setdefault(int(component_of[mode]), []).append(int(mode))
    graph = nx.Graph()
    graph.add_nodes_from(modes_of)
    graph.add_edges_from((int(component_of[a]), int(component_of[b])) for a, b in pairs)
    roots = []
    for group in sorted(sorted(component) for component in nx.connected_components(graph)):
        choices = [[(), *((mode,) for mode in modes_of[component])] for component in group]
        states = [sum(choice, ()) for choice in product(*choices)]
        roots.append(Root(tuple(sorted(states, key=lambda state: (len(state), state)))))
    return tuple(roots)


def _line_search(
    family: _Family, theta: FloatArray, step: FloatArray, objective: float, gradient: FloatArray
) -> FloatArray:
    """Longest halving of the Newton step that lowers the objective (Armijo's condition)."""
    slope = float(gradient @ step)
    length = 1.0
    while length > 1e-6:
        candidate = theta - length * step
        value = family.objective(candidate)
        if value <= objective - 1e-4 * length * slope or slope < 1e-14:
            return candidate
        length /= 2.0
    return theta - step
