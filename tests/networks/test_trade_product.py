"""Strength times channel gives the trade's figures, for every cause of every complaint and test.

The tables below are typed from the trade table of signs and tests (common practice in the trade, no
published source): how often a caller whose machine has the fault reports the complaint, how often
a test finds the fault, and how often it passes a machine without it. The figures hold both steps;
the network keeps them apart, so their product must come back.
"""

import numpy as np
import pytest

from triage.inference.noisy import noisy_max
from triage.network.catalogue import load_network
from triage.network.values import COULD_NOT_BE_RUN, FaultNetwork, Observation

ALMOST_ALWAYS, OFTEN, SOMETIMES, RARELY = 0.90, 0.60, 0.25, 0.05
LEAK = 0.01
RARE_LEAK = 0.0015  # "0.001 to 0.002" for signs nobody reports by mistake

NOT_IN_TABLE = {"nothing_failed.not_reproduced"}  # its own links are judged here, but for one

COMPLAINTS = {
    "says_dead": {
        ALMOST_ALWAYS: "power_supply.off",
        SOMETIMES: "main_control.output_fails user_panel.keys_fail wiring.open",
        RARELY: "settings.delayed_or_locked",
    },
    "says_no_start": {
        ALMOST_ALWAYS: "lid.not_shut",
        OFTEN: "lid_lock.does_not_lock settings.delayed_or_locked user_panel.keys_fail",
        SOMETIMES: "main_control.output_fails wiring.open nothing_failed.normal_behaviour",
        RARELY: "mode_actuator.stuck pressure_sensor.drifted",
    },
    "says_lid_clicks": {
        OFTEN: "lid_lock.does_not_lock",
        SOMETIMES: "lid.not_shut main_control.output_fails wiring.open",
    },
    "says_lid_stays_shut": {
        ALMOST_ALWAYS: "lid_lock.stays_locked",
        SOMETIMES: "object_in_pump.jams_it drain_pump.burnt drain_path.blocked"
        " main_control.output_fails"
        " nothing_failed.normal_behaviour",
        RARELY: "pressure_sensor.drifted",
    },
    "says_no_fill": {
        OFTEN: "water_supply.tap_closed cold_valve.does_not_open",
        SOMETIMES: "hot_valve.does_not_open inlet_screens.clogged main_control.output_fails"
        " pressure_sensor.drifted",
        RARELY: "lid_lock.does_not_lock pressure_tube.leaking settings.delayed_or_locked",
    },
    "says_slow_fill": {
        ALMOST_ALWAYS: "inlet_screens.clogged",
        OFTEN: "water_supply.tap_closed",
        SOMETIMES: "cold_valve.does_not_open hot_valve.does_not_open drain_hose.siphoning",
        RARELY: "main_control.output_fails",
    },
    "says_wrong_temperature": {
        ALMOST_ALWAYS: "cold_valve.does_not_open hot_valve.does_not_open",
        OFTEN: "water_supply.tap_closed temperature_sensor.drifted",
        SOMETIMES: "inlet_screens.clogged main_control.output_fails"
        " nothing_failed.normal_behaviour",
    },
    "says_overfills": {
        OFTEN: "valve_seat.leaks_through pressure_sensor.drifted pressure_tube.leaking",
        SOMETIMES: "main_control.output_fails",
        RARELY: "drain_hose.siphoning wiring.open",
    },
    "says_fills_and_empties": {
        ALMOST_ALWAYS: "drain_hose.siphoning",
        SOMETIMES: "main_control.output_fails pressure_sensor.drifted",
        RARELY: "pressure_tube.leaking",
    },
    "says_fills_when_idle": {
        ALMOST_ALWAYS: "valve_seat.leaks_through",
        SOMETIMES: "main_control.output_fails house_drain.blocked",
        RARELY: "drain_hose.siphoning",
    },
    "says_fills_then_sits": {
        ALMOST_ALWAYS: "drive_belt.broken drive_motor.burnt motor_drive.no_output",
        OFTEN: "mode_actuator.stuck clutch.worn agitator_coupling.stripped gearcase.worn"
        " motor_capacitor.low speed_sensor.no_signal lid_lock.does_not_lock",
        SOMETIMES: "main_control.output_fails wiring.open pressure_sensor.drifted"
        " pressure_tube.leaking",
        RARELY: "inlet_screens.clogged",
    },
    "says_pump_hums": {
        OFTEN: "object_in_pump.jams_it",
        SOMETIMES: "drain_pump.burnt drain_path.blocked",
        RARELY: "house_drain.blocked",
    },
    "says_drive_hums": {
        ALMOST_ALWAYS: "motor_capacitor.low",
        SOMETIMES: "clutch.worn gearcase.worn drive_motor.burnt motor_drive.no_output",
        RARELY: "tub_bearing.worn",
    },
    "says_water_left": {
        ALMOST_ALWAYS: "drain_pump.burnt drain_path.blocked",
        OFTEN: "object_in_pump.jams_it house_drain.blocked",
        SOMETIMES: "pressure_sensor.drifted main_control.output_fails wiring.open",
        RARELY: "lid_lock.does_not_lock detergent.oversudsing drain_hose.siphoning"
        " pressure_tube.leaking",
    },
    "says_no_spin": {
        ALMOST_ALWAYS: "drive_belt.broken drive_motor.burnt motor_drive.no_output",
        OFTEN: "lid_lock.does_not_lock mode_actuator.stuck clutch.worn motor_capacitor.low"
        " speed_sensor.no_signal load.unbalanced",
        SOMETIMES: "agitator_coupling.stripped gearcase.worn suspension.weak"
        " main_control.output_fails"
        " wiring.open object_in_pump.jams_it",
        RARELY: "tub_bearing.worn",
    },
    "says_slow_spin": {
        OFTEN: "load.unbalanced drive_belt.broken suspension.weak",
        SOMETIMES: "object_in_pump.jams_it drain_pump.burnt clutch.worn motor_capacitor.low"
        " speed_sensor.no_signal house_drain.blocked detergent.oversudsing",
        RARELY: "gearcase.worn",
    },
    "says_bangs": {
        ALMOST_ALWAYS: "suspension.weak",
        OFTEN: "load.unbalanced levelling.not_level",
        SOMETIMES: "tub_bearing.worn nothing_failed.normal_behaviour",
        RARELY: "gearcase.worn",
    },
    "says_roars": {
        OFTEN: "tub_bearing.worn",
        SOMETIMES: "gearcase.worn drive_motor.burnt",
        RARELY: "drive_belt.broken",
    },
    "says_grinds_at_start": {
        ALMOST_ALWAYS: "clutch.worn",
        OFTEN: "mode_actuator.stuck agitator_coupling.stripped",
        SOMETIMES: "gearcase.worn object_in_tub.trapped object_in_pump.jams_it",
    },
    "says_rubber_smell": {
        OFTEN: "drive_belt.broken",
        SOMETIMES: "gearcase.worn drive_motor.burnt drain_pump.burnt load.unbalanced",
        RARELY: "motor_drive.no_output",
    },
    "says_tub_turns": {
        OFTEN: "mode_actuator.stuck clutch.worn",
        SOMETIMES: "gearcase.worn",
        RARELY: "tub_bearing.worn",
    },
    "says_leaks_filling": {
        OFTEN: "tub_and_hoses.leaks",
        SOMETIMES: "detergent.oversudsing valve_seat.leaks_through water_supply.tap_closed",
    },
    "says_leaks_washing": {
        OFTEN: "tub_bearing.worn tub_and_hoses.leaks",
        SOMETIMES: "detergent.oversudsing gearcase.worn",
    },
    "says_leaks_draining": {
        ALMOST_ALWAYS: "house_drain.blocked",
        OFTEN: "tub_and_hoses.leaks tub_bearing.worn",
        SOMETIMES: "drain_pump.burnt drain_hose.siphoning",
    },
    "says_stops_part_way": {
        OFTEN: "object_in_pump.jams_it drain_pump.burnt",
        SOMETIMES: "lid_lock.does_not_lock mode_actuator.stuck speed_sensor.no_signal"
        " motor_drive.no_output pressure_sensor.drifted main_control.output_fails wiring.open"
        " load.unbalanced",
        RARELY: "temperature_sensor.drifted",
    },
    "says_takes_hours": {
        OFTEN: "inlet_screens.clogged load.unbalanced house_drain.blocked",
        SOMETIMES: "object_in_pump.jams_it pressure_sensor.drifted suspension.weak",
        RARELY: "main_control.output_fails",
    },
    "says_trips_breaker": {
        SOMETIMES: "power_supply.off drain_pump.burnt drive_motor.burnt wiring.open"
        " tub_and_hoses.leaks main_control.output_fails",
        RARELY: "motor_drive.no_output",
    },
    "says_smells_musty": {SOMETIMES: "drain_path.blocked house_drain.blocked"},
    "says_starts_by_itself": {
        SOMETIMES: "main_control.output_fails",
        RARELY: "valve_seat.leaks_through wiring.open",
    },
    "says_oil_marks": {OFTEN: "gearcase.worn", SOMETIMES: "tub_bearing.worn"},
    "says_soap_left": {
        ALMOST_ALWAYS: "detergent.oversudsing",
        SOMETIMES: "cold_valve.does_not_open inlet_screens.clogged drain_path.blocked"
        " house_drain.blocked",
        RARELY: "main_control.output_fails",
    },
    "says_fault_message": {
        OFTEN: "lid_lock.does_not_lock drain_pump.burnt mode_actuator.stuck speed_sensor.no_signal"
        " motor_drive.no_output pressure_sensor.drifted temperature_sensor.drifted",
        SOMETIMES: "object_in_pump.jams_it inlet_screens.clogged water_supply.tap_closed"
        " load.unbalanced"
        " main_control.output_fails wiring.open pressure_tube.leaking",
        RARELY: "drive_belt.broken gearcase.worn tub_bearing.worn",
    },
    "says_not_clean": {
        OFTEN: "agitator_coupling.stripped load.unbalanced",
        SOMETIMES: "mode_actuator.stuck clutch.worn nothing_failed.normal_behaviour"
        " drive_belt.broken",
        RARELY: "temperature_sensor.drifted",
    },
}
RARELY_IMAGINED = {"says_fills_when_idle", "says_starts_by_itself", "says_oil_marks"}

