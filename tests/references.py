"""Answers of pgmpy and pyAgrum about an exported fault network, to compare the engine with.

Both get the tables in float64. Variables that a question does not concern are left out first: they
sum to 1, and the packages would otherwise join all components at once.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.discrete_networks import in_pgmpy
from triage.inference.evidence import Finding
from triage.inference.export import ExportedEvidence, ExportedNetwork, exported_evidence
from triage.network.discrete import DiscreteNetwork
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]


def without_barren(network: DiscreteNetwork, needed: Sequence[str]) -> DiscreteNetwork:
    """The part of a network above the variables asked for or observed."""
    kept = network.ancestors(needed)
    return DiscreteNetwork(
        name=network.name,
        states={name: network.states[name] for name in kept},
        parents={name: network.parents[name] for name in kept},
        tables={name: network.tables[name] for name in kept},
    )


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked of a reference: a network without its barren part, and what is set in it."""

    network: DiscreteNetwork
    evidence: ExportedEvidence

    @classmethod
    def of(
        cls,
        exported: ExportedNetwork,
        findings: Sequence[Finding],
        targets: Sequence[str] = (),
    ) -> "Question":
        """Question about some variables, given findings."""
        evidence = exported_evidence(exported, findings)
        needed = [*targets, *evidence.states, *evidence.likelihoods]
        return cls(network=without_barren(exported.network, needed), evidence=evidence)

    def state_numbers(self) -> dict[str, int]:
        """State set on each variable, by number."""
        states = self.evidence.states.items()
        return {name: self.network.state_index(name, state) for name, state in states}


class PyagrumModel:
    """A question in pyAgrum, to be answered by lazy propagation on one thread."""

    def __init__(self, question: Question) -> None:
        import pyagrum

        self._model = _pyagrum_network(question.network)  # the inference does not keep it alive
        self._inference = pyagrum.LazyPropagation(self._model)
        self._inference.setNumberOfThreads(1)
        soft = {name: column.tolist() for name, column in question.evidence.likelihoods.items()}
        self._inference.setEvidence({**question.state_numbers(), **soft})

    def marginals(self, variables: Sequence[str]) -> dict[str, FloatArray]:
        """P(variable | evidence) of each, ``(states,)``."""
        self._inference.setTargets(set(variables))
        self._inference.makeInference()
        return {name: self._inference.posterior(name).toarray() for name in variables}

    def joint(self, variables: Sequence[str]) -> FloatArray:
        """P(variables | evidence), one axis each, in their order."""
        self._inference.eraseAllTargets()
        self._inference.addJointTarget(set(variables))
        self._inference.makeInference()
        table = self._inference.jointPosterior(set(variables))
        axes = list(table.names)[::-1]  # the last name is the first axis of the array
        return np.transpose(table.toarray(), [axes.index(name) for name in variables])

    def probability(self) -> float:
        """P(evidence), likelihoods as given."""
        return float(self._inference.evidenceProbability())


class PgmpyModel:
    """A question in pgmpy, to be answered by variable elimination."""

    def __init__(self, question: Question) -> None:
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination

        self._states = question.network.states
        self._elimination = VariableElimination(in_pgmpy(question.network))
        self._evidence = dict(question.evidence.states)
        self._soft = [
            TabularCPD(
                name,
                len(column),
                (column / column.sum())[:, None],
                state_names={name: list(self._states[name])},
            )
            for name, column in question.evidence.likelihoods.items()
        ]

    def marginals(self, variables: Sequence[str]) -> dict[str, FloatArray]:
        """P(variable | evidence) of each, ``(states,)``; one query each."""
        return {name: self.joint([name]) for name in variables}

    def joint(self, variables: Sequence[str]) -> FloatArray:
        """P(variables | evidence), one axis each, in their order."""
        factor = self._elimination.query(
            list(variables),
            evidence=self._evidence,
            virtual_evidence=self._soft or None,
            show_progress=False,
        )
        values = np.transpose(factor.values, [factor.variables.index(name) for name in variables])
        orders = [
            [factor.state_names[name].index(state) for state in self._states[name]]
            for name in variables
        ]
        return np.asarray(values[np.ix_(*orders)])


def without_contexts(network: FaultNetwork) -> FaultNetwork:
    """The same machine where nothing depends on age, drive or house: much easier for a package."""
    kept = {name: look for name, look in network.observations.items() if look.context is None}
    return replace(network, contexts={}, observations=kept)


def mode_probabilities(
    exported: ExportedNetwork, marginals: Mapping[str, FloatArray]
) -> FloatArray:
    """P(mode has failed) of each mode, ``(F,)``, from the marginals of the components."""
    return np.array(
        [
            marginals[variable][exported.network.state_index(variable, state)]
            for variable, state in exported.mode_states.values()
        ]
    )


def component_variables(exported: ExportedNetwork) -> list[str]:
    """Variable of each component, in order."""
    return list(dict.fromkeys(variable for variable, _ in exported.mode_states.values()))


def _pyagrum_network(network: DiscreteNetwork) -> Any:
    """The network in pyAgrum, states by number."""
    import pyagrum

    model = pyagrum.BayesNet()
    for name, states in network.states.items():
        model.add(pyagrum.LabelizedVariable(name, name, len(states)))
    for name, parents in network.parents.items():
        for parent in parents:
            model.addArc(parent, name)
        # pyAgrum lets the variable run fastest, then the first parent.
        count = len(parents)
        table = np.transpose(network.tables[name], [*range(count)[::-1], count])
        model.cpt(name).fillWith(table.ravel().tolist())
    return model
