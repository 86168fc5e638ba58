"""Trade table of the front-load washer: complaints, tests, shares and repairs."""

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
        ALMOST_ALWAYS: "door.not_shut",
        OFTEN: "door_lock.does_not_lock settings.delayed_or_locked user_panel.keys_fail",
        SOMETIMES: "main_control.output_fails wiring.open nothing_failed.normal_behaviour",
        RARELY: "pressure_sensor.drifted",
    },
    "says_door_clicks": {
        OFTEN: "door_lock.does_not_lock",
        SOMETIMES: "door.not_shut main_control.output_fails wiring.open",
        RARELY: "door_latch.jammed",
    },
    "says_door_stays_shut": {
        ALMOST_ALWAYS: "door_latch.jammed",
        OFTEN: "object_in_pump.jams_it drain_pump.burnt drain_path.blocked",
        SOMETIMES: "main_control.output_fails settings.delayed_or_locked detergent.oversudsing"
        " nothing_failed.normal_behaviour",
        RARELY: "pressure_sensor.drifted pressure_tube.leaking",
    },
    "says_no_fill": {
        OFTEN: "water_supply.tap_closed cold_valve.does_not_open",
        SOMETIMES: "hot_valve.does_not_open inlet_screens.clogged main_control.output_fails"
        " door_lock.does_not_lock pressure_sensor.drifted",
        RARELY: "pressure_tube.leaking settings.delayed_or_locked",
    },
    "says_slow_fill": {
        ALMOST_ALWAYS: "inlet_screens.clogged",
        OFTEN: "water_supply.tap_closed",
        SOMETIMES: "cold_valve.does_not_open hot_valve.does_not_open drain_hose.siphoning",
        RARELY: "main_control.output_fails",
    },
    "says_wrong_temperature": {
        ALMOST_ALWAYS: "cold_valve.does_not_open hot_valve.does_not_open",
        OFTEN: "water_supply.tap_closed temperature_sensor.drifted wash_heater.burnt",
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
        OFTEN: "motor_brushes.worn speed_sensor.no_signal",
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
        SOMETIMES: "drive_motor.burnt motor_drive.no_output",
        RARELY: "tub_bearing.worn",
    },
    "says_water_left": {
        ALMOST_ALWAYS: "drain_pump.burnt drain_path.blocked",
        OFTEN: "object_in_pump.jams_it house_drain.blocked",
        SOMETIMES: "pressure_sensor.drifted main_control.output_fails wiring.open"
        " detergent.oversudsing",
        RARELY: "drain_hose.siphoning pressure_tube.leaking",
    },
    "says_no_spin": {
        ALMOST_ALWAYS: "drive_belt.broken drive_motor.burnt motor_drive.no_output",
        OFTEN: "motor_brushes.worn speed_sensor.no_signal load.unbalanced detergent.oversudsing",
        SOMETIMES: "door_lock.does_not_lock suspension.weak levelling.not_level"
        " main_control.output_fails wiring.open object_in_pump.jams_it",
        RARELY: "tub_bearing.worn drum_support.cracked",
    },
    "says_slow_spin": {
        OFTEN: "load.unbalanced suspension.weak detergent.oversudsing motor_brushes.worn"
        " object_in_pump.jams_it",
        SOMETIMES: "drive_belt.broken speed_sensor.no_signal tub_bearing.worn house_drain.blocked"
        " levelling.not_level",
        RARELY: "motor_drive.no_output",
    },
    "says_bangs": {
        ALMOST_ALWAYS: "suspension.weak levelling.not_level",
        OFTEN: "load.unbalanced",
        SOMETIMES: "drum_support.cracked tub_bearing.worn nothing_failed.normal_behaviour",
    },
    "says_roars": {
        ALMOST_ALWAYS: "tub_bearing.worn",
        SOMETIMES: "drum_support.cracked suspension.weak",
        RARELY: "drive_belt.broken",
    },
    "says_grinds_at_start": {
        SOMETIMES: "drum_support.cracked object_in_pump.jams_it",
        RARELY: "tub_bearing.worn",
    },
    "says_rubber_smell": {
        OFTEN: "drive_belt.broken",
        SOMETIMES: "drive_motor.burnt drain_pump.burnt tub_bearing.worn",
        RARELY: "motor_drive.no_output",
    },
    "says_leaks_filling": {
        OFTEN: "dispenser_hoses.leak",
        SOMETIMES: "detergent.oversudsing door_boot.torn water_supply.tap_closed",
        RARELY: "valve_seat.leaks_through",
    },
    "says_leaks_washing": {
        ALMOST_ALWAYS: "door_boot.torn",
        OFTEN: "detergent.oversudsing",
        SOMETIMES: "dispenser_hoses.leak tub_bearing.worn",
        RARELY: "circulation_pump.burnt",
    },
    "says_leaks_draining": {
        ALMOST_ALWAYS: "house_drain.blocked",
        SOMETIMES: "drain_pump.burnt object_in_pump.jams_it tub_bearing.worn door_boot.torn"
        " drain_hose.siphoning",
    },
    "says_stops_part_way": {
        OFTEN: "object_in_pump.jams_it drain_pump.burnt",
        SOMETIMES: "door_lock.does_not_lock speed_sensor.no_signal motor_drive.no_output"
        " pressure_sensor.drifted main_control.output_fails wiring.open wash_heater.burnt"
        " load.unbalanced",
        RARELY: "temperature_sensor.drifted",
    },
    "says_takes_hours": {
        OFTEN: "inlet_screens.clogged load.unbalanced detergent.oversudsing house_drain.blocked",
        SOMETIMES: "wash_heater.burnt temperature_sensor.drifted object_in_pump.jams_it"
        " pressure_sensor.drifted suspension.weak",
        RARELY: "main_control.output_fails",
    },
    "says_trips_breaker": {
        OFTEN: "wash_heater.burnt",
        SOMETIMES: "power_supply.off drain_pump.burnt drive_motor.burnt wiring.open"
        " main_control.output_fails",
        RARELY: "motor_drive.no_output",
    },
    "says_smells_musty": {
        ALMOST_ALWAYS: "mould.grown",
        SOMETIMES: "drain_path.blocked object_in_pump.jams_it house_drain.blocked"
        " detergent.oversudsing",
    },
    "says_starts_by_itself": {
        SOMETIMES: "main_control.output_fails",
        RARELY: "valve_seat.leaks_through wiring.open",
    },
    "says_oil_marks": {
        OFTEN: "tub_bearing.worn",
        SOMETIMES: "drum_support.cracked",
    },
    "says_soap_left": {
        ALMOST_ALWAYS: "detergent.oversudsing",
        SOMETIMES: "cold_valve.does_not_open inlet_screens.clogged drain_path.blocked"
        " house_drain.blocked",
        RARELY: "main_control.output_fails",
    },
    "says_fault_message": {
        OFTEN: "door_lock.does_not_lock drain_pump.burnt object_in_pump.jams_it"
        " speed_sensor.no_signal motor_drive.no_output pressure_sensor.drifted wash_heater.burnt"
        " temperature_sensor.drifted",
        SOMETIMES: "inlet_screens.clogged water_supply.tap_closed load.unbalanced"
        " detergent.oversudsing main_control.output_fails wiring.open pressure_tube.leaking",
        RARELY: "drive_belt.broken",
    },
    "says_not_clean": {
        SOMETIMES: "nothing_failed.normal_behaviour load.unbalanced",
        RARELY: "temperature_sensor.drifted",
    },
}
RARELY_IMAGINED = frozenset({"says_fills_when_idle", "says_starts_by_itself", "says_oil_marks"})

