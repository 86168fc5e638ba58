"""The engine of one network: findings in, ranked causes and gains out.

>>> from triage.network.catalogue import load_network
>>> from triage.inference.evidence import parse_findings
>>> engine = Engine(load_network("top_load_washer"))
>>> evidence = parse_findings(engine.compiled.index, ["says_water_left=yes"])
>>> assessment = engine.assess(evidence)
>>> assessment.causes[0].probability > 0.2
True

An engine never gives another answer after it is built; it may serve many threads. What it was asked
lately is kept, so that a page which shows a little more than the page before costs a little more.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from triage.errors import ImpossibleEvidenceError
from triage.inference.compiled import CompiledNetwork
from triage.inference.evidence import Evidence, Finding
from triage.inference.gain import (
    Gains,
    GainTable,
    class_information_gains,
    information_gains,
    row_answer_probabilities,
    support,
)
from triage.inference.hypotheses import HypothesisTable, failed_sets, grown_sets
from triage.inference.missing_mass import NOT_COMPUTED, MissingMass, evidence_without_cap
from triage.inference.posterior import MachineState, Posterior, likelihoods, posterior
from triage.inference.prior import Prior, solve_prior
from triage.inference.repairing import after_repair
from triage.network.values import FaultNetwork, Observation

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MAX_FAILED = 3  # failed modes in the standing table; about 12,000 sets of 42 modes
DROPPED_MASS = 5e-4  # of the posterior, left out of the gains
MISSING_MASS_MAX = 1e-3  # the table grows until less than this is missing
GROWN_FROM = 100  # heaviest sets a growing table extends at each size; more miss hardly less
GROWN_FAILED_MAX = 6
BELIEFS_KEPT = 1000  # of an engine; half a kilobyte each


@dataclass(frozen=True, slots=True)
class Cause:
    """A failure mode with its posterior probability; ``title`` as people read it."""

    mode: str
    title: str
    probability: float


@dataclass(frozen=True, slots=True)
class HypothesisWeight:
    """A set of failed modes and its posterior probability; the empty set is "all is well"."""

    modes: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class OpenObservation:
    """An observation not made yet, and what it would tell."""

    observation: Observation
    gain_bits: float
    answer_probabilities: tuple[float, ...]

    @property
    def gain_bits_per_minute(self) -> float:
        """Gain per minute of asking or testing."""
        return self.gain_bits / self.observation.minutes


@dataclass(frozen=True)
class Assessment:
    """What the evidence says: causes, hypotheses, gains, and what was left out."""

    engine: "Engine"
    evidence: Evidence
    posterior: Posterior
    gains: Gains
    gain_table: GainTable
    missing: MissingMass

    @cached_property
    def mode_probabilities(self) -> FloatArray:
        """P(mode has failed | evidence), shape ``(F,)``, in the order of the network."""
        return self.posterior.mode_probabilities

    @cached_property
    def causes(self) -> tuple[Cause, ...]:
        """Failure modes, most probable first; ties in the order of the network."""
        index = self.engine.compiled.index
        order = np.argsort(-self.mode_probabilities, kind="stable")
        ids = self.engine.compiled.mode_ids
        return tuple(
            Cause(ids[k], index.mode_title(ids[k]), float(self.mode_probabilities[k]))
            for k in order
        )

    @cached_property
    def hypotheses(self) -> tuple[HypothesisWeight, ...]:
        """The heaviest sets of failed modes, at most 50."""
        table = self.posterior.state.table
        weights = np.bincount(table.labels, self.posterior.weights)
        first = np.unique(table.labels, return_index=True)[1]
        ids = self.engine.compiled.mode_ids
        return tuple(
            HypothesisWeight(
                tuple(ids[m] for m in sorted(table.members[first[h]]) if m < len(ids)),
                float(weights[h]),
            )
            for h in np.argsort(-weights, kind="stable")[:50]
        )

    @cached_property
    def open_observations(self) -> tuple[OpenObservation, ...]:
        """Observations without a live finding, largest gain per minute first."""
        made = {finding.observation for finding in self.evidence.epochs()[-1][0]}
        found = [
            OpenObservation(
                entry,
                float(self.gains.bits[place]),
                tuple(self.gains.answer_probabilities[place, : len(entry.answers)].tolist()),
            )
            for place, entry in enumerate(self.engine.compiled.observations)
            if entry.id not in made
        ]
        return tuple(sorted(found, key=lambda o: (-o.gain_bits_per_minute, o.observation.id)))

    def mode_probabilities_after(self, observations: Sequence[int]) -> Mapping[int, FloatArray]:
        """P(mode has failed | evidence, answer) of every answer of some observations.

        ``observations`` are positions; each maps to shape ``(A, F)``, within the dropped mass.
        """
        compiled = self.engine.compiled
        signs = frozenset(
            compiled.sign_position[sign]
            for sign in (compiled.observations[place].sign for place in observations)
            if sign is not None
        )
        rows = support(self.posterior.weights, self.engine.dropped_mass)
        members = self.posterior.state.table.members[rows]
        given = row_answer_probabilities(self.posterior, self.gain_table, rows, signs)
        return {
            place: np.stack(
                [
                    _mode_shares(members, self.posterior.weights[rows] * column, compiled)
                    for column in given[place].T
                ]
            )
            for place in observations
        }

    @cached_property
    def class_gains_bits(self) -> FloatArray:
        """Gain of every observation about what would be repaired, in bits, shape ``(O,)``."""
        labels = self.engine.repair_classes(self.posterior.state.table.members)
        return class_information_gains(
            self.posterior, self.gain_table, labels, self.engine.dropped_mass
        )


def _mode_shares(members: IntArray, weights: FloatArray, compiled: CompiledNetwork) -> FloatArray:
    """Share of the weight under which each mode has failed, shape ``(F,)``."""
    repeated = np.repeat(weights / weights.sum(), members.shape[1])
    mass = np.bincount(members.ravel(), repeated, compiled.mode_count + 1)
    return np.asarray(mass[: compiled.mode_count])


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """P(mode has failed), shape ``(F,)``, and log P(evidence), nats, over the standing table."""

    mode_probabilities: FloatArray
    log_evidence: float


class Engine:
    """Exact inference on one fault network.

    Parameters
    ----------
    network : FaultNetwork
    max_failed : int
        Largest set of the standing table.
    dropped_mass : float
        Posterior mass left out of the gains; 0 for none.
    missing_mass_max : float
        The table grows while more of P(evidence) than this is missing.
    """

    def __init__(
        self,
        network: FaultNetwork,
        *,
        max_failed: int = MAX_FAILED,
        dropped_mass: float = DROPPED_MASS,
        missing_mass_max: float = MISSING_MASS_MAX,
    ) -> None:
        self.network = network
        self.max_failed = max_failed
        self.dropped_mass = dropped_mass
        self.missing_mass_max = missing_mass_max
        self.compiled = CompiledNetwork(network)

    @cached_property
    def prior(self) -> Prior:
        """Base odds that reproduce the shares."""
        return solve_prior(self.compiled)

    @cached_property
    def state(self) -> MachineState:
        """The machine at the call, before any finding."""
        sets = failed_sets(self.compiled, self.max_failed)
        return self._state_of(sets, self.prior)

    @cached_property
    def gain_table(self) -> GainTable:
        """What gains over the standing table share."""
        return GainTable(self.state.table, self.state.clustered)

    def assess(self, evidence: Evidence, *, check_missing_mass: bool = True) -> Assessment:
        """Posterior, gains and missing mass; O(H) for each sign with findings.

        With ``check_missing_mass`` the table grows until less than ``missing_mass_max`` is missing;
        without, the standing table is used and the missing mass is ``UNKNOWN``.

        Raises
        ------
        EvidenceError
            A finding does not fit the network, or the findings exclude each other.
        """
        found, missing = self._posterior_and_missing(evidence, check_missing_mass)
        gain_table = self.gain_table_of(found.state)
        gains = information_gains(found, gain_table, self.dropped_mass)
        return Assessment(self, evidence, found, gains, gain_table, missing)

    def posterior(self, evidence: Evidence) -> Posterior:
        """Posterior over the standing table (or what repairs made of it)."""
        return self._posterior_and_missing(evidence, check=False)[0]

    def gain_table_of(self, state: MachineState) -> GainTable:
        """What gains about a state need; shared for the standing table."""
        if state.table is self.state.table:
            return self.gain_table
        return GainTable(state.table, state.clustered)

    def belief(self, evidence: Evidence) -> Belief:
        """What a posterior over the standing table says of the modes; lately asked ones are kept.

        Raises
        ------
        EvidenceError
            A finding does not fit the network, or the findings exclude each other.
        """
        return self._belief(evidence)

    @cached_property
    def _belief(self) -> Callable[[Evidence], Belief]:
        @lru_cache(maxsize=BELIEFS_KEPT)
        def belief(evidence: Evidence) -> Belief:
            found = self.posterior(evidence)
            probabilities = found.mode_probabilities
            probabilities.flags.writeable = False
            return Belief(probabilities, found.log_evidence)

        return belief

    def log_evidence(self, evidence: Evidence) -> float:
        """log P(evidence), nats, within the standing table."""
        return self.belief(evidence).log_evidence

    def repair_classes(self, members: IntArray) -> IntArray:
        """Number of the set of repairs each hypothesis calls for, shape ``(H,)``.

        A mode calls for the first repair of the network that cures it.
        """
        order = {repair: place for place, repair in enumerate(self.network.repairs)}
        cured_by = self.compiled.index.repairs_of
        first = np.array(
            [
                order[cured_by[mode][0].id] if cured_by[mode] else len(order) + place
                for place, mode in enumerate(self.compiled.mode_ids)
            ]
            + [-1]
        )
        called = np.sort(first[members], axis=1)
        called[:, 1:][called[:, 1:] == called[:, :-1]] = -1  # one repair may cure two modes
        labels = np.unique(np.sort(called, axis=1), axis=0, return_inverse=True)[1]
        return np.asarray(labels, dtype=np.int64).ravel()

    def _posterior_and_missing(
        self, evidence: Evidence, check: bool
    ) -> tuple[Posterior, MissingMass]:
        epochs = evidence.epochs()
        context_findings = self._context_findings(epochs)
        state, missing = self.state, NOT_COMPUTED
        for findings, repair in epochs:
            likelihood = likelihoods(self.compiled, findings, context_findings)
            try:
                found = posterior(state, likelihood)
            except ImpossibleEvidenceError:
                raise ImpossibleEvidenceError(self._conflicting(evidence)) from None
            if check and state is self.state:
                found, missing = self._grown(found)
            if repair is None:
                return found, missing
            action = self.compiled.index.repair(repair)
            state = after_repair(found, action, self.dropped_mass)
        raise AssertionError("the last epoch of evidence ends without a repair")

    def _context_findings(
        self, epochs: Sequence[tuple[Sequence[Finding], str | None]]
    ) -> tuple[Finding, ...]:
        """Findings on contexts of every epoch: a repair does not change them."""
        live = {(f.observation, f.by): f for findings, _ in epochs for f in findings}
        index = self.compiled.index
        return tuple(
            f for f in live.values() if index.observation(f.observation).context is not None
        )

    def _grown(self, found: Posterior) -> tuple[Posterior, MissingMass]:
        """Posterior over a table that misses less than the limit, if growing can reach it."""
        everything = evidence_without_cap(self.compiled, self.prior, found.likelihood)
        if everything is None:
            return found, NOT_COMPUTED
        while True:
            missing = everything.missing_from(found)
            members = found.state.table.members
            if missing.share <= self.missing_mass_max or members.shape[1] >= GROWN_FAILED_MAX:
                return found, missing
            larger = self._larger(found)
            if len(larger) == 0:
                return found, missing
            rows = support(found.weights, self.dropped_mass / 10.0)
            kept = np.column_stack(
                [members[rows], np.full(len(rows), self.compiled.mode_count, dtype=np.int64)]
            )
            state = self._state_of(np.concatenate([kept, larger]), self.prior)
            found = posterior(state, found.likelihood)

    def _larger(self, found: Posterior) -> IntArray:
        """The heaviest sets of full size, each with every further mode."""
        members = found.state.table.members
        full = np.flatnonzero((members < self.compiled.mode_count).all(axis=1))
        heaviest = full[np.argsort(-found.weights[full], kind="stable")[:GROWN_FROM]]
        return grown_sets(self.compiled, members[heaviest])

    def _state_of(self, members: IntArray, prior: Prior) -> MachineState:
        table = HypothesisTable(self.compiled, prior, members)
        return MachineState(table, table.context_joint)

    def _conflicting(self, evidence: Evidence) -> tuple[str, ...]:
        """A smallest impossible subset of the findings: drop each one that is not needed."""
        needed = list(evidence.findings)
        for finding in evidence.findings:
            fewer = [other for other in needed if other != finding]
            likelihood = likelihoods(self.compiled, fewer, fewer)
            try:
                posterior(self.state, likelihood)
            except ImpossibleEvidenceError:
                needed = fewer
        return tuple(str(finding) for finding in needed)
