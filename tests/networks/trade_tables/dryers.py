"""Trade tables of both dryers, row by row.

Rows are named as in the table: EN and GN are installation, use and nothing failed, E and G the
machine, electric and gas. A row stands for one failure mode of the network, or for two that the
network keeps apart because they show differently (a contact that stays open or welds shut).
"""

import json
from pathlib import Path

from tests.networks.trade_tables.values import (
    ALMOST_ALWAYS,
    OFTEN,
    RARELY,
    SOMETIMES,
    Row,
    TradeTable,
    trade_tests,
)

WORDS = {"AA": ALMOST_ALWAYS, "O": OFTEN, "S": SOMETIMES, "R": RARELY}

SHARES_PERCENT = json.loads(
    (Path(__file__).parents[2] / "golden" / "trade_tables.json").read_text(encoding="utf-8")
)["shares_percent"]

NETWORKS = {"E": "electric_dryer", "G": "gas_dryer"}
COMMON_ROWS = {
    "N01": "lint_screen.blocked",
    "N02": "exhaust_duct.blocked",
    "N03": "transition_duct.crushed",
    "N05": "power_supply.off",
    "N06": "door.not_shut",
    "N07": "settings.delayed_or_locked",
    "N08": "load.too_big_or_wet",
    "N09": "nothing_failed.normal_behaviour",
    "N10": "nothing_failed.not_reproduced",
}
FUSE = "thermal_protection.fuse_stops_motor thermal_protection.fuse_stops_heat"
THERMOSTAT = "cycling_thermostat.open cycling_thermostat.welded"
RELAY = "heat_relay.open heat_relay.welded"
ROWS = {
    **{f"{kind}{row}": mode for kind in NETWORKS for row, mode in COMMON_ROWS.items()},
    "EN04": "supply_leg.lost",
    "E01": "heating_element.open heating_element.one_coil_open",
    "E02": "heating_element.touches_casing",
    "E03": FUSE,
    "E04": "thermal_protection.cutoff_open",
    "E05": "high_limit.open",
    "E06": THERMOSTAT,
    "E07": "air_sensor.drifted",
    "E08": "heat_contact.burnt",
    "E09": RELAY,
    "E10": "drum_belt.broken",
    "E11": "idler.worn",
    "E12": "drum_rollers.worn",
    "E13": "drum_glides.worn",
    "E14": "drum_motor.fails",
    "E15": "blower_wheel.loose",
    "E16": "door_switch.open",
    "E17": "start_switch.open",
    "E18": "main_control.output_fails",
    "E19": "user_panel.keys_fail",
    "E20": "moisture_bars.coated",
    "E21": "power_cord.burnt",
    "E22": "wiring.open",
    "E23": "door_catch.worn",
    "GN04": "gas_supply.off",
    "GN11": "gas_setup.wrong",
    "G01": "valve_coils.weak_when_warm",
    "G02": "igniter.cracked",
    "G03": "flame_sensor.stuck_closed flame_sensor.open",
    "G04": "gas_valve.stuck",
    "G05": "burner.dirty",
    "G06": FUSE,
    "G07": "thermal_protection.cutoff_open",
    "G08": THERMOSTAT,
    "G09": "air_sensor.drifted",
    "G10": "heat_contact.burnt",
    "G11": RELAY,
    "G12": "drum_belt.broken",
    "G13": "idler.worn",
    "G14": "drum_rollers.worn",
    "G15": "drum_glides.worn",
    "G16": "drum_motor.fails",
    "G17": "blower_wheel.loose",
    "G18": "door_switch.open door_catch.worn",
    "G19": "start_switch.open",
    "G20": "main_control.output_fails",
    "G21": "user_panel.keys_fail",
    "G22": "moisture_bars.coated",
    "G23": "wiring.open",
}

