"""The next step: recommended, alternatives with their extra cost, preparations, certified gap."""

from dataclasses import replace

import pytest

from tests.builders import component, network, observation, repair, sign
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, RepairDone
from triage.network.values import Channel, FaultNetwork
from triage.planning.policy.bounds import CertifiedGap
from triage.planning.policy.visit import NODES_OF_ROLLOUT
from triage.planning.problem.preparations import FACETS, Setup, facets_of
from triage.services.networks.engines import engine_for
from triage.services.plan.next_step import (
    NextStep,
    gap_sentence,
    next_step,
    next_step_as_json,
    rollout_nodes,
)

WORDS = {
    "powered": "plugged in",
    "unplugged": "unplugged",
    "basket_stopped": "basket stands still",
    "panel_off": "a panel is off",
}


def _washer() -> FaultNetwork:
    """Two causes, a live test of the one and a cold one, behind the panel, of the other."""
    live = observation("live", "s", [[0.97, 0.03], [0.03, 0.97]], channel=Channel.ON_SITE_TEST)
    cold = observation("cold", "t", [[0.97, 0.03], [0.03, 0.97]], channel=Channel.METER)
    return replace(
        network(
            [component("a", {"x": 0.6}), component("b", {"x": 0.4})],
            [sign("s", {"a.x": 0.95}), sign("t", {"b.x": 0.95})],
            [
                replace(live, minutes=2.0, preconditions=("powered",)),
                replace(cold, minutes=6.0, preconditions=("unplugged", "panel_off")),
            ],
            repairs=[repair("fix_a", ["a.x"]), repair("fix_b", ["b.x"])],
            expected_failed_modes=1.0,
        ),
        preconditions=WORDS,
    )


@pytest.fixture(scope="module")
def found() -> NextStep:
    engine = engine_for("top_load_washer")
    heard = Evidence.of(Finding("says_water_left", "yes"), Finding("says_pump_hums", "yes"))
    return next_step(engine, heard)


def test_recommended_step_costs_nothing_extra_and_no_other_is_cheaper(found: NextStep) -> None:
    assert found.recommended is not None
    assert found.recommended.extra_minor == 0.0
    extras = [card.extra_minor for card in found.alternatives]
    assert extras == sorted(extras)
    assert all(extra >= 0.0 for extra in extras)


def test_alternatives_hold_tests_and_repairs(found: NextStep) -> None:
    assert {"test", "repair"} <= {card.kind for card in found.alternatives}
    assert len(found.alternatives) <= 7


def test_answers_of_a_test_are_all_its_answers_and_their_chances_sum_to_one(
    found: NextStep,
) -> None:
    engine = engine_for("top_load_washer")
    tests = [c for c in (found.recommended, *found.alternatives) if c and c.kind == "test"]

    assert tests
    for card in tests:
        own = engine.network.observations[card.id]
        assert [chance.answer for chance in card.answers] == list(own.answers)
        assert sum(chance.probability for chance in card.answers) == pytest.approx(1.0)
        assert card.gain_bits > 0.0


def test_gap_holds_the_cost_of_the_plan_above_what_any_must_cost(found: NextStep) -> None:
    assert 0.0 < found.gap.lower_minor <= found.gap.upper_minor
    assert "% above the best possible" in found.gap_sentence


def test_step_is_found_just_the_same_off_the_plan(found: NextStep) -> None:
    engine = engine_for("top_load_washer")
    odd = Evidence.of(
        Finding("says_water_left", "yes"),
        Finding("tests_agitation", "silent", "technician"),
        Finding("tests_cold_valve", "silent", "technician"),
    )
    known = engine.network.observations
    events = tuple(
        replace(event, answer=next(iter(known[event.observation].answers)))
        if isinstance(event, Finding) and event.answer not in known[event.observation].answers
        else event
        for event in odd.events
    )

    after = next_step(engine, Evidence(events))

    shown = [card.id for card in (after.recommended, *after.alternatives) if card]
    assert after.recommended is not None
    assert "tests_agitation" not in shown
    assert "tests_cold_valve" not in shown


