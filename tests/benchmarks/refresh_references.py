"""The refresh by pgmpy and pyAgrum, each used as well as we know, and the same by the engine.

All three answer about the **plain model**: any number of failed modes, none included, and no
"nothing failed". It needs no counters and so spares the packages most of their work; the engine
answers about the same model with a table of up to five failed modes.

A refresh is P(mode | e) of every mode, and the joint gain I(h; T | e) of every open observation T.
For the gain one joint query per sign is enough: of the sign and of the components above it, given
which the sign does not depend on the other components. A look is then a product with its table.
For a masked sign "above" includes the components above findings in its cluster. Variables that the
query does not concern are cut away beforehand, off the clock; so is building the models.
"""

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.references import PgmpyModel, PyagrumModel, Question, component_variables
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.inference.export import ExportedNetwork, export_network
from triage.inference.gain import GainTable, information_gains
from triage.inference.hypotheses import HypothesisTable, failed_sets
from triage.inference.information import plogp
from triage.inference.masking import clusters
from triage.inference.posterior import MachineState, Posterior, likelihoods, posterior
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]

CHECKED_FAILED = 5  # of the table that the references are compared with
CHECKED_DROPPED = 1e-9  # of its posterior mass, left out of its gains
MODELS: Mapping[str, type[PyagrumModel | PgmpyModel]] = {
    "pyagrum": PyagrumModel,
    "pgmpy": PgmpyModel,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One answer of a reference: of kind "modes" or "gains", in CPU seconds, numbers by id."""

    kind: str
    seconds: float
    values: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SignQuery:
    """One joint query: a sign, the components it needs, and the open observations it serves."""

    sign: str
    variables: tuple[str, ...]
    looks: tuple[str, ...]
    cells: int


def plain_model(engine: Engine) -> ExportedNetwork:
    """Export without a cap, without "at least one", and with "nothing failed" ruled out."""
    exported = export_network(engine, capped=False)
    compiled = engine.compiled
    evidence = {name: state for name, state in exported.evidence.items() if name != "allowed"}
    for place, (variable, _) in enumerate(exported.mode_states.values()):
        if compiled.is_exclusive[place]:
            evidence[variable] = "ok"
    return replace(exported, evidence=evidence)


def sign_queries(
    engine: Engine, exported: ExportedNetwork, findings: Sequence[Finding]
) -> list[SignQuery]:
    """A query for each sign with open observations, smallest first."""
    compiled, network = engine.compiled, exported.network
    made = {finding.observation for finding in findings}
    cluster_of = {s: c.signs for c in clusters(compiled) for s in c.signs}
    components = [name for name in component_variables(exported) if name not in exported.evidence]
    found = []
    for place, sign in enumerate(compiled.sign_ids):
        positions = compiled.observations_of_sign[place]
        looks = tuple(
            i for i in map(compiled.observation_ids.__getitem__, positions) if i not in made
        )
        if not looks:
            continue
        related = {compiled.sign_ids[other] for other in cluster_of.get(place, (place,))}
        observed = [
            exported.observation_variables[name]
            for name in made
            if engine.network.observations[name].sign in related
        ]
        above = set(network.ancestors([exported.sign_variables[sign], *observed]))
        variables = [name for name in components if name in above]
        variables.append(exported.sign_variables[sign])
        cells = int(np.prod([len(network.states[name]) for name in variables], dtype=float))
        found.append(SignQuery(sign=sign, variables=tuple(variables), looks=looks, cells=cells))
    return sorted(found, key=lambda query: (query.cells, query.sign))


def gain_bits(joint: FloatArray, table: FloatArray) -> float:
    """Gain of a look; ``joint`` (..., V) of components and sign, ``table`` P(answer | state)."""
    answers = joint.reshape(-1, len(table)) @ table  # (states of the components, A)
    given = plogp(answers).sum() - plogp(answers.sum(axis=1)).sum()
    return float(given - plogp(answers.sum(axis=0)).sum())


def refresh_pieces(
    backend: str, engine: Engine, evidence: Evidence, seconds_max: float
) -> Iterator[Piece]:
    """Answers of a reference in order, modes first, until its own clock has run that long."""
    exported = plain_model(engine)
    model = MODELS[backend]
    free = [name for name in component_variables(exported) if name not in exported.evidence]
    spent = 0.0
    for group in [free] if backend == "pyagrum" else [[name] for name in free]:
        prepared = model(Question.of(exported, evidence.findings, group))
        started = time.process_time()
        marginals = prepared.marginals(group)
        seconds = time.process_time() - started
        spent += seconds
        yield Piece(kind="modes", seconds=seconds, values=_by_mode(exported, marginals))
        if spent > seconds_max:
            return
    for query in sign_queries(engine, exported, evidence.findings):
        prepared = model(Question.of(exported, evidence.findings, query.variables))
        started = time.process_time()
        joint = prepared.joint(query.variables)
        gains = {
            look: gain_bits(joint, np.array(engine.network.observations[look].likelihood))
            for look in query.looks
        }
        seconds = time.process_time() - started
        spent += seconds
        yield Piece(kind="gains", seconds=seconds, values=gains)
        if spent > seconds_max:
            return


class CheckedEngine:
    """The engine with sets of up to five failed modes, about the plain model and about its own."""

    def __init__(self, network: FaultNetwork) -> None:
        self.engine = Engine(network, dropped_mass=0.0)
        compiled, prior = self.engine.compiled, self.engine.prior
        sets = failed_sets(compiled, CHECKED_FAILED)
        nothing = np.full((1, CHECKED_FAILED), compiled.mode_count, dtype=sets.dtype)
        table = HypothesisTable(compiled, prior, np.concatenate([nothing, sets]))
        alone = np.isin(table.members, prior.exclusive).any(axis=1)
        none = (table.members == compiled.mode_count).all(axis=1)
        self.plain = MachineState(table, np.where(alone, 0.0, table.context_joint))
        self.own = MachineState(table, np.where(none, 0.0, table.context_joint))
        self._gain_table = GainTable(table, self.plain.clustered)

    def posterior(self, state: MachineState, evidence: Evidence) -> Posterior:
        """Posterior in one of the two states."""
        findings = evidence.findings
        return posterior(state, likelihoods(self.engine.compiled, findings, findings))

    def answers(self, found: Posterior) -> dict[str, float]:
        """Probability of each mode and gain of each observation (bits), by id."""
        compiled = self.engine.compiled
        gains = information_gains(found, self._gain_table, CHECKED_DROPPED)
        return {
            **dict(zip(compiled.mode_ids, found.mode_probabilities.tolist(), strict=True)),
            **dict(zip(compiled.observation_ids, gains.bits.tolist(), strict=True)),
        }


def _by_mode(exported: ExportedNetwork, marginals: Mapping[str, FloatArray]) -> dict[str, float]:
    return {
        mode: float(marginals[variable][exported.network.state_index(variable, state)])
        for mode, (variable, state) in exported.mode_states.items()
        if variable in marginals
    }