DRIVE = (
    "drive_belt.broken motor_brushes.worn drive_motor.burnt speed_sensor.no_signal"
    " motor_drive.no_output"
)
# Test, answer of a machine without the fault, modes it is for, sensitivity, specificity.
TESTS = [
    ("tests_door_lock", "locks", "door_lock.does_not_lock", 0.92, 0.95),
    ("tests_door_release", "works", "door_latch.jammed", 0.92, 0.95),
    ("tests_cold_valve", "steady", "cold_valve.does_not_open", 0.95, 0.95),
    ("tests_hot_valve", "steady", "hot_valve.does_not_open", 0.95, 0.95),
    (
        "tests_drain_pump", "strong",
        "object_in_pump.jams_it drain_pump.burnt drain_path.blocked", 0.93, 0.95,
    ),
    ("tests_low_spin", "works", DRIVE, 0.90, 0.95),
    (
        "tests_high_spin", "smooth",
        "suspension.weak tub_bearing.worn drum_support.cracked", 0.80, 0.90,
    ),
    ("tests_tumbling", "works", DRIVE, 0.90, 0.93),
    ("tests_heater", "works", "wash_heater.burnt", 0.90, 0.95),
    ("tests_level", "works", "pressure_sensor.drifted pressure_tube.leaking", 0.85, 0.93),
    ("meters_cold_coil", "inside", "cold_valve.does_not_open", 0.70, 0.98),
    ("meters_hot_coil", "inside", "hot_valve.does_not_open", 0.70, 0.98),
    ("meters_pump_winding", "inside", "drain_pump.burnt", 0.65, 0.97),
    ("meters_induction_motor", "inside", "drive_motor.burnt", 0.75, 0.95),
    ("meters_three_phase_motor", "inside", "drive_motor.burnt", 0.85, 0.97),
    ("meters_rotor_sensor", "inside", "speed_sensor.no_signal", 0.88, 0.95),
    ("meters_brushes", "inside", "motor_brushes.worn", 0.90, 0.95),
    ("meters_lock_coil", "inside", "door_lock.does_not_lock", 0.75, 0.95),
    ("meters_lock_switch", "inside", "door_lock.does_not_lock", 0.85, 0.95),
    ("meters_heater", "inside", "wash_heater.burnt", 0.93, 0.98),
    ("meters_thermistor", "inside", "temperature_sensor.drifted", 0.85, 0.97),
    ("meters_output_in_cycle", "inside", "main_control.output_fails", 0.90, 0.93),
    ("looks_at_board", "not_found", "main_control.output_fails", 0.40, 0.97),
    ("looks_at_screens", "not_found", "inlet_screens.clogged", 0.95, 0.98),
    ("looks_for_foam", "not_found", "detergent.oversudsing", 0.80, 0.90),
    ("looks_into_pump_filter", "clear", "object_in_pump.jams_it", 0.90, 0.97),
    ("looks_at_boot", "not_found", "door_boot.torn", 0.85, 0.93),
    ("looks_at_drum_support", "not_found", "drum_support.cracked", 0.85, 0.93),
    ("turns_drum", "free", "tub_bearing.worn", 0.85, 0.92),
]  # fmt: skip

