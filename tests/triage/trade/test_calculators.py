"""Calculators for checks on site: formulas, limits, entries, and the list of them."""

import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import InputValueError, UnknownCalculatorError, UnknownInputError
from triage.services.calculations import (
    Calculation,
    ChoiceInput,
    Judgement,
    NumberInput,
    calculate,
    calculator,
    calculators,
)
from triage.trade.calculators.capacitor import Capacitor, capacitance_range_uf
from triage.trade.calculators.duct import DuctRule, DuctRun, Elbow, duct_allowance
from triage.trade.calculators.element import Element
from triage.trade.calculators.fill import Fill, fill_minutes
from triage.trade.calculators.quantities import FAHRENHEIT, FEET, INCHES, KILO_OHMS, Quantity
from triage.trade.calculators.standpipe import (
    Standpipe,
    StandpipeCode,
    StandpipeFault,
    standpipe_faults,
    top_range_in,
)
from triage.trade.calculators.supply import Place, VoltageRange, voltage_range_v
from triage.trade.calculators.thermistor import TABLE, thermistor_kohm

SOURCES = Path(__file__).resolve().parents[3] / "docs" / "sources.md"


def result(calculation: Calculation, name: str) -> float:
    """Value of one result, in its first unit."""
    lines = {line.id: line for line in calculation.outcome.lines}
    return lines[name].measures[0].value


# Duct. 20 and 22.5 ft are printed in code explainers on IRC M1502; the rest is computed by hand
# from the fitting table.


@pytest.mark.parametrize(
    ("rule", "elbows", "longest_ft"),
    [
        (DuctRule.IRC, {Elbow.MITRED_4_IN_90: 3}, 20.0),  # printed
        (DuctRule.IRC, {Elbow.MITRED_4_IN_90: 2, Elbow.MITRED_4_IN_45: 1}, 22.5),  # printed
        (DuctRule.IRC, {Elbow.SMOOTH_6_IN_90: 2}, 31.5),  # 35 - 2 x 1.75
        (DuctRule.IRC, {Elbow.SMOOTH_8_IN_90: 12}, 16.0),  # 35 - 12 x 19/12
        (DuctRule.IRC, {Elbow.SMOOTH_10_IN_90: 2, Elbow.SMOOTH_10_IN_45: 4}, 29.0),  # 35 - 3 - 3
        (DuctRule.IRC, {}, 35.0),
        (DuctRule.IRC_OLD, {Elbow.SMOOTH_10_IN_90: 2, Elbow.MITRED_4_IN_45: 1}, 12.5),  # 25 - 12.5
        (DuctRule.UMC, {Elbow.MITRED_4_IN_90: 4}, 10.0),  # 14 - 2 x 2
        (DuctRule.UMC, {Elbow.MITRED_4_IN_90: 1, Elbow.MITRED_4_IN_45: 9}, 14.0),
    ],
)
def test_longest_duct_is_that_of_the_rule_less_its_elbows(
    rule: DuctRule, elbows: dict[Elbow, int], longest_ft: float
) -> None:
    allowance = duct_allowance(DuctRun(rule=rule, elbows=elbows))

    assert allowance.longest_ft == longest_ft


def test_makers_figure_replaces_the_longest_duct() -> None:
    run = DuctRun(rule=DuctRule.MAKER, elbows={Elbow.MITRED_4_IN_90: 2}, maker_length_ft=64.0)

    assert duct_allowance(run).longest_ft == 54.0  # 64 - 2 x 5


def test_makers_rule_asks_for_the_makers_figure() -> None:
    with pytest.raises(InputValueError, match='"maker_length": got nothing; expected the maker'):
        DuctRun(rule=DuctRule.MAKER)


def test_duct_of_just_the_longest_length_is_inside() -> None:
    # 35 ft less one elbow of 1 ft 7 in leaves 33 ft 5 in, which no binary fraction holds.
    calculation = calculate("dryer_duct", {"elbows_8in_90": "1", "length": "33 ft 5 in"})

    assert calculation.outcome.judgement is Judgement.INSIDE


