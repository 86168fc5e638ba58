"""Which causes explain the findings, in any published network.

Some variables of the network are chosen as **roots**, the causes that are asked about; each has a
**normal** state. A **hypothesis** gives every root a state. All other variables are summed over
(``triage.inference.elimination``), with the hypothesis as an extra axis, so one pass forwards and
one backwards give the posterior and the gain of every observation. This is exact: within the list
of hypotheses always, and of the whole network within the **missing mass**, the share of
``P(evidence)`` that belongs to hypotheses with more departures from normal than the list holds.

A root that is often not normal makes a poor root when the list is capped: leave it among the
variables that are summed over.

Axes: ``H`` hypotheses, ``R`` roots, ``V`` states of one variable.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np

from triage.errors import ImpossibleEvidenceError, ReadingError, UnknownObservationError
from triage.inference.elimination import Elimination, IntArray
from triage.inference.information import mutual_information_bits
from triage.network.discrete import DiscreteNetwork, FloatArray

Findings = Mapping[str, str | Sequence[float]]
"""By variable: the state that was seen, or a likelihood, one number per state (V,)."""


class RootCauseModel:
    """Hypotheses over chosen variables of a network, compiled for fast answers.

    Parameters
    ----------
    network : DiscreteNetwork
        Any discrete network.
    roots : Mapping[str, str | None]
        The variables whose state is asked about, each with its normal state; None means the state
        that is most probable before anything is observed. They need not be without parents.
    observations : Sequence[str]
        Variables that may be looked at next.
    max_causes : int, optional
        How many roots may depart from normal at once. None: all of them, which lists the full
        joint, the product of the numbers of states.

    Raises
    ------
    UnknownObservationError, UnknownAnswerError
        A name that the network does not have.

    Attributes
    ----------
    hypotheses : IntArray
        State of each root, shape ``(H, R)``; fewest departures from normal first.
    """

    def __init__(
        self,
        network: DiscreteNetwork,
        roots: Mapping[str, str | None],
        observations: Sequence[str],
        *,
        max_causes: int | None = None,
    ) -> None:
        self.network = network
        self.roots = tuple(roots)
        self.observations = tuple(observations)
        self._cap = len(self.roots) if max_causes is None else max_causes
        normal = [self._normal(root, state) for root, state in roots.items()]
        sizes = [len(network.states[root]) for root in self.roots]
        self.hypotheses = _departures(sizes, normal, self._cap)
        self._elimination = Elimination(
            network, self.observations, dict(zip(self.roots, self.hypotheses.T, strict=True))
        )

    def posterior(self, findings: Findings) -> "RootCausePosterior":
        """Probability of every hypothesis, given the findings.

        Parameters
        ----------
        findings : Mapping[str, str | Sequence[float]]
            By variable, the state seen or a likelihood ``(V,)``. Several soft findings about one
            variable are multiplied by the caller, who knows whether they are independent. Roots,
            observations and everything above them may be observed.

        Raises
        ------
        UnknownObservationError, UnknownAnswerError
            A variable or state that does not exist or was pruned.
        ReadingError
            A likelihood of the wrong length or with a negative number.
        ImpossibleEvidenceError
            No listed hypothesis can produce the findings.
        """
        likelihoods = self._likelihoods(findings)
        weights, derivatives = self._elimination.derivatives(likelihoods)
        if not weights.any():
            raise ImpossibleEvidenceError(self._said(findings))
        joint = {
            variable: derivative.T * likelihoods.get(variable, 1.0)  # (H, V)
            for variable, derivative in derivatives.items()
        }
        return RootCausePosterior(model=self, likelihoods=likelihoods, weights=weights, joint=joint)

    def _normal(self, root: str, state: str | None) -> int:
        """Position of the normal state: the one given, or the most probable of all."""
        if state is not None:
            return self.network.state_index(root, state)
        _, marginals = Elimination(self.network, [root]).derivatives({})
        return int(marginals[root].argmax())

    def _likelihoods(self, findings: Findings) -> dict[str, FloatArray]:
        likelihoods = {}
        for variable, finding in findings.items():
            if variable not in self._elimination.variables:
                raise UnknownObservationError(variable, self._elimination.variables)
            size = len(self.network.states[variable])
            if isinstance(finding, str):
                likelihood = np.eye(size)[self.network.state_index(variable, finding)]
            else:
                likelihood = np.asarray(finding, dtype=np.float64)
            if likelihood.shape != (size,) or not np.all(likelihood >= 0):
                raise ReadingError(variable, finding, f"{size} numbers, none negative")
            likelihoods[variable] = likelihood
        return likelihoods

    def _said(self, findings: Findings) -> list[str]:
        """Put the findings in words, with the cap on the list, which may be what excludes them."""
        said = [f"{variable} = {finding}" for variable, finding in findings.items()]
        return said if self._cap >= len(self.roots) else [*said, f"at most {self._cap} causes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RootCausePosterior:
    """What the findings say about the hypotheses of a `RootCauseModel`.

    Attributes
    ----------
    model : RootCauseModel
        Names the roots and lists the hypotheses.
    likelihoods : Mapping[str, FloatArray]
        What is known, by variable, shape ``(V,)``.
    weights : FloatArray
        ``P(h, evidence)``, shape ``(H,)``.
    joint : Mapping[str, FloatArray]
        ``P(h, variable = s, evidence)`` for every variable that was not pruned, shape ``(H, V)``.
    """

    model: RootCauseModel
    likelihoods: Mapping[str, FloatArray]
    weights: FloatArray
    joint: Mapping[str, FloatArray]

    @property
    def evidence_probability(self) -> float:
        """``P(evidence)`` as far as the list explains it."""
        return float(self.weights.sum())

    @property
    def probabilities(self) -> FloatArray:
        """``P(h | evidence)``, shape ``(H,)``, sums to 1."""
        return np.asarray(self.weights / self.weights.sum())

    def missing_mass(self) -> float:
        """Share of ``P(evidence)`` outside the list of hypotheses.

        No probability given here is off by more than this. Exact, by an elimination that fixes
        nothing; rounding can leave it about 1e-15 below 0.
        """
        whole = Elimination(self.model.network, self.likelihoods)
        everything = float(whole.evidence_probability(self.likelihoods))
        return 1.0 - self.evidence_probability / everything

    def marginal(self, variable: str) -> dict[str, float]:
        """``P(variable = s | evidence)`` by state, for a root or any other variable."""
        if variable not in self.joint:
            raise UnknownObservationError(variable, list(self.joint))
        states = self.joint[variable].sum(axis=0)  # (V,)
        return dict(
            zip(self.model.network.states[variable], (states / states.sum()).tolist(), strict=True)
        )

    def probability_of(self, explanation: Mapping[str, str]) -> float:
        """``P(explanation | evidence)`` of states of some roots, the others being whatever."""
        agrees = np.ones(len(self.weights), dtype=np.bool_)  # (H,)
        for root, state in explanation.items():
            column = self.model.hypotheses[:, self._column(root)]
            agrees &= column == self.model.network.state_index(root, state)
        return float(self.probabilities[agrees].sum())

    def expected_information_gain(self, about: Sequence[str] = ()) -> dict[str, float]:
        """Information each observation is expected to give about the causes, in bits.

        Parameters
        ----------
        about : Sequence[str], optional
            Roots that matter; the information is about their states together. All by default.

        Returns
        -------
        dict[str, float]
            Bits by observation, in the order of ``model.observations``, between 0 and the entropy
            of the causes up to rounding. What is known for certain already gives 0.
        """
        columns = [self._column(root) for root in about or self.model.roots]
        group = np.arange(len(self.weights))
        if about:
            _, group = np.unique(self.model.hypotheses[:, columns], axis=0, return_inverse=True)
        gains = {}
        for observation in self.model.observations:
            states = self.joint[observation].T  # (V, H)
            joint = np.array([np.bincount(group, weights=state) for state in states])  # (V, G)
            gains[observation] = float(mutual_information_bits(joint / joint.sum()))
        return gains

    def _column(self, root: str) -> int:
        if root not in self.model.roots:
            raise UnknownObservationError(root, self.model.roots)
        return self.model.roots.index(root)


def _departures(sizes: Sequence[int], normal: Sequence[int], max_causes: int) -> IntArray:
    """All states ``(H, R)`` with at most ``max_causes`` roots away from normal, fewest first."""
    rows = []
    for count in range(min(max_causes, len(sizes)) + 1):
        for changed in combinations(range(len(sizes)), count):
            others = [[s for s in range(sizes[root]) if s != normal[root]] for root in changed]
            for states in product(*others):
                row = list(normal)
                for root, state in zip(changed, states, strict=True):
                    row[root] = state
                rows.append(row)
    return np.array(rows, dtype=np.intp)
