"""Machines drawn from a network agree with the engine, and are the same for every policy."""

from collections import Counter

import numpy as np
import pytest

from tests.builders import component, observation, random_network, repair, sign
from tests.builders import network as build_network
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, RepairDone
from triage.network.values import Channel, FaultNetwork
from triage.simulation.disturbance import Disturbance, disturbed
from triage.simulation.draws import Draws
from triage.simulation.machines import Machine, MachineSource
from triage.simulation.perfect_check import CHECK, STILL_FAILS, WORKS, with_perfect_check

MACHINES = 1500
WIDE = 4.5  # standard errors; with some 300 comparisons one in a thousand runs would exceed them


def machines(network: FaultNetwork) -> tuple[Engine, list[Machine]]:
    engine = Engine(network)
    source = MachineSource(engine)
    return engine, [source.machine(Draws(("test", k))) for k in range(MACHINES)]


def surprise(hits: int, expected: float, count: int = MACHINES) -> float:
    """Standard errors between a count and its expectation; nothing where both are certain."""
    error = (expected * (1.0 - expected) / count) ** 0.5
    off = abs(hits / count - expected)
    return off / error if error > 1e-9 else (0.0 if off < 1e-6 else np.inf)


def answer_surprises(engine: Engine, found: list[Machine], evidence: Evidence) -> list[float]:
    """Answers of machines against the engine's, for every observation."""
    expected = engine.assess(evidence, check_missing_mass=False).gains.answer_probabilities
    result = []
    for place, entry in enumerate(engine.compiled.observations):
        given = Counter(machine.answer(entry).answer for machine in found)
        for column, answer in enumerate(entry.answers):
            result.append(surprise(given[answer], float(expected[place, column]), len(found)))
    return result


@pytest.mark.parametrize("seed", [3, 11])
def test_failed_modes_come_as_often_as_the_prior_says(seed: int) -> None:
    engine, found = machines(random_network(seed))

    drawn = Counter(mode for machine in found for mode in machine.failed)

    prior = engine.assess(Evidence(), check_missing_mass=False).mode_probabilities
    off = [
        surprise(drawn[mode], float(share))
        for mode, share in zip(engine.compiled.mode_ids, prior, strict=True)
    ]
    assert max(off) < WIDE


@pytest.mark.parametrize("seed", [3, 11])
def test_answers_come_as_often_as_the_engine_expects(seed: int) -> None:
    engine, found = machines(random_network(seed))

    off = answer_surprises(engine, found, Evidence())

    assert max(off) < WIDE


@pytest.mark.parametrize("seed", [3, 11])
def test_answers_after_a_repair_come_as_often_as_the_engine_expects(seed: int) -> None:
    engine, found = machines(random_network(seed))
    action = engine.network.repairs["fix_c0"]
    first = engine.network.observations["o_s4_0"]
    seen = [machine for machine in found if machine.answer(first).answer == "b"]

    repaired = [machine.after(action) for machine in seen]

    evidence = Evidence.of(Finding(first.id, "b"), RepairDone(action.id))
    other_looks = answer_surprises(engine, repaired, evidence)
    place = 3 * list(engine.network.observations).index(first.id)  # three answers each
    del other_looks[place : place + 3]  # the engine expects a second look, here is only one
    assert max(other_looks) < WIDE


def test_repair_leaves_what_the_other_failures_do_as_it_was() -> None:
    network = build_network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign("no_spin", {"pump.burnt": 0.5, "belt.broken": 0.5}, leak=0.0)],
        [observation("tests_spin", "no_spin", [[1, 0], [0, 1]], channel=Channel.ON_SITE_TEST)],
        repairs=[repair("new_pump", ["pump.burnt"])],
    )
    both = [Machine(network, Draws((k,)), ("pump.burnt", "belt.broken"), {}) for k in range(200)]
    only_belt = [Machine(network, Draws((k,)), ("belt.broken",), {}) for k in range(200)]

    after = [machine.after(network.repairs["new_pump"]) for machine in both]

    assert [m.shown for m in after] == [m.shown for m in only_belt]
    assert len({machine.shown["no_spin"] for machine in after}) == 2


def test_answers_do_not_depend_on_what_was_asked_before() -> None:
    engine, found = machines(random_network(5))
    looks = list(engine.network.observations.values())
    machine = found[0]
    again = MachineSource(engine).machine(machine.draws)

    forwards = {entry.id: machine.answer(entry) for entry in looks}
    backwards = {entry.id: again.answer(entry) for entry in reversed(looks)}

    assert machine.failed == again.failed
    assert forwards == backwards


def test_places_are_drawn_in_proportion() -> None:
    draws = Draws(("places",))

    drawn = Counter(draws.place([0.2, 0.0, 0.8], k) for k in range(4000))

    assert drawn[1] == 0
    assert surprise(drawn[0], 0.2, 4000) < WIDE


def test_check_is_never_wrong_and_rules_the_working_machine_out() -> None:
    network = with_perfect_check(random_network(7))
    engine, found = machines(network)
    check = network.observations[CHECK]
    action = network.repairs["fix_c0"]

    after = [machine.after(action) for machine in found]

    assert {machine.answer(check).answer for machine in after if machine.works} == {WORKS}
    assert {machine.answer(check).answer for machine in after if machine.failed} == {STILL_FAILS}
    known = engine.posterior(Evidence.of(RepairDone(action.id), Finding(CHECK, STILL_FAILS)))
    nothing = (known.state.table.members == engine.compiled.mode_count).all(axis=1)
    assert known.weights[nothing].sum() == 0.0


@pytest.mark.parametrize("seed", range(3))
def test_disturbed_network_has_other_numbers_that_are_still_a_network(seed: int) -> None:
    network = random_network(seed)

    copy = disturbed(network, Disturbance(), np.random.default_rng(seed))

    prior = Engine(copy).assess(Evidence(), check_missing_mass=False).mode_probabilities
    shares = [mode.share for part in copy.components.values() for mode in part.modes]
    assert sum(shares) == pytest.approx(1.0)
    assert max(abs(prior - Engine(network).assess(Evidence()).mode_probabilities)) > 0.02
    for name, entry in copy.observations.items():
        assert np.sum(entry.likelihood, axis=1) == pytest.approx(np.ones(len(entry.likelihood)))
        assert entry.likelihood != network.observations[name].likelihood


def test_disturbance_of_nothing_leaves_strengths_and_callers_alone() -> None:
    network = random_network(2)
    still = Disturbance(share_jobs=1e9, link_sd=0.0, careless_share=0.0)

    copy = disturbed(network, still, np.random.default_rng(0))

    for name, entry in copy.signs.items():
        assert entry.leak == pytest.approx(network.signs[name].leak)
    for name, entry in copy.observations.items():
        expected = np.array(network.observations[name].likelihood)
        assert np.array(entry.likelihood) == pytest.approx(expected)
