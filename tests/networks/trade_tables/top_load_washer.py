"""Trade table of the top-load washer: complaints and tests."""

from tests.networks.trade_tables.values import (
    ALMOST_ALWAYS,
    OFTEN,
    RARELY,
    SOMETIMES,
    TradeTable,
    single_rows,
    trade_tests,
)

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
RARELY_IMAGINED = frozenset({"says_fills_when_idle", "says_starts_by_itself", "says_oil_marks"})

# Test, answer of a machine without the fault, modes it is for, sensitivity, specificity.
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

TOP_LOAD_WASHER = TradeTable(
    kind="top_load_washer",
    complaints=single_rows(COMPLAINTS),
    rarely_imagined=RARELY_IMAGINED,
    tests=trade_tests(TESTS),
    no_part_percent=23.0,
    untied=frozenset({"nothing_failed.not_reproduced"}),
)