@pytest.mark.parametrize(
    ("texts", "judgement", "sentence"),
    [
        ({"elbows_4in_90": "3"}, Judgement.NOT_JUDGED, "may be up to 20 ft"),
        ({"elbows_4in_90": "3", "length": "18"}, Judgement.INSIDE, "with 2 ft to spare"),
        ({"elbows_4in_90": "3", "length": "21.5"}, Judgement.OUTSIDE, "is 1.5 ft too long"),
        ({"elbows_4in_90": "7"}, Judgement.OUTSIDE, "elbows alone use up the whole length"),
    ],
)
def test_duct_says_what_the_length_means(
    texts: dict[str, str], judgement: Judgement, sentence: str
) -> None:
    outcome = calculate("dryer_duct", texts).outcome

    assert outcome.judgement is judgement
    assert sentence in outcome.sentence


def test_duct_of_more_than_35_ft_with_elbows_wants_a_label() -> None:
    texts = {"rule": "maker", "maker_length": "64", "elbows_4in_90": "2"}

    short = calculate("dryer_duct", {**texts, "length": "25"}).outcome
    long = calculate("dryer_duct", {**texts, "length": "25.1"}).outcome

    assert not any("label" in note for note in short.notes)
    assert any("label" in note for note in long.notes)


# Standpipe. UPC 804.1: 24 to 48 in above the floor in all is printed in its publisher's note; IPC
# from a question page: 18 to 42 in above the trap.


def test_standpipes_of_the_upc_end_24_to_48_in_above_the_floor() -> None:
    lowest = Standpipe(code=StandpipeCode.UPC, trap_in=6.0, top_in=24.0)
    highest = Standpipe(code=StandpipeCode.UPC, trap_in=18.0, top_in=48.0)

    assert top_range_in(lowest)[0] == 24.0
    assert top_range_in(highest)[1] == 48.0
    assert standpipe_faults(lowest) == standpipe_faults(highest) == ()


@pytest.mark.parametrize(
    ("code", "trap_in", "top_in", "faults"),
    [
        (StandpipeCode.UPC, 8.0, 25.0, [StandpipeFault.TOO_LOW]),
        (StandpipeCode.UPC, 8.0, 39.0, [StandpipeFault.TOO_HIGH]),
        (StandpipeCode.IPC, 8.0, 39.0, []),
        (StandpipeCode.IPC, 8.0, 51.0, [StandpipeFault.TOO_HIGH]),
        (StandpipeCode.UPC, 4.0, 30.0, [StandpipeFault.TRAP_TOO_LOW]),
        (StandpipeCode.UPC, 20.0, 30.0, [StandpipeFault.TOO_LOW, StandpipeFault.TRAP_TOO_HIGH]),
        (StandpipeCode.IPC, 20.0, 40.0, []),
    ],
)
def test_standpipe_faults_are_the_rules_that_are_broken(
    code: StandpipeCode, trap_in: float, top_in: float, faults: list[StandpipeFault]
) -> None:
    pipe = Standpipe(code=code, trap_in=trap_in, top_in=top_in)

    assert list(standpipe_faults(pipe)) == faults


def test_standpipe_names_every_fault() -> None:
    outcome = calculate("standpipe", {"trap": "20", "top": "30"}).outcome

    assert outcome.judgement is Judgement.OUTSIDE
    assert "too low" in outcome.sentence
    assert "18 in" in outcome.sentence


# Element: 5,400 W at 240 V, computed from V^2 / P by hand.


def test_element_of_5400_w_has_its_resistance_heat_and_current() -> None:
    element = Element(rated_power_w=5400.0, rated_v=240.0)

    assert element.resistance_ohm == pytest.approx(10.67, abs=0.005)
    assert element.current_a(240.0) == pytest.approx(22.5)
    assert element.power_w(208.0) == pytest.approx(4056.0)
    assert element.percent_of_rated(208.0) == pytest.approx(75.1, abs=0.05)
    assert element.power_w(120.0) == pytest.approx(1350.0)
    assert element.percent_of_rated(120.0) == pytest.approx(25.0)


