"""The stated conflict threshold is one that calls drawn from the network itself seldom exceed."""

from dataclasses import dataclass

import numpy as np
import pytest
import yaml

from tests.networks.calibrate_conflict import simulated_conflicts
from tests.networks.simulate import CallSimulator
from triage.inference.engine import Engine
from triage.inference.evidence import parse_findings
from triage.inference.explanation import conflict
from triage.network.catalogue import load_network, network_names, network_source

CALLS, MIXED_CALLS = 320, 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """Conflict in bits of fresh calls and of calls that mix three machines; stated threshold."""

    threshold: float
    calls: np.ndarray
    mixed_calls: np.ndarray


def calibrated_networks() -> list[str]:
    """Shipped networks whose file says that their threshold was measured; a new one is a guess."""
    stated = {
        name: yaml.safe_load(network_source(name).read_text(encoding="utf-8"))
        for name in network_names()
    }
    return [
        name for name in stated if stated[name]["conflict_threshold_bits"]["grade"] == "measured"
    ]


@pytest.fixture(scope="module", params=calibrated_networks())
def simulated(request: pytest.FixtureRequest) -> Simulated:
    simulator = CallSimulator(Engine(load_network(request.param)))
    rng = np.random.default_rng(7)  # not the seed the threshold was found with
    return Simulated(
        threshold=simulator.network.conflict_threshold_bits,
        calls=simulated_conflicts(simulator, rng, CALLS),
        mixed_calls=simulated_conflicts(simulator, rng, MIXED_CALLS, machines_count=3),
    )


def test_about_one_simulated_call_in_a_hundred_exceeds_the_threshold(simulated: Simulated) -> None:
    exceeded = float((simulated.calls > simulated.threshold).mean())

    # 0.01 is meant; so few calls can show 0.002 to 0.03.
    assert 0.002 <= exceeded <= 0.03, (
        "set conflict_threshold_bits to what `python -m tests.networks.calibrate_conflict` prints"
    )


def test_calls_that_mix_three_machines_exceed_the_threshold_more_often(
    simulated: Simulated,
) -> None:
    exceeded = float((simulated.calls > simulated.threshold).mean())
    exceeded_mixed = float((simulated.mixed_calls > simulated.threshold).mean())

    assert exceeded_mixed > 2.0 * exceeded


@pytest.mark.parametrize(
    "said",
    [
        ["says_water_left=yes", "asks_how_much_water=none"],
        ["tests_drain_pump=hums", "tests_low_spin=works"],
        ["says_dead=yes", "tests_low_spin=works"],
    ],
)
def test_two_findings_that_exclude_each_other_are_suspicious(said: list[str]) -> None:
    engine = Engine(load_network("top_load_washer"))

    found = conflict(engine, parse_findings(engine.compiled.index, said))

    assert found.is_suspicious
    assert str(found.least_likely) in said
