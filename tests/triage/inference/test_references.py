"""The engine against pgmpy and pyAgrum, which answer from the exported tables alone.

The references know nothing of hypotheses: they get one table per variable, the evidence of the
export, and the findings as states or likelihoods. Agreement to 1e-9 is asked for; 1e-14 is seen.
"""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.builders import random_network
from tests.references import (
    PgmpyModel,
    PyagrumModel,
    Question,
    component_variables,
    mode_probabilities,
    without_contexts,
)
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, parse_findings
from triage.inference.export import ExportedNetwork, export_network
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]

TOLERANCE = 1e-9

RANDOM_NETWORKS = {
    "everything": random_network(1),
    "other_numbers": random_network(2),
    "masks_on_larger_signs": random_network(3, signs_count=6),
    "no_context": random_network(4, with_context=False),
    "no_pair_and_no_table": random_network(5, with_pair=False, with_table=False),
    "something_always_failed": random_network(6, with_nothing_failed=False),
    "one_failed_mode": replace(random_network(7, with_pair=False), expected_failed_modes=1.0),
}

# Hard findings, one answer of a second person, one complaint said unasked.
FINDINGS = (
    Finding("o_s0_0", "a"),
    Finding("o_s1_0", "b"),
    Finding("o_s1_0", "c", by="technician"),
    Finding("o_s3_1", "volunteered"),
    Finding("o_s4_0", "a"),
)


def engine_of(network: FaultNetwork, max_failed: int) -> Engine:
    """Engine that neither grows its table nor drops anything."""
    return Engine(network, max_failed=max_failed, dropped_mass=0.0, missing_mass_max=1.0)


def findings_for(network: FaultNetwork) -> tuple[Finding, ...]:
    about_context = (Finding("asks_age", "yes"),) if network.contexts else ()
    return (*FINDINGS, *about_context)


def joint_gain(
    exported: ExportedNetwork, findings: tuple[Finding, ...], look: str, components: list[str]
) -> float:
    """Mutual information in bits of some components and an observation, from their joint."""
    variables = [*components, exported.observation_variables[look]]
    joint = PyagrumModel(Question.of(exported, findings, variables)).joint(variables)
    joint = joint.reshape(-1, joint.shape[-1])  # (states of all components, answers)
    independent = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    used = joint > 0.0
    return float((joint[used] * np.log2(joint[used] / independent[used])).sum())


@pytest.fixture(params=RANDOM_NETWORKS.values(), ids=RANDOM_NETWORKS.keys())
def network(request: pytest.FixtureRequest) -> FaultNetwork:
    found: FaultNetwork = request.param
    return found


def test_mode_probabilities_are_those_of_both_references(network: FaultNetwork) -> None:
    engine, findings = engine_of(network, 2), findings_for(network)
    exported = export_network(engine)
    components = component_variables(exported)
    question = Question.of(exported, findings, components)

    assessment = engine.assess(Evidence(findings))

    by_pyagrum = mode_probabilities(exported, PyagrumModel(question).marginals(components))
    by_pgmpy = mode_probabilities(exported, PgmpyModel(question).marginals(components))
    assert assessment.mode_probabilities == pytest.approx(by_pyagrum, abs=TOLERANCE)
    assert assessment.mode_probabilities == pytest.approx(by_pgmpy, abs=TOLERANCE)


def test_prior_is_that_of_the_export_without_findings(network: FaultNetwork) -> None:
    engine = engine_of(network, 3)
    exported = export_network(engine)
    components = component_variables(exported)

    assessment = engine.assess(Evidence())

    marginals = PyagrumModel(Question.of(exported, (), components)).marginals(components)
    expected = mode_probabilities(exported, marginals)
    assert assessment.mode_probabilities == pytest.approx(expected, abs=TOLERANCE)


def test_evidence_has_the_probability_the_reference_gives_it(network: FaultNetwork) -> None:
    engine, findings = engine_of(network, 2), findings_for(network)
    exported = export_network(engine)
    # The export is known up to a constant, which the question without findings gives.
    without = PyagrumModel(Question.of(exported, ())).probability()
    expected = PyagrumModel(Question.of(exported, findings)).probability() / without

    change = engine.log_evidence(Evidence(findings)) - engine.log_evidence(Evidence())

    assert change == pytest.approx(np.log(expected), abs=TOLERANCE)


def test_gains_are_mutual_informations_of_the_joint_of_the_reference(
    network: FaultNetwork,
) -> None:
    engine, findings = engine_of(network, 2), findings_for(network)
    exported = export_network(engine)

    assessment = engine.assess(Evidence(findings))

    gains = {entry.observation.id: entry.gain_bits for entry in assessment.open_observations}
    components = component_variables(exported)
    expected = {look: joint_gain(exported, findings, look, components) for look in gains}
    assert len(gains) >= 6
    assert gains == pytest.approx(expected, abs=TOLERANCE)


def test_export_without_a_cap_is_the_engine_that_holds_every_set(network: FaultNetwork) -> None:
    engine, findings = engine_of(network, len(network.components)), findings_for(network)
    exported = export_network(engine, capped=False)
    components = component_variables(exported)
    marginals = PyagrumModel(Question.of(exported, findings, components)).marginals(components)

    assessment = engine.assess(Evidence(findings))

    expected = mode_probabilities(exported, marginals)
    assert assessment.mode_probabilities == pytest.approx(expected, abs=TOLERANCE)