@given(st.floats(100, 10000), st.floats(120, 240), st.floats(1, 300))
def test_element_heat_is_voltage_times_current(power: float, rated: float, supply: float) -> None:
    element = Element(rated_power_w=power, rated_v=rated)

    assert element.power_w(supply) == pytest.approx(supply * element.current_a(supply))
    assert element.power_w(rated) == pytest.approx(power)


def test_element_shows_the_measured_supply_and_compares_the_reading() -> None:
    texts = {"rated_power": "5.4 kW", "supply_voltage": "216", "reading": "11.2 ohm"}

    calculation = calculate("heating_element", texts)

    assert result(calculation, "percent_at_measured_supply") == pytest.approx(81.0)  # 0.9^2
    assert "5 % above" in calculation.outcome.sentence  # 11.2 / 10.667
    assert calculation.outcome.judgement is Judgement.NOT_JUDGED


def test_element_of_120_v_is_not_asked_about_two_legs() -> None:
    calculation = calculate("heating_element", {"rated_power": "1000", "rated_voltage": "120"})

    assert result(calculation, "resistance") == pytest.approx(14.4)  # 120^2 / 1000
    assert not any("leg" in note for note in calculation.outcome.notes)


# Fill: 15 gal at 5 and at 1.5 gal/min, by hand.


@pytest.mark.parametrize(("flow", "minutes"), [(5.0, 3.0), (1.5, 10.0)])
def test_fill_time_is_volume_over_flow(flow: float, minutes: float) -> None:
    assert fill_minutes(Fill(volume_gal=15.0, flow_gal_per_min=flow)) == minutes


@pytest.mark.parametrize(
    ("texts", "judgement", "sentence"),
    [
        ({"flow": "5"}, Judgement.INSIDE, "The flow is enough."),
        ({"flow": "1.5"}, Judgement.BORDERLINE, "may be taken for a fault"),
        ({"flow": "1.4", "volume": "3"}, Judgement.OUTSIDE, "Under 1.5 gal/min"),
        ({"flow": "1"}, Judgement.OUTSIDE, "supply. A fill this long may be taken for a fault."),
    ],
)
def test_fill_judges_the_flow_and_the_time(
    texts: dict[str, str], judgement: Judgement, sentence: str
) -> None:
    outcome = calculate("fill_time", texts).outcome

    assert outcome.judgement is judgement
    assert sentence in outcome.sentence


# Capacitor: 30 uF plus or minus 6 %, by hand.


def test_capacitor_band_is_the_mark_and_its_tolerance() -> None:
    band_uf = capacitance_range_uf(Capacitor(marked_uf=30.0, tolerance_percent=6.0))

    assert band_uf == (28.2, 31.8)


@pytest.mark.parametrize(
    ("reading", "judgement"),
    [
        ("28.2", Judgement.INSIDE),
        ("31.8uF", Judgement.INSIDE),
        ("28.1", Judgement.OUTSIDE),
        ("31.9", Judgement.OUTSIDE),
        ("", Judgement.NOT_JUDGED),
    ],
)
def test_capacitor_is_good_up_to_the_ends_of_its_band(reading: str, judgement: Judgement) -> None:
    outcome = calculate("capacitor", {"mark": "30", "reading": reading}).outcome

    assert outcome.judgement is judgement


# Supply: ANSI C84.1 from memory; 114 to 126 V is also 120 V plus or minus 5 %.


@pytest.mark.parametrize(
    ("name", "place", "nominal_v", "range_v"),
    [
        (VoltageRange.A, Place.SERVICE, 120.0, (114.0, 126.0)),
        (VoltageRange.A, Place.SERVICE, 240.0, (228.0, 252.0)),
        (VoltageRange.B, Place.OUTLET, 120.0, (104.0, 127.0)),
        (VoltageRange.A, Place.OUTLET, 208.0, (187.2, 218.4)),  # 208/120 of 108 and 126
    ],
)
def test_voltage_ranges_are_those_of_the_standard(
    name: VoltageRange, place: Place, nominal_v: float, range_v: tuple[float, float]
) -> None:
    assert voltage_range_v(name, place, nominal_v) == pytest.approx(range_v)