# Observation, answer of a machine without the fault, modes it is for, sensitivity, specificity.
TESTS = [
    ("tests_lid_lock", "locks", "lid_lock.does_not_lock", 0.92, 0.95),
    ("tests_lid_release", "works", "lid_lock.stays_locked", 0.92, 0.95),
    ("tests_cold_valve", "steady", "cold_valve.does_not_open", 0.95, 0.95),
    ("tests_hot_valve", "steady", "hot_valve.does_not_open", 0.95, 0.95),
    (
        "tests_drain_pump", "strong",
        "object_in_pump.jams_it drain_pump.burnt drain_path.blocked", 0.93, 0.95,
    ),
    ("tests_mode_shift", "shifts", "mode_actuator.stuck", 0.85, 0.92),
    (
        "tests_low_spin", "works",
        "drive_belt.broken drive_motor.burnt motor_capacitor.low speed_sensor.no_signal"
        " motor_drive.no_output mode_actuator.stuck clutch.worn", 0.90, 0.95,
    ),
    ("tests_high_spin", "smooth", "suspension.weak tub_bearing.worn", 0.80, 0.90),
    (
        "tests_agitation", "both_ways",
        "mode_actuator.stuck clutch.worn agitator_coupling.stripped", 0.90, 0.93,
    ),
    ("tests_level", "works", "pressure_sensor.drifted pressure_tube.leaking", 0.85, 0.93),
    ("meters_cold_coil", "inside", "cold_valve.does_not_open", 0.70, 0.98),
    ("meters_hot_coil", "inside", "hot_valve.does_not_open", 0.70, 0.98),
    ("meters_pump_winding", "inside", "drain_pump.burnt", 0.65, 0.97),
    ("meters_induction_motor", "inside", "drive_motor.burnt", 0.75, 0.95),
    ("meters_three_phase_motor", "inside", "drive_motor.burnt", 0.85, 0.97),
    ("meters_rotor_sensor", "inside", "speed_sensor.no_signal", 0.88, 0.95),
    ("meters_lock_coil", "inside", "lid_lock.does_not_lock", 0.75, 0.95),
    ("meters_lock_switch", "inside", "lid_lock.does_not_lock", 0.85, 0.95),
    ("meters_actuator", "inside", "mode_actuator.stuck", 0.70, 0.95),
    ("meters_capacitor", "inside", "motor_capacitor.low", 0.92, 0.97),
    ("meters_thermistor", "inside", "temperature_sensor.drifted", 0.85, 0.97),
    ("meters_output_in_cycle", "inside", "main_control.output_fails", 0.90, 0.93),
    ("looks_at_board", "not_found", "main_control.output_fails", 0.40, 0.97),
    ("looks_at_screens", "not_found", "inlet_screens.clogged", 0.95, 0.98),
    ("looks_for_foam", "not_found", "detergent.oversudsing", 0.80, 0.90),
    ("looks_at_belt", "not_found", "drive_belt.broken", 0.80, 0.95),
    ("looks_for_oil", "not_found", "gearcase.worn", 0.80, 0.95),
    ("looks_for_water_tracks", "not_found", "tub_and_hoses.leaks tub_bearing.worn", 0.80, 0.95),
    ("turns_basket", "free", "tub_bearing.worn", 0.85, 0.92),
]  # fmt: skip