# Chosen so that a general engine can still answer with three failed modes: few findings.
SHIPPED_FINDINGS = {
    "a_meter_reading": ["says_fault_message=yes", "meters_pump_winding=200.0", "asks_age=over_12"],
    "said_unasked": ["says_water_left=volunteered", "asks_pump_sound=humming"],
    "a_masked_test": ["tests_lid_lock=could_not_be_run", "says_dead=yes"],
}


@pytest.fixture(scope="module")
def shipped() -> Engine:
    """The shipped top-load washer, at most three failed modes."""
    return engine_of(load_network("top_load_washer"), 3)


@pytest.mark.parametrize("texts", SHIPPED_FINDINGS.values(), ids=SHIPPED_FINDINGS.keys())
def test_shipped_network_has_the_mode_probabilities_of_pyagrum(
    shipped: Engine, texts: list[str]
) -> None:
    evidence = parse_findings(shipped.compiled.index, texts)
    exported = export_network(shipped)
    components = component_variables(exported)
    question = Question.of(exported, evidence.findings, components)

    assessment = shipped.assess(evidence)

    expected = mode_probabilities(exported, PyagrumModel(question).marginals(components))
    assert len(expected) == shipped.compiled.mode_count
    assert assessment.mode_probabilities == pytest.approx(expected, abs=TOLERANCE)


OTHER_FINDINGS = {
    "front_load_washer": ["says_water_left=volunteered", "says_pump_hums=yes"],
    "electric_dryer": ["says_no_heat=volunteered", "asks_age=over_12"],
    "gas_dryer": ["says_no_heat=volunteered", "asks_age=over_12"],
}


@pytest.mark.parametrize("name", OTHER_FINDINGS)
def test_every_other_shipped_network_has_the_mode_probabilities_of_pyagrum(name: str) -> None:
    engine = engine_of(load_network(name), 2)
    evidence = parse_findings(engine.compiled.index, OTHER_FINDINGS[name])
    exported = export_network(engine)
    components = component_variables(exported)
    question = Question.of(exported, evidence.findings, components)

    assessment = engine.assess(evidence)

    expected = mode_probabilities(exported, PyagrumModel(question).marginals(components))
    assert len(expected) == engine.compiled.mode_count
    assert assessment.mode_probabilities == pytest.approx(expected, abs=TOLERANCE)


@pytest.mark.parametrize("name", OTHER_FINDINGS)
def test_every_other_shipped_network_has_a_mode_probability_of_pgmpy(name: str) -> None:
    engine = engine_of(without_contexts(load_network(name)), 2)
    evidence = parse_findings(engine.compiled.index, OTHER_FINDINGS[name][:1])
    exported = export_network(engine)
    mode = "main_control.output_fails"
    variable, state = exported.mode_states[mode]

    assessment = engine.assess(evidence)

    question = Question.of(exported, evidence.findings, [variable])
    marginal = PgmpyModel(question).marginals([variable])[variable]
    expected = marginal[exported.network.state_index(variable, state)]
    found = assessment.mode_probabilities[engine.compiled.mode_position[mode]]
    assert found == pytest.approx(expected, abs=TOLERANCE)


# pgmpy joins the 120 combinations of contexts with everything: it answers about fewer failed modes,
# or about the same machine without contexts.
PGMPY_QUESTIONS = {
    "two_failed_modes": (2, False, ["meters_pump_winding=200.0", "asks_age=over_12"]),
    "no_contexts": (3, True, ["says_water_left=volunteered", "asks_pump_sound=humming"]),
}


@pytest.mark.parametrize(
    ("max_failed", "no_contexts", "texts"), PGMPY_QUESTIONS.values(), ids=PGMPY_QUESTIONS.keys()
)
def test_shipped_network_has_the_mode_probabilities_of_pgmpy(
    max_failed: int, no_contexts: bool, texts: list[str]
) -> None:
    network = load_network("top_load_washer")
    engine = engine_of(without_contexts(network) if no_contexts else network, max_failed)
    evidence = parse_findings(engine.compiled.index, texts)
    exported = export_network(engine)
    modes = ["drain_pump.burnt", "water_supply.tap_closed", "nothing_failed.normal_behaviour"]
    places = [exported.mode_states[mode] for mode in modes]
    variables = [variable for variable, _ in places]

    assessment = engine.assess(evidence)

    question = Question.of(exported, evidence.findings, variables)
    marginals = PgmpyModel(question).marginals(variables)
    expected = [
        marginals[variable][exported.network.state_index(variable, state)]
        for variable, state in places
    ]
    found = [assessment.mode_probabilities[engine.compiled.mode_position[mode]] for mode in modes]
    assert found == pytest.approx(expected, abs=TOLERANCE)


@pytest.mark.parametrize(
    "look", ["asks_foam", "looks_into_pump", "tests_drain_pump", "says_pump_hums"]
)
def test_shipped_network_has_the_gains_of_pyagrum(shipped: Engine, look: str) -> None:
    evidence = parse_findings(shipped.compiled.index, ["says_water_left=yes"])
    exported = export_network(shipped)
    # Given the components above it, this observation does not depend on the others.
    above = exported.network.ancestors([exported.observation_variables[look]])
    components = [name for name in component_variables(exported) if name in above]
    place = shipped.compiled.observation_ids.index(look)

    assessment = shipped.assess(evidence)

    expected = joint_gain(exported, evidence.findings, look, components)
    assert expected > 1e-3  # bits; the network is such that these looks tell something
    assert assessment.gains.bits[place] == pytest.approx(expected, abs=TOLERANCE)
