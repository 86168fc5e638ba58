"""Facts of the trade that only one kind of machine has: directions, layouts, what comes together.

Common practice in the trade, no published source. Frequencies stand in ``test_trade_product``.
"""

import numpy as np
import pytest

from tests.networks.trade_tables.dryers import FUSE, NETWORKS
from triage.inference.engine import Engine
from triage.inference.evidence import parse_findings
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork


@pytest.fixture(scope="module")
def networks() -> dict[str, FaultNetwork]:
    return {kind: load_network(name) for kind, name in NETWORKS.items()}


@pytest.fixture(scope="module")
def engines(networks: dict[str, FaultNetwork]) -> dict[str, Engine]:
    return {kind: Engine(network) for kind, network in networks.items()}


def top_cause(engine: Engine, *findings: str) -> str:
    evidence = parse_findings(engine.compiled.index, findings)
    return engine.assess(evidence, check_missing_mass=False).causes[0].mode


def test_control_is_seen_in_the_running_cycle_but_seldom_in_a_forced_test() -> None:
    network = load_network("top_load_washer")
    forced = ("lid_lock_action", "cold_flow", "hot_flow", "drain_flow", "mode_shift", "low_spin",
              "high_spin", "agitation", "level_reading")  # fmt: skip

    shown = [1 - network.signs[sign].causes["main_control.output_fails"][0] for sign in forced]
    in_cycle = network.signs["output_in_cycle"].causes["main_control.output_fails"][1]

    assert max(shown) < 0.10
    assert in_cycle > 0.90


def test_machine_with_a_failed_heater_has_a_heater() -> None:
    network = load_network("front_load_washer")
    # Trade table of shares: heater and heater sensor fail only where the machine has a heater.
    sign = network.signs["heater_fitted"]

    certain = {mode for mode, states in sign.causes.items() if states == (0.0, 1.0)}

    assert certain == {"wash_heater.burnt", "temperature_sensor.drifted"}


def test_brushes_wear_only_in_a_brushed_motor_and_a_belt_only_where_there_is_one() -> None:
    network = load_network("front_load_washer")
    modes = {mode.id: mode for component in network.components.values() for mode in component.modes}

    never = {
        (mode, drive)
        for mode in ("motor_brushes.worn", "drive_belt.broken")
        for drive, factor in modes[mode].multipliers["drive"].items()
        if factor == 0
    }

    assert never == {
        ("motor_brushes.worn", "belt"),
        ("motor_brushes.worn", "direct_drive"),
        ("drive_belt.broken", "direct_drive"),
    }


@pytest.mark.parametrize("kind", NETWORKS)
def test_caller_is_asked_for_nothing_that_needs_a_caution(
    networks: dict[str, FaultNetwork], kind: str
) -> None:
    network = networks[kind]
    off_site = [look for look in network.observations.values() if not look.channel.is_on_site]
    by_caller = [repair for repair in network.repairs.values() if repair.by.value == "caller"]

    guarded = {look.id for look in off_site if look.cautions or look.preconditions}
    guarded |= {repair.id for repair in by_caller if repair.cautions or repair.parts}

    assert guarded == set()


# Direction checks of the trade (common practice): findings, and the cause they put on top.
@pytest.mark.parametrize(
    ("kind", "findings", "wanted"),
    [
        ("E", "says_no_heat=yes", "heating_element.open"),
        ("E", "says_no_heat=yes asks_breaker_reset=heat_back", "supply_leg.lost"),
        ("E", "says_no_heat=yes says_steamy_room=yes", "exhaust_duct.blocked"),
        ("E", "says_dries_slowly=yes", "exhaust_duct.blocked"),
        ("E", "says_dries_slowly=yes says_steamy_room=yes", "exhaust_duct.blocked"),
        ("E", "says_no_heat=yes tests_heat=half", "heating_element.one_coil_open"),
        ("E", "says_drum_stands=yes", "drum_belt.broken"),
        ("E", "says_squeals=yes", "drum_rollers.worn"),
        ("E", "says_squeals=yes says_thumps=no", "idler.worn"),
        ("G", "says_no_heat=yes", "igniter.cracked"),
        ("G", "says_no_heat=yes says_glow_goes_out=yes", "valve_coils.weak_when_warm"),
        ("G", "says_no_heat=yes says_no_glow=yes", "igniter.cracked"),
        ("G", "says_no_heat=yes says_glow_stays=yes", "flame_sensor.stuck_closed"),
        ("G", "says_no_heat=yes asks_second_load=yes", "valve_coils.weak_when_warm"),
        ("G", "tests_burner_cold=lights tests_burner_hot=fails", "valve_coils.weak_when_warm"),
        ("G", "says_no_heat=yes asks_other_gas=out", "gas_supply.off"),
        ("G", "says_dries_slowly=yes says_steamy_room=yes", "exhaust_duct.blocked"),
    ],
)
def test_findings_put_the_cause_on_top_that_the_trade_expects(
    engines: dict[str, Engine], kind: str, findings: str, wanted: str
) -> None:
    top = top_cause(engines[kind], *findings.split())

    assert top == wanted


@pytest.mark.parametrize("kind", NETWORKS)
def test_blown_fuse_comes_with_a_blocked_airway_more_often_than_not(
    engines: dict[str, Engine], kind: str
) -> None:
    # "A blown thermal fuse is mostly a consequence of poor airflow": trade fact, no source.
    engine = engines[kind]
    prior = engine.posterior(parse_findings(engine.compiled.index, []))
    members = prior.state.table.members
    place = engine.compiled.mode_position
    airway = [place[mode] for mode in ("lint_screen.blocked", "exhaust_duct.blocked",
                                       "transition_duct.crushed")]  # fmt: skip
    blown = np.isin(members, [place[mode] for mode in FUSE.split()]).any(axis=1)
    blocked = np.isin(members, airway).any(axis=1)

    share = prior.weights[blown & blocked].sum() / prior.weights[blown].sum()

    assert 0.5 < share < 0.8


@pytest.mark.parametrize("kind", NETWORKS)
def test_known_wiring_layout_leaves_one_mode_of_the_fuse(
    engines: dict[str, Engine], kind: str
) -> None:
    engine = engines[kind]
    said = ["reads_wiring_sheet=heat_circuit", "meters_thermal_fuse=outside"]

    causes = engine.assess(parse_findings(engine.compiled.index, said)).causes

    found = {cause.mode: cause.probability for cause in causes}
    assert (
        found["thermal_protection.fuse_stops_heat"]
        > 20 * found["thermal_protection.fuse_stops_motor"]
    )