COMPLAINTS = {
    "says_dead": {
        "AA": "EN05 GN05",
        "S": "E21 E18 E19 E17 E22 EN04 G20 G21 G19 G23 E03 G06",
    },
    "says_no_start": {
        "AA": "E16 G18 E17 G19 EN06 GN06",
        "O": "E03 G06 EN07 GN07 E18 G20",
        "S": "E10 G12 E14 G16 E19 G21 E22 G23",
    },
    "says_hums_no_turn": {"O": "E14 G16", "S": "E11 G13 E15 G17", "R": "E12 G14 E13 G15"},
    "says_drum_stands": {"AA": "E10 G12", "S": "E11 G13", "R": "E14 G16"},
    "says_no_heat": {
        "AA": "E01 E04 G02 G04 G07 GN04",
        "O": "E03 EN04 E08 E09 E06 G01 G03 G06 G10 G11",
        "S": "E05 E07 E21 E22 EN07 GN07 G08 G09 GN11 EN10 GN10",
        "R": "E18 G20 EN02 GN02",
    },
    "says_dries_slowly": {
        "AA": "EN02 EN03 GN02 GN03",
        "O": "EN01 GN01 EN08 GN08 G01 GN11 E15 G17",
        "S": "E01 E05 E06 E07 E13 G15 E20 G22 G05 G09 EN04 EN10 GN10",
        "R": "E09 G11",
    },
    "says_heat_drops_out": {"O": "G01", "S": "EN02 GN02 E05 G07 G03 E21", "R": "E09 E08"},
    "says_too_hot": {
        "AA": "E02",
        "O": "E06 E09 EN03",
        "S": "EN02 GN02 E07 E15 G08 G11 G17 G09 GN03 EN01 GN01",
        "R": "E05",
    },
    "says_stops_until_cool": {
        "O": "E14 G16",
        "S": "EN02 GN02 EN01 GN01 E12 E13 G14 G15 E18 G20 EN10 GN10",
        "R": "E16 G18",
    },
    "says_never_stops": {
        "O": "E20 G22 EN02 GN02",
        "S": "E06 E07 E09 E17 E01 EN08 GN08 G01 G19 EN04",
        "R": "E18 G20",
    },
    "says_stops_damp": {
        "O": "E20 G22 EN09 GN09 EN08 GN08",
        "S": "EN07 GN07 E07 G09 E18 G20 E16 G18 E14 G16 EN10 GN10",
        "R": "E03 G06",
    },
    "says_thumps": {"O": "E12 G14", "S": "E10 G12 E13 G15"},
    "says_squeals": {"AA": "E11 G13", "O": "E12 G14", "S": "E13 G15 E14 G16"},
    "says_drum_scrapes": {"AA": "E13 G15", "O": "E15 G17", "S": "E12 G14 E14 G16"},
    "says_smells_hot": {
        "O": "E02 E21 E14 G16",
        "S": "EN02 GN02 EN01 GN01 E10 G12 E12 E13 G05",
        "R": "E01 E18 G20",
    },
    "says_trips_breaker": {"O": "E02 E21", "S": "E14 G16 E01 E22 G23 EN04", "R": "E18"},
    "says_marks_on_clothes": {"O": "E13 G15", "S": "E12 G14"},
    "says_steamy_room": {
        "AA": "EN02 GN02 EN03 GN03",
        "S": "E15 G17 EN01 GN01",
        "R": "E13 G15",
    },
    "says_door_pops_open": {"AA": "E23", "O": "G18 E16"},
    "says_fault_message": {
        "O": "EN02 GN02 E07 G09",
        "S": "E18 G20 E20 EN01 GN01 EN04 E01 G01",
    },
    "asks_gas_smelled": {"O": "G04", "S": "G03 G01 G05", "R": "GN11"},
    "says_glow_goes_out": {"O": "G01 GN04 G04", "S": "GN11", "R": "G05"},
    "says_glow_stays": {"O": "G03", "R": "G01"},
    "says_no_glow": {"AA": "G02 G07", "O": "G06 G10 G11", "S": "G03 G08 G09 G20"},
}
GAS_ONLY = {"asks_gas_smelled", "says_glow_goes_out", "says_glow_stays", "says_no_glow"}
BOTH = ("E", "G")
HEAT_OFF = "thermal_protection.fuse_stops_heat thermal_protection.cutoff_open heat_relay.open"
# Networks, observation, answer without the fault, modes it is for, sensitivity, specificity.
TESTS = [
    (BOTH, "tests_motor", "starts", "door_switch.open start_switch.open "
     "thermal_protection.fuse_stops_motor", 0.92, 0.95),
    (BOTH, "meters_door_switch", "inside", "door_switch.open", 0.90, 0.97),
    (BOTH, "looks_at_drum_belt", "not_found", "drum_belt.broken", 0.95, 0.95),
    (BOTH, "turns_drum", "not_found", "drum_rollers.worn drum_glides.worn", 0.85, 0.92),
    (BOTH, "meters_drum_motor", "inside", "drum_motor.fails", 0.75, 0.95),
    (BOTH, "looks_at_screen", "not_found", "lint_screen.blocked", 0.95, 0.95),
    (BOTH, "looks_behind", "not_found", "transition_duct.crushed", 0.95, 0.98),
    (BOTH, "watches_hood", "strong", "exhaust_duct.blocked", 0.85, 0.92),
    (BOTH, "meters_moisture_bars", "inside", "moisture_bars.coated", 0.80, 0.93),
    (BOTH, "meters_thermal_fuse", "inside", FUSE, 0.97, 0.99),
    (BOTH, "meters_thermal_cutoff", "inside", "thermal_protection.cutoff_open", 0.97, 0.99),
    (BOTH, "meters_cycling_thermostat", "inside", "cycling_thermostat.open", 0.70, 0.98),
    (BOTH, "meters_air_sensor", "inside", "air_sensor.drifted", 0.85, 0.97),
    (BOTH, "meters_output_in_cycle", "inside", "main_control.output_fails", 0.90, 0.93),
    (BOTH, "looks_at_board", "not_found", "main_control.output_fails", 0.40, 0.97),
    ("E", "tests_heat", "full", "heating_element.open heating_element.one_coil_open "
     f"supply_leg.lost cycling_thermostat.open {HEAT_OFF}", 0.97, 0.97),
    ("E", "tests_duct_off", "same", "exhaust_duct.blocked transition_duct.crushed", 0.85, 0.90),
    ("E", "looks_at_terminals", "not_found", "power_cord.burnt", 0.90, 0.97),
    ("E", "meters_element", "inside", "heating_element.open heating_element.one_coil_open",
     0.95, 0.98),
    ("E", "meters_element_to_case", "inside", "heating_element.touches_casing", 0.95, 0.98),
    ("E", "meters_high_limit", "inside", "high_limit.open", 0.70, 0.98),
    ("G", "tests_burner_cold", "lights", "igniter.cracked flame_sensor.stuck_closed "
     f"flame_sensor.open gas_supply.off gas_valve.stuck {HEAT_OFF}", 0.90, 0.95),
    ("G", "tests_burner_hot", "relights", "valve_coils.weak_when_warm", 0.85, 0.95),
    ("G", "meters_igniter", "inside", "igniter.cracked", 0.88, 0.98),
    ("G", "meters_coils", "inside", "valve_coils.weak_when_warm", 0.45, 0.98),
    ("G", "meters_flame_sensor", "inside", "flame_sensor.stuck_closed flame_sensor.open",
     0.65, 0.97),
]  # fmt: skip


def row(name: str) -> Row:
    """Failure modes of a row."""
    return tuple(ROWS[name].split())


def complaints_of(kind: str) -> dict[str, dict[Row, float]]:
    """How often each complaint is reported with each row of a kind of dryer."""
    return {
        complaint: {
            row(name): WORDS[word]
            for word, names in words.items()
            for name in names.split()
            if name.startswith(kind)
        }
        for complaint, words in COMPLAINTS.items()
        if kind == "G" or complaint not in GAS_ONLY
    }


def table_of(kind: str, no_part_percent: float) -> TradeTable:
    """Trade table of a kind of dryer."""
    return TradeTable(
        kind=NETWORKS[kind],
        complaints=complaints_of(kind),
        rarely_imagined=GAS_ONLY,
        tests=trade_tests([test for kinds, *test in TESTS if kind in kinds]),
        no_part_percent=no_part_percent,
        untied=frozenset({"nothing_failed.not_reproduced"}),
        shares_percent={row(name): s for name, s in SHARES_PERCENT[NETWORKS[kind]].items()},
    )


ELECTRIC_DRYER = table_of("E", 31.0)
GAS_DRYER = table_of("G", 31.5)
