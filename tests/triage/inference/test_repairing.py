"""Repairs as changes of state, against enumeration of activations (``tests/oracle_repairs.py``)."""

import numpy as np
import pytest

from tests.builders import (
    component,
    network,
    observation,
    random_network,
    repair,
    sign,
)
from tests.oracle_repairs import survivors_joint
from triage.errors import UnknownRepairError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, RepairDone
from triage.network.values import FaultNetwork


def _story(fault_network: FaultNetwork, seed: int) -> Evidence:
    """Findings, a repair, findings, another repair, a finding."""
    rng = np.random.default_rng(seed)
    names = [entry.id for entry in fault_network.observations.values() if entry.sign]

    def finding() -> Finding:
        name = str(rng.choice(names))
        return Finding(name, str(rng.choice(list(fault_network.observations[name].answers))))

    def done() -> RepairDone:
        return RepairDone(str(rng.choice(list(fault_network.repairs))))

    return Evidence((finding(), finding(), done(), finding(), finding(), done(), finding()))


@pytest.mark.parametrize("seed", range(10))
def test_belief_after_repairs_equals_enumeration(seed: int) -> None:
    fault_network = random_network(seed, components_count=3, signs_count=3, with_table=False)
    engine = Engine(fault_network, max_failed=4, dropped_mass=0.0)
    evidence = _story(fault_network, seed)
    table = survivors_joint(engine.compiled, engine.prior, evidence)
    total = sum(table.values())

    found = engine.posterior(evidence)

    expected = [
        sum(weight for survivors, weight in table.items() if mode in survivors) / total
        for mode in engine.compiled.mode_ids
    ]
    assert found.mode_probabilities == pytest.approx(expected, abs=1e-12)
    assert found.log_evidence == pytest.approx(np.log(total), abs=1e-12)


def _pump_and_belt(success: float = 1.0) -> FaultNetwork:
    return network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign("noise", {"pump.burnt": 0.8, "belt.broken": 0.8})],
        [observation("listens", "noise", [[0.95, 0.05], [0.05, 0.95]])],
        repairs=[repair("new_pump", ["pump.burnt"], success), repair("new_belt", ["belt.broken"])],
    )


def test_certain_repair_removes_its_mode() -> None:
    engine = Engine(_pump_and_belt())
    evidence = Evidence.of(Finding("listens", "yes"), RepairDone("new_pump"))

    found = engine.posterior(evidence)

    assert found.mode_probabilities[engine.compiled.mode_position["pump.burnt"]] == 0.0


def test_repair_with_success_rate_leaves_the_mode_with_the_rest() -> None:
    engine = Engine(_pump_and_belt(success=0.9))
    pump = engine.compiled.mode_position["pump.burnt"]
    before = engine.posterior(Evidence()).mode_probabilities[pump]

    after = engine.posterior(Evidence.of(RepairDone("new_pump"))).mode_probabilities[pump]

    assert after == pytest.approx(0.1 * before, rel=1e-3)  # 5e-4 of the mass may be dropped


def test_sign_of_the_surviving_mode_persists_through_a_repair() -> None:
    engine = Engine(_pump_and_belt(), dropped_mass=0.0)
    belt = engine.compiled.mode_position["belt.broken"]
    quiet_before = Evidence.of(Finding("listens", "no"), RepairDone("new_pump"))

    again = quiet_before.adding(Finding("listens", "no"))

    before = engine.posterior(quiet_before).mode_probabilities[belt]
    after = engine.posterior(again).mode_probabilities[belt]
    drawn_anew = before * 0.2 / (before * 0.2 + (1 - before))  # what independence would claim
    assert drawn_anew < after < before


def test_verification_that_still_fails_points_to_the_other_cause() -> None:
    engine = Engine(_pump_and_belt())
    belt = engine.compiled.mode_position["belt.broken"]
    repaired = Evidence.of(Finding("listens", "yes"), RepairDone("new_pump"))

    found = engine.posterior(repaired.adding(Finding("listens", "yes")))

    assert found.mode_probabilities[belt] > 0.95


def test_gains_after_a_repair_are_those_of_the_machine_as_it_is_now() -> None:
    engine = Engine(_pump_and_belt())
    both_repaired = Evidence.of(
        Finding("listens", "yes"), RepairDone("new_pump"), RepairDone("new_belt")
    )

    assessment = engine.assess(both_repaired)

    assert assessment.gains.bits[0] == pytest.approx(0.0, abs=1e-12)
    assert assessment.hypotheses[0].modes == ()


def test_unknown_repair_is_refused_with_the_nearest_name() -> None:
    engine = Engine(_pump_and_belt())

    with pytest.raises(UnknownRepairError, match='Did you mean "new_pump"'):
        engine.posterior(Evidence.of(RepairDone("new_pumps")))