@pytest.mark.parametrize(
    ("texts", "judgement", "sentence"),
    [
        ({"reading": "108"}, Judgement.INSIDE, "Range A"),
        ({"reading": "106"}, Judgement.BORDERLINE, "Range B only"),
        ({"reading": "103"}, Judgement.OUTSIDE, "too low"),
        ({"reading": "128"}, Judgement.OUTSIDE, "too high"),
        ({"reading": "112", "place": "service"}, Judgement.BORDERLINE, "Range B only"),
        ({"reading": "114", "without_load": "120"}, Judgement.INSIDE, "Range A"),  # drop 5 %
        ({"reading": "113.9", "without_load": "120"}, Judgement.OUTSIDE, "house wiring"),
    ],
)
def test_supply_is_judged_by_range_and_drop(
    texts: dict[str, str], judgement: Judgement, sentence: str
) -> None:
    outcome = calculate("supply_voltage", texts).outcome

    assert outcome.judgement is judgement
    assert sentence in outcome.sentence


def test_supply_of_two_legs_names_the_open_leg() -> None:
    notes = {
        nominal: calculate("supply_voltage", {"nominal": nominal, "reading": "0"}).outcome.notes
        for nominal in ("120", "240")
    }

    assert not any("leg is open" in note for note in notes["120"])
    assert any("leg is open" in note for note in notes["240"])


# Thermistor: the table is the page's; between its points the oracle is numpy's interpolation.


@pytest.mark.parametrize(("temperature_f", "kohm"), TABLE)
def test_thermistor_reads_the_table_at_its_points(temperature_f: float, kohm: float) -> None:
    assert thermistor_kohm(temperature_f) == pytest.approx(kohm)


@given(st.floats(50, 100))
def test_thermistor_log_resistance_is_linear_in_inverse_temperature(temperature_f: float) -> None:
    def inverse(fahrenheit: float) -> float:
        return 1 / ((fahrenheit + 459.67) * 5 / 9)

    points = sorted((inverse(point), math.log(kohm)) for point, kohm in TABLE)
    log_kohm = np.interp(inverse(temperature_f), *zip(*points, strict=True))

    assert math.log(thermistor_kohm(temperature_f)) == pytest.approx(float(log_kohm))


def test_thermistor_of_the_10_k_type_reads_10_k_at_77_f() -> None:
    # The type is named for its resistance at 25 °C; the table has no such point.
    assert thermistor_kohm(77.0) == pytest.approx(10.0, rel=0.01)


@pytest.mark.parametrize("temperature", ["49.9", "100.1", "5 C"])
def test_thermistor_outside_the_table_is_refused_with_its_range(temperature: str) -> None:
    with pytest.raises(InputValueError, match=r'"temperature": got .* expected 50 to 100 °F'):
        calculate("thermistor", {"temperature": temperature})


@pytest.mark.parametrize(
    ("reading", "judgement"),
    [
        ("10.8", Judgement.INSIDE),  # 11.9 less 9.2 %
        ("10.5k", Judgement.BORDERLINE),  # less 11.8 %
        ("10000 ohm", Judgement.OUTSIDE),  # less 16.0 %
        ("13.8", Judgement.OUTSIDE),  # plus 16.0 %
    ],
)
def test_thermistor_is_judged_by_its_distance_from_the_table(
    reading: str, judgement: Judgement
) -> None:
    outcome = calculate("thermistor", {"temperature": "70", "reading": reading}).outcome

    assert outcome.judgement is judgement


# Entries and units.