# Percent of the calls, in the order of the trade table: installation and use, then FN11 and FN12,
# then the parts.
SHARES_PERCENT = {
    "water_supply.tap_closed": 1.5, "load.unbalanced": 2.5, "power_supply.off": 1.5,
    "settings.delayed_or_locked": 1.5, "door.not_shut": 1.5, "detergent.oversudsing": 2.5,
    "drain_hose.siphoning": 1.0, "house_drain.blocked": 1.5, "levelling.not_level": 2.5,
    "mould.grown": 3.0, "nothing_failed.normal_behaviour": 3.0,
    "nothing_failed.not_reproduced": 5.0,
    "door_lock.does_not_lock": 7.5, "door_latch.jammed": 3.0, "door_boot.torn": 5.5,
    "object_in_pump.jams_it": 8.0, "drain_pump.burnt": 6.0, "drain_path.blocked": 1.5,
    "cold_valve.does_not_open": 1.5, "hot_valve.does_not_open": 1.0,
    "valve_seat.leaks_through": 1.0, "inlet_screens.clogged": 2.0, "suspension.weak": 4.0,
    "tub_bearing.worn": 6.5, "drum_support.cracked": 1.0, "drive_belt.broken": 2.0,
    "motor_brushes.worn": 2.0, "drive_motor.burnt": 1.0, "speed_sensor.no_signal": 1.5,
    "motor_drive.no_output": 2.5, "main_control.output_fails": 5.0, "user_panel.keys_fail": 2.0,
    "wiring.open": 2.0, "wash_heater.burnt": 1.5, "temperature_sensor.drifted": 0.5,
    "pressure_sensor.drifted": 1.0, "pressure_tube.leaking": 1.5, "dispenser_hoses.leak": 1.5,
    "circulation_pump.burnt": 0.5,
}  # fmt: skip

# Smallest and largest cost of the part, in dollars, and minutes of the repair.
REPAIRS = [
    ("replace_door_lock", 30, 110, 30),
    ("replace_door_latch", 15, 110, 30),
    ("replace_door_boot", 50, 150, 70),
    ("replace_drain_pump", 30, 110, 35),
    ("replace_inlet_valve", 20, 80, 25),
    ("replace_suspension", 40, 130, 60),
    ("replace_tub_bearing", 60, 350, 180),
    ("replace_drum_support", 120, 350, 180),
    ("replace_drive_belt", 12, 45, 25),
    ("replace_brushes", 15, 50, 40),
    ("replace_drive_motor", 120, 320, 60),
    ("replace_speed_sensor", 15, 60, 45),
    ("replace_motor_drive", 120, 320, 40),
    ("replace_main_control", 140, 380, 40),
    ("replace_user_panel", 70, 250, 35),
    ("replace_wash_heater", 30, 90, 45),
    ("replace_thermistor", 10, 40, 30),
    ("replace_pressure_sensor", 20, 70, 25),
    ("stop_the_leak", 5, 80, 40),
    ("replace_circulation_pump", 40, 120, 45),
]

FRONT_LOAD_WASHER = TradeTable(
    kind="front_load_washer",
    complaints=single_rows(COMPLAINTS),
    rarely_imagined=RARELY_IMAGINED,
    tests=trade_tests(TESTS),
    no_part_percent=27.0,
    untied=frozenset({"nothing_failed.not_reproduced"}),
    shares_percent={(mode,): share for mode, share in SHARES_PERCENT.items()},
    repairs=tuple(REPAIRS),
)