@pytest.fixture(scope="module")
def network() -> FaultNetwork:
    return load_network("top_load_washer")


def answer_given(network: FaultNetwork, observation: Observation, mode: str | None) -> np.ndarray:
    """P(answer | only this mode failed, nothing masks the sign), shape (A,)."""
    sign = network.signs[observation.sign or ""]
    links = [] if mode is None else [sign.causes.get(mode, (1.0,) + (0.0,) * len(sign.leak[1:]))]
    states = noisy_max(np.array(sign.leak), np.array(links).reshape(-1, len(sign.leak)))
    return states @ np.array(observation.likelihood)


def bad_answer_given(
    network: FaultNetwork, observation_id: str, good: str, mode: str | None
) -> float:
    """P(an answer other than the good one | only this mode failed, and the test could be run)."""
    observation = network.observations[observation_id]
    chances = dict(zip(observation.answers, answer_given(network, observation, mode), strict=True))
    run = 1 - chances.get(COULD_NOT_BE_RUN, 0.0)
    return float(1 - chances[good] / run)


@pytest.mark.parametrize("observation_id", COMPLAINTS)
def test_complaint_is_reported_as_often_as_the_trade_says(
    network: FaultNetwork, observation_id: str
) -> None:
    observation = network.observations[observation_id]
    yes = list(observation.answers).index("yes")
    wanted = {
        mode: figure
        for figure, modes in COMPLAINTS[observation_id].items()
        for mode in modes.split()
    }

    reported = {mode: answer_given(network, observation, mode)[yes] for mode in wanted}

    assert reported == pytest.approx(wanted, abs=0.01)