@pytest.mark.parametrize(
    ("quantity", "text", "value"),
    [
        (FEET, "18.5", 18.5),
        (FEET, "18 ft 6 in", 18.5),
        (FEET, "18ft6in", 18.5),
        (FEET, "18' 6\"", 18.5),
        (FEET, "3.048 m", 10.0),
        (INCHES, "254 mm", 10.0),
        (FAHRENHEIT, "25 °C", 77.0),
        (FAHRENHEIT, "77f", 77.0),
        (KILO_OHMS, "9200 Ω", 9.2),
        (FEET, "18 6", None),
        (FEET, "18 gal", None),
        (FEET, "1e3", None),
        (FEET, "1,5", None),
        (FEET, "", None),
    ],
)
def test_quantity_is_read_with_its_units(
    quantity: Quantity, text: str, value: float | None
) -> None:
    assert quantity.read(text) == value


@given(st.floats(0, 200))
def test_quantity_in_metric_units_is_the_same_length(length_ft: float) -> None:
    metres = FEET.measures(length_ft)[1]

    assert FEET.read(f"{metres.value:.12f} {metres.unit}") == pytest.approx(length_ft, abs=1e-9)


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        ({}, '"rated_power": got nothing; expected a number from 100 to 10000 W'),
        ({"rated_power": "much"}, '"rated_power": got "much"; expected a number from 100'),
        ({"rated_power": "5"}, '"rated_power": got 5 W; expected 100 to 10000 W'),
        ({"rated_power": "5400", "rated_voltage": "230"}, 'got "230"; expected one of 240, 208'),
    ],
)
def test_entry_that_cannot_be_used_is_named_with_what_is_expected(
    texts: dict[str, str], message: str
) -> None:
    with pytest.raises(InputValueError, match=re.escape(message)):
        calculate("heating_element", texts)


def test_count_has_to_be_whole() -> None:
    with pytest.raises(InputValueError, match=r'got "1\.5"; expected a whole number from 0 to 20'):
        calculate("dryer_duct", {"elbows_4in_90": "1.5"})


def test_unknown_calculator_is_answered_with_the_nearest() -> None:
    with pytest.raises(UnknownCalculatorError, match='Did you mean "standpipe"'):
        calculator("standpip")


def test_unknown_input_is_answered_with_the_nearest() -> None:
    with pytest.raises(UnknownInputError, match=r'of calculator "dryer_duct".*mean "length"'):
        calculate("dryer_duct", {"lenght": "18"})


# The list of them.


@pytest.mark.parametrize("name", [entry.id for entry in calculators()])
def test_calculator_can_be_drawn_as_a_form_and_names_its_source(name: str) -> None:
    chosen = calculator(name)

    ids = [entry.id for entry in chosen.inputs]
    assert len(ids) == len(set(ids))
    assert all(entry.label and entry.hint and entry.expected for entry in chosen.inputs)
    assert {entry.kind for entry in chosen.inputs} <= {"number", "choice"}
    assert chosen.title
    assert chosen.purpose.endswith(".")
    assert chosen.source


@pytest.mark.parametrize("name", [entry.id for entry in calculators()])
def test_calculator_default_can_be_entered_as_it_is_shown(name: str) -> None:
    for entry in calculator(name).inputs:
        if isinstance(entry, ChoiceInput) or entry.default is not None:
            assert entry.read(entry.default_text) == entry.read("")


@pytest.mark.parametrize("name", [entry.id for entry in calculators()])
def test_calculator_takes_every_number_at_both_of_its_limits(name: str) -> None:
    chosen = calculator(name)
    numbers = [entry for entry in chosen.inputs if isinstance(entry, NumberInput)]

    for end in ("low", "high"):
        texts = {entry.id: f"{getattr(entry.limits, end):.4f}" for entry in numbers}
        assert calculate(name, texts).outcome.lines


def test_source_keys_have_entries() -> None:
    entries = re.findall(r"^### (\S+)$", SOURCES.read_text(encoding="utf-8"), re.M)

    keys = {key for entry in calculators() for key in entry.source_keys}

    assert keys == {"ANSIC84", "IPC802", "IRCM1502", "UMC504", "UPC804"}
    assert keys <= set(entries)