def test_minutes_of_a_test_hold_its_preparations() -> None:
    engine = Engine(_washer())

    found = next_step(engine, Evidence())

    cards = {card.id: card for card in (found.recommended, *found.alternatives) if card}
    assert cards["live"].setup_minutes == 0.0
    assert cards["live"].minutes == 2.0
    assert cards["cold"].setup_minutes == 5.0  # unplug 1, panel 4
    assert cards["cold"].minutes == 7.0  # the 6 minutes of the file hold the panel
    assert cards["cold"].preconditions == ("unplugged", "a panel is off")
    assert cards["cold"].preparations[0].startswith("unplug it")


def test_machine_left_unplugged_must_be_plugged_in_for_the_live_test() -> None:
    fault_network = _washer()
    engine = Engine(fault_network)
    looked = Evidence.of(Finding("cold", "no", "technician"))

    found = next_step(engine, looked)

    cards = {card.id: card for card in (found.recommended, *found.alternatives) if card}
    assert cards["live"].setup_minutes == 1.0
    assert Setup.after(fault_network, looked).panel_off
    repaired = looked.adding(RepairDone("fix_b"))
    assert (
        Setup.after(fault_network, repaired).preparation(_test(fault_network, "live")).minutes == 0
    )


def _test(fault_network: FaultNetwork, name: str):  # type: ignore[no-untyped-def]
    return fault_network.observations[name]


def test_basket_is_waited_for_only_after_the_machine_has_run() -> None:
    fault_network = _washer()
    still = replace(_test(fault_network, "cold"), preconditions=("powered", "basket_stopped"))
    found = Setup.found(fault_network)

    after_run = found.after_test(_test(fault_network, "live"))

    assert found.preparation(still).minutes == 0.0
    assert after_run.preparation(still).minutes == 0.5
    assert "stands still" in after_run.preparation(still).steps[0]


def test_facets_are_those_the_preconditions_speak_of() -> None:
    names = [facet.states[0].precondition for facet in facets_of(_washer())]

    assert names == ["unplugged", "basket_stopped"]
    assert len(FACETS) == 4


def test_every_precondition_of_the_shipped_networks_is_a_facet_a_panel_or_part_of_the_test() -> (
    None
):
    known = {state.precondition for facet in FACETS for state in facet.states}

    for name in ("top_load_washer", "front_load_washer", "electric_dryer", "gas_dryer"):
        asked = set(engine_for(name).network.preconditions)
        assert asked - known <= {"panel_off", "lid_locked"}


def test_nothing_wrong_any_more_needs_no_step() -> None:
    engine = Engine(
        network(
            [component("a", {"x": 1.0})],
            [sign("s", {"a.x": 0.95})],
            [observation("test", "s", [[0.9, 0.1], [0.1, 0.9]], channel=Channel.ON_SITE_TEST)],
            repairs=[replace(repair("fix_a", ["a.x"]), success=1.0)],
            expected_failed_modes=1.0,
        )
    )

    found = next_step(engine, Evidence.of(RepairDone("fix_a")))

    assert found.recommended is None
    assert found.well_share == pytest.approx(1.0)
    assert next_step_as_json(found)["steps"] == []


def test_small_visit_is_proved_best() -> None:
    found = next_step(Engine(_washer()), Evidence())

    assert found.basis == "proved"
    assert found.basis_sentence.startswith("Proved")


def test_time_is_turned_into_nodes_by_a_fixed_rate() -> None:
    assert rollout_nodes(None) == NODES_OF_ROLLOUT
    assert rollout_nodes(100.0) == 40
    assert rollout_nodes(0.0) == 0


def test_sentence_of_a_proved_plan_claims_no_distance() -> None:
    assert "no other is cheaper" in gap_sentence(CertifiedGap(5000.0, 5000.0), "USD")


def test_json_holds_the_recommended_step_first(found: NextStep) -> None:
    data = next_step_as_json(found)
    steps = data["steps"]

    assert isinstance(steps, list)
    assert found.recommended is not None
    assert steps[0]["id"] == found.recommended.id
    assert len(steps) == 1 + len(found.alternatives)