@pytest.mark.parametrize("observation_id", COMPLAINTS)
def test_complaint_is_seldom_reported_without_a_cause(
    network: FaultNetwork, observation_id: str
) -> None:
    observation = network.observations[observation_id]
    yes = list(observation.answers).index("yes")
    wanted = RARE_LEAK if observation_id in RARELY_IMAGINED else LEAK

    reported = answer_given(network, observation, None)[yes]

    assert reported == pytest.approx(wanted, rel=0.05)


@pytest.mark.parametrize("observation_id", COMPLAINTS)
def test_complaint_has_no_other_cause_than_the_trade_lists(
    network: FaultNetwork, observation_id: str
) -> None:
    observation = network.observations[observation_id]
    listed = {mode for modes in COMPLAINTS[observation_id].values() for mode in modes.split()}
    yes = list(observation.answers).index("yes")
    unexplained = answer_given(network, observation, None)[yes]

    causes = {
        mode
        for mode in network.signs[observation.sign or ""].causes
        if answer_given(network, observation, mode)[yes] > unexplained + 0.001
    }

    assert causes - NOT_IN_TABLE == listed


@pytest.mark.parametrize(("test", "good", "modes", "sensitivity", "specificity"), TESTS)
def test_test_finds_and_passes_as_often_as_the_trade_says(
    network: FaultNetwork,
    test: str,
    good: str,
    modes: str,
    sensitivity: float,
    specificity: float,
) -> None:
    wanted = dict.fromkeys(modes.split(), sensitivity)

    found = {mode: bad_answer_given(network, test, good, mode) for mode in wanted}
    passed = 1 - bad_answer_given(network, test, good, None)

    assert found == pytest.approx(wanted, abs=0.01)
    assert passed == pytest.approx(specificity, abs=0.01)


def test_shares_of_the_causes_no_part_cures_are_a_fifth_of_the_calls(network: FaultNetwork) -> None:
    # Trade table of shares: use, installation and nothing found make 23.0 percent of the calls.
    kinds = ("use", "installation", "nothing_failed")

    share = sum(
        mode.share
        for component in network.components.values()
        if component.kind.value in kinds
        for mode in component.modes
    )

    assert share == pytest.approx(0.230)


def test_control_is_seen_in_the_running_cycle_but_seldom_in_a_forced_test(
    network: FaultNetwork,
) -> None:
    forced = ("lid_lock_action", "cold_flow", "hot_flow", "drain_flow", "mode_shift", "low_spin",
              "high_spin", "agitation", "level_reading")  # fmt: skip

    shown = [1 - network.signs[sign].causes["main_control.output_fails"][0] for sign in forced]
    in_cycle = network.signs["output_in_cycle"].causes["main_control.output_fails"][1]

    assert max(shown) < 0.10
    assert in_cycle > 0.90
