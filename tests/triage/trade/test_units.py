"""Claims about units: factors against published ones, limits that hold, texts, what is typed."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import ReadingError
from triage.network.catalogue import load_network, network_names
from triage.network.values import Observation, Reading
from triage.trade.units import Units, accept_in, reading_in, told_in, typed_reading, unit_in

READINGS = {
    (reading.unit, reading.accept): one
    for name in network_names()
    for one in load_network(name).observations.values()
    if (reading := one.reading) is not None
}
TURNED = [
    (one, units)
    for one in READINGS.values()
    for units in Units
    if one.reading is not None and unit_in(one.reading.unit, units) != one.reading.unit
]


def reading_of(one: Observation) -> Reading:
    assert one.reading is not None
    return one.reading


def observation_in(unit: str) -> Observation:
    return next(one for one in READINGS.values() if reading_of(one).unit == unit)


# Factors as NIST Special Publication 811 prints them in Appendix B.8, from memory: foot to metre
# 3.048 E-01, inch to millimetre 2.54 E+01, gallon per minute to cubic metre per second
# 6.309020 E-05, cubic foot per minute to litre per second 4.719474 E-01, inch of water
# (conventional) to pascal 2.490889 E+02; degree Fahrenheit: t/°C = (t/°F - 32)/1.8.
@pytest.mark.parametrize(
    ("unit", "typed", "value"),
    [
        ("ft", "3.048 m", 10.0),
        ("mm", "1 in", 25.4),
        ("gal/min", f"{6.309020e-05 * 1000 * 60:.9f} L/min", 1.0),
        ("cfm", "0.4719474 L/s", 1.0),
        ("in w.c.", "249.0889 Pa", 1.0),
        ("F", "100 °C", 212.0),
        ("F", "-40 C", -40.0),
    ],
)
def test_factor_is_the_published_one(unit: str, typed: str, value: float) -> None:
    assert float(typed_reading(observation_in(unit), typed)) == pytest.approx(value, rel=2e-7)


def test_shipped_networks_have_readings_of_six_quantities_with_another_unit() -> None:
    assert {reading_of(one).unit for one, _ in TURNED} == {
        "F", "ft", "mm", "gal/min", "cfm", "in w.c.",
    }  # fmt: skip


@pytest.mark.parametrize(("one", "units"), TURNED)
def test_limit_that_a_page_shows_is_good_when_it_is_typed(one: Observation, units: Units) -> None:
    reading = reading_of(one)
    low, high = reading.accept

    for shown in accept_in(reading, units):
        typed = float(typed_reading(one, f"{shown} {unit_in(reading.unit, units)}"))

        assert low <= typed <= high


@pytest.mark.parametrize(("one", "units"), TURNED)
@given(thousandths=st.integers(-200, 1200))
def test_reading_is_shown_on_its_side_of_the_limits_that_are_shown(
    one: Observation, units: Units, thousandths: int
) -> None:
    reading = reading_of(one)
    low, high = reading.accept
    value = round(low + (high - low) * thousandths / 1000, 3)

    number, _, unit = reading_in(reading, value, units).partition(" ")

    first, last = (Fraction(end) for end in accept_in(reading, units))
    assert (first <= Fraction(number) <= last) == (low <= value <= high)
    assert unit == unit_in(reading.unit, units)


@pytest.mark.parametrize(("one", "units"), TURNED)
@given(tenths=st.integers(0, 3000))
def test_reading_typed_in_the_other_unit_is_shown_as_finely_as_the_meter_reads(
    one: Observation, units: Units, tenths: int
) -> None:
    reading = reading_of(one)
    value = float(typed_reading(one, f"{tenths / 10:g} {unit_in(reading.unit, units)}"))

    shown = float(typed_reading(one, reading_in(reading, value, units)))

    assert abs(shown - value) <= reading.sd / 2 + 1e-9


def test_volt_and_ohm_are_the_same_everywhere() -> None:
    supply = observation_in("V")

    assert [unit_in(one, Units.SI) for one in ("V", "ohm", "percent", "ppm")] == [
        "V", "ohm", "percent", "ppm",
    ]  # fmt: skip
    assert reading_in(reading_of(supply), 118.5, Units.SI) == "118.5 V"
    assert accept_in(reading_of(supply), Units.SI) == ("198", "252")
    assert typed_reading(supply, "118.5 V") == "118.5"


@pytest.mark.parametrize("text", ["warm °C", "°C", "1e9 °C", "12 12 °C", "nan °C"])
def test_what_is_no_number_is_refused_in_the_unit_that_was_typed(text: str) -> None:
    with pytest.raises(ReadingError, match="expected a number in °C"):
        typed_reading(observation_in("F"), text)


def test_other_texts_are_left_to_the_reader_of_findings() -> None:
    assert typed_reading(observation_in("F"), "inside") == "inside"
    assert typed_reading(observation_in("F"), "12 kg") == "12 kg"
    assert typed_reading(observation_in("F"), "120") == "120"


# Worked out by hand from the factors above.
@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Cycles between about 120 and 160 F.", "Cycles between about 48.9 and 71.1 °C."),
        ("At most 8 ft, round", "At most 2.4 m, round"),
        ("4 to 8 inches, is inside", "10 to 20 cm, is inside"),
        ("1/4 to 1/2 in deflection", "0.6 to 1.3 cm deflection"),
        ("15 gallons in about 3 minutes", "57 L in about 3 minutes"),
        ("takes 5 gallons a minute", "takes 19 L/min"),
        ("100 to 200 cfm in a dryer", "47.2 to 94.4 L/s in a dryer"),
        ("1 in 10 machines, 30 uF, 25 A", "1 in 10 machines, 30 uF, 25 A"),
    ],
)
def test_quantity_of_a_text_is_told_in_si(text: str, told: str) -> None:
    assert told_in(text, Units.SI) == told
    assert told_in(text, Units.US) == text


def test_text_tells_the_limits_of_its_reading_as_the_field_does() -> None:
    for one in READINGS.values():
        reading = reading_of(one)
        if unit_in(reading.unit, Units.SI) in ("°C", "m", "Pa") and f"{reading.accept[1]:g}" in (
            one.acceptance
        ):
            assert accept_in(reading, Units.SI)[1] in told_in(one.acceptance, Units.SI, reading)


def test_no_text_of_a_network_keeps_a_quantity_in_the_other_units() -> None:
    units_of_us = (" F.", " F,", " F ", " ft ", " gallons", " cfm", " w.c.", " inches")
    found = []
    for name in network_names():
        for one in load_network(name).observations.values():
            texts = (one.acceptance, one.wording, *one.answers.values())
            told = " ".join(told_in(text, Units.SI, one.reading) for text in texts)
            found += [f"{one.id}: {unit}" for unit in units_of_us if unit in told]

    assert found == []
