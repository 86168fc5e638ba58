"""An answer moves the odds of a cause by its likelihood ratio, on the shipped top-load washer.

The ratios are worked out from the values of the network (and from the trade's sensitivities and
specificities), the movements by the engine.
"""

import numpy as np
import pytest

from tests.networks.probabilities import FORCED_TESTS_PASS, odds, probabilities
from tests.networks.trade_tables.top_load_washer import TESTS
from tests.oracle import joint_table, state_distribution
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, parse_findings
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork, Observation


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine(load_network("top_load_washer"))


@pytest.fixture(scope="module")
def single_fault_engine() -> Engine:
    return Engine(load_network("top_load_washer"), max_failed=1)


@pytest.mark.parametrize(
    ("test", "good", "mode", "sensitivity", "specificity"),
    [
        (test, good, mode, sensitivity, specificity)
        for test, good, modes, sensitivity, specificity in TESTS
        for mode in modes.split()
    ],
)
def test_passed_test_lowers_its_modes_by_its_likelihood_ratio(
    single_fault_engine: Engine,
    test: str,
    good: str,
    mode: str,
    sensitivity: float,
    specificity: float,
) -> None:
    # A pass divides the odds against a cause the test does not concern by spec / (1 - sens);
    # sensitivity and specificity are the trade's, typed from its table of tests.
    elsewhere = "nothing_failed.normal_behaviour"
    before = probabilities(single_fault_engine)

    after = probabilities(single_fault_engine, f"{test}={good}")

    lowered = (after[mode] / after[elsewhere]) / (before[mode] / before[elsewhere])
    assert lowered == pytest.approx((1.0 - sensitivity) / specificity, abs=0.015)


def causes_alone(network: FaultNetwork, observation: Observation) -> bool:
    """Whether one mode alone causes the sign looked at, and nothing hides the sign."""
    sign = network.signs.get(observation.sign or "")
    return sign is not None and len(sign.causes) == 1 and not sign.masks


def test_answer_moves_the_odds_of_an_only_cause_by_exactly_its_likelihood_ratio(
    engine: Engine,
) -> None:
    network = engine.network
    before = probabilities(engine)
    expected, moved = {}, {}

    for observation in network.observations.values():
        if causes_alone(network, observation):
            sign = network.signs[observation.sign or ""]
            (mode,) = sign.causes
            rows = np.array(observation.likelihood)
            failed = state_distribution(network, sign.id, {mode}) @ rows
            sound = np.array(sign.leak) @ rows
            for place, answer in enumerate(observation.answers):
                finding = f"{observation.id}={answer}"
                expected[finding] = failed[place] / sound[place]
                moved[finding] = odds(probabilities(engine, finding)[mode]) / odds(before[mode])

    assert len(expected) >= 40
    assert moved == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("finding", FORCED_TESTS_PASS)
def test_passed_forced_test_moves_every_mode_by_the_ratio_of_the_enumerated_joint(
    single_fault_engine: Engine, finding: str
) -> None:
    compiled, prior = single_fault_engine.compiled, single_fault_engine.prior
    evidence = parse_findings(compiled.index, [finding])
    joint = joint_table(compiled, prior, evidence, max_failed=1)
    alone = joint_table(compiled, prior, Evidence(), max_failed=1)
    passed_by_others = {
        mode: (sum(joint.values()) - joint[mode]) / (sum(alone.values()) - alone[mode])
        for mode in joint
    }
    expected = {mode: joint[mode] / alone[mode] / passed_by_others[mode] for mode in joint}
    before = probabilities(single_fault_engine)

    after = probabilities(single_fault_engine, finding)

    moved = {mode: odds(after[mode]) / odds(before[mode]) for mode in after}
    by_name = {compiled.mode_ids[mode]: ratio for (mode,), ratio in expected.items()}
    assert moved == pytest.approx(by_name, rel=1e-9)
