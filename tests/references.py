"""Answers of pgmpy and pyAgrum about an exported fault network, to compare the engine with.

Both get the tables in float64. Variables that a question does not concern are left out first: they
sum to 1, and the packages would otherwise join all components at once.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.discrete_networks import in_pgmpy, in_pyagrum
from triage.inference.evidence import Finding
from triage.inference.export import ExportedEvidence, ExportedNetwork, exported_evidence
from triage.network.discrete import DiscreteNetwork

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


def pyagrum_inference(question: Question) -> Any:
    """Lazy propagation with the evidence set, not yet run."""
    import pyagrum

    model = in_pyagrum(question.network)
    inference = pyagrum.LazyPropagation(model)
    inference.setNumberOfThreads(1)
    soft = {name: column.tolist() for name, column in question.evidence.likelihoods.items()}
    inference.setEvidence({**question.state_numbers(), **soft})
    inference._network = model  # the inference does not keep its network alive
    return inference


def pyagrum_marginals(question: Question, variables: Sequence[str]) -> dict[str, FloatArray]:
    """P(variable | evidence) of each, ``(states,)``."""
    inference = pyagrum_inference(question)
    inference.setTargets(set(variables))
    inference.makeInference()
    return {name: inference.posterior(name).toarray() for name in variables}


def pyagrum_probability(question: Question) -> float:
    """P(evidence), likelihoods as given."""
    inference = pyagrum_inference(question)
    return float(inference.evidenceProbability())


def pyagrum_joint(question: Question, variables: Sequence[str]) -> FloatArray:
    """P(variables | evidence), one axis each, in their order."""
    inference = pyagrum_inference(question)
    inference.addJointTarget(set(variables))
    inference.makeInference()
    table = inference.jointPosterior(set(variables))
    axes = list(table.names)[::-1]  # the last name is the first axis of the array
    return np.transpose(table.toarray(), [axes.index(name) for name in variables])


def pgmpy_marginals(question: Question, variables: Sequence[str]) -> dict[str, FloatArray]:
    """P(variable | evidence) of each, ``(states,)``, by variable elimination."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

    elimination = VariableElimination(in_pgmpy(question.network))
    soft = [
        TabularCPD(
            name,
            len(column),
            (column / column.sum())[:, None],
            state_names={name: list(question.network.states[name])},
        )
        for name, column in question.evidence.likelihoods.items()
    ]
    found: Mapping[str, Any] = {
        name: elimination.query(
            [name],
            evidence=dict(question.evidence.states),
            virtual_evidence=soft or None,
            show_progress=False,
        )
        for name in variables
    }
    return {
        name: _in_order(factor, question.network.states[name]) for name, factor in found.items()
    }


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


def _in_order(factor: Any, states: Sequence[str]) -> FloatArray:
    names = factor.state_names[factor.variables[0]]
    return np.array([factor.values[names.index(state)] for state in states])
