r"""A fault network as a plain Bayesian network, for other programs and for reference answers.

A plain network has one table per variable given its parents; the fault network has rules across all
components. They become variables with **evidence** to set on them, which is part of the export:

=============  ====================================================================================
``context``    one variable for all context combinations, because "at least one mode has failed"
               joins them; its prior makes up for what the evidence below does to it
components     states ``ok`` and the failure modes, independent given the context
``count``      a chain: how many components have failed so far, up to one more than the cap
``allowed``    ``yes``: one failed mode up to the cap, or one way in which nothing failed
``pair``       ``on``: P(on) carries the factor of a pair of modes that fail together
signs          noisy-MAX, **divorced**: a chain of maxima with one cause each; what
               would be seen, then what the masks let through
observations   one variable each, below what they look at
=============  ====================================================================================

With the prior odds ``o`` of mode m in context c, ``P(m | c) = o / (1 + sum of odds of the
component)``, so the context has the prior ``P(c) / Z(c)`` times the product of those denominators;
given the evidence this is ``P(h, c)`` again (``prior``), up to a constant.

A finding becomes a state of its observation, or, where no such state exists (said unasked, or a
reading in numbers), a likelihood of the states of the sign (``finding_states``).
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from triage.inference.engine import Engine
from triage.inference.evidence import Finding, finding_likelihood
from triage.inference.export_build import (
    Tables,
    add_allowed,
    add_components,
    add_contexts,
    add_observations,
    add_pairs,
    add_signs,
)
from triage.network.discrete import DiscreteNetwork
from triage.network.interchange import bif_text, pgmpy_model, xmlbif_text
from triage.network.values import FaultNetwork, NetworkIndex

if TYPE_CHECKING:
    from pgmpy.models import DiscreteBayesianNetwork

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportedNetwork:
    """A plain network with what is needed to ask it what a fault network is asked.

    Attributes
    ----------
    network : DiscreteNetwork
        Variables and tables. States are in the order of the fault network.
    evidence : Mapping[str, str]
        State to set on some variables, always.
    mode_states : Mapping[str, tuple[str, str]]
        Variable and state of each failure mode.
    context_variables, sign_variables, observation_variables : Mapping[str, str]
        Variable of each context, sign (as it shows, masks applied) and observation.
    max_failed : int or None
        Largest number of failed modes; None without a cap.
    fault_network : FaultNetwork
        Where it comes from.
    """

    network: DiscreteNetwork
    evidence: Mapping[str, str]
    mode_states: Mapping[str, tuple[str, str]]
    context_variables: Mapping[str, str]
    sign_variables: Mapping[str, str]
    observation_variables: Mapping[str, str]
    max_failed: int | None
    fault_network: FaultNetwork


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingStates:
    """A finding in the exported network: ``variable`` is in ``state``.

    Where no state says it, ``state`` is None and ``likelihood`` (V,), P(finding | state of the
    variable), is set as soft ("virtual") evidence; otherwise ``likelihood`` is 1 for that state.
    """

    variable: str
    state: str | None
    likelihood: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportedEvidence:
    """What to set: ``states`` of variables, and ``likelihoods`` (V,) of others, one a variable."""

    states: Mapping[str, str]
    likelihoods: Mapping[str, FloatArray]


def export_network(
    engine: Engine, *, max_failed: int | None = None, capped: bool = True
) -> ExportedNetwork:
    """The fault network of an engine as a plain network.

    Parameters
    ----------
    engine : Engine
    max_failed : int, optional
        Largest number of failed modes; that of the engine if not given.
    capped : bool
        False for no cap: any number of failed modes, at least one.

    Returns
    -------
    ExportedNetwork
        Given its evidence, the components are distributed as the engine's hypotheses are.

    Raises
    ------
    NetworkFileError
        A sign follows a decision list over too many components to be written out.
    """
    compiled, prior = engine.compiled, engine.prior
    cap = (engine.max_failed if max_failed is None else max_failed) if capped else None
    tables = Tables()
    root, contexts = add_contexts(tables, compiled, prior)
    components = add_components(tables, compiled, prior, root)
    mode_states = {
        mode.id: (components[component.id], tables.states(components[component.id])[place])
        for component in engine.network.components.values()
        for place, mode in enumerate(component.modes, start=1)
    }
    allowed, yes = add_allowed(tables, compiled, components, cap)
    evidence = {allowed: yes, **add_pairs(tables, prior, list(mode_states.values()))}
    signs = add_signs(tables, engine.network, list(components.values()), mode_states)
    observations = add_observations(tables, engine.network, contexts, signs)
    return ExportedNetwork(
        network=tables.network(engine.network.id),
        evidence=evidence,
        mode_states=mode_states,
        context_variables=contexts,
        sign_variables=signs,
        observation_variables=observations,
        max_failed=cap,
        fault_network=engine.network,
    )


def finding_states(exported: ExportedNetwork, finding: Finding) -> FindingStates | None:
    """Variable and state of a finding, or the likelihood it sets; None where it is no evidence.

    Raises
    ------
    UnknownObservationError, UnknownAnswerError, ReadingError
        The finding does not fit the network.
    """
    observation = NetworkIndex(exported.fault_network).observation(finding.observation)
    column = finding_likelihood(observation, finding.answer)
    if column is None:
        return None
    if finding.answer in observation.answers:
        variable = exported.observation_variables[observation.id]
        place = list(observation.answers).index(str(finding.answer))
        states = exported.network.states[variable]
        likelihood = tuple(float(state == place) for state in range(len(states)))
        return FindingStates(variable=variable, state=states[place], likelihood=likelihood)
    return FindingStates(
        variable=_target(exported, finding), state=None, likelihood=tuple(column.tolist())
    )


def exported_evidence(exported: ExportedNetwork, findings: Iterable[Finding]) -> ExportedEvidence:
    """Everything to set for some findings, the evidence of the export included.

    Findings of two people on one observation are two looks; the second becomes a likelihood of the
    sign. Likelihoods of one variable are multiplied: some programs keep only the last one set.
    """
    states = dict(exported.evidence)
    likelihoods: dict[str, FloatArray] = {}
    for finding in findings:
        found = finding_states(exported, finding)
        if found is None:
            continue
        if found.state is not None and found.variable not in states:
            states[found.variable] = found.state
            continue
        observation = exported.fault_network.observations[finding.observation]
        column = finding_likelihood(observation, finding.answer)
        variable = _target(exported, finding)
        likelihoods[variable] = likelihoods.get(variable, 1.0) * np.asarray(column)
    return ExportedEvidence(states=states, likelihoods=likelihoods)


def to_pgmpy(exported: ExportedNetwork) -> "DiscreteBayesianNetwork":
    """The exported network as a pgmpy model; set ``exported.evidence`` in every query."""
    return pgmpy_model(exported.network)


def write_bif(exported: ExportedNetwork, path: Path | str) -> None:
    """Write a BIF file, with the evidence and the names beside it in a ``.json`` file.

    The format has no place for evidence; a comment repeats it for people.
    """
    _write(exported, Path(path), bif_text(exported.network, _comments(exported)))


def write_xmlbif(exported: ExportedNetwork, path: Path | str) -> None:
    """Write an XMLBIF file, with the evidence and the names beside it in a ``.json`` file.

    Programs know the format by different endings: ``.xml``, ``.xmlbif``; pyAgrum ``.bifxml`` only.
    """
    _write(exported, Path(path), xmlbif_text(exported.network, _comments(exported)))


def _target(exported: ExportedNetwork, finding: Finding) -> str:
    """Variable of the sign or context that a finding is about."""
    observation = exported.fault_network.observations[finding.observation]
    if observation.sign is not None:
        return exported.sign_variables[observation.sign]
    return exported.context_variables[observation.target]


def _comments(exported: ExportedNetwork) -> list[str]:
    cap = "any number" if exported.max_failed is None else f"at most {exported.max_failed}"
    return [
        f"Fault network {exported.fault_network.id}, version {exported.fault_network.version}, "
        f"{cap} of failed modes.",
        "Its probabilities hold only with this evidence set:",
        *(f"{variable} is {state}" for variable, state in exported.evidence.items()),
    ]


def _write(exported: ExportedNetwork, path: Path, text: str) -> None:
    names = {
        "evidence": dict(exported.evidence),
        "max_failed": exported.max_failed,
        "modes": {mode: list(place) for mode, place in exported.mode_states.items()},
        "contexts": dict(exported.context_variables),
        "signs": dict(exported.sign_variables),
        "observations": dict(exported.observation_variables),
    }
    path.write_text(text, encoding="utf-8")
    path.with_suffix(".json").write_text(json.dumps(names, indent=2) + "\n", encoding="utf-8")
