"""Resistance that a dryer thermistor of the 10 k type should have at a temperature.

Between two printed points of a table the logarithm of the resistance is linear in the inverse of
the absolute temperature, as for a thermistor of constant B: ``ln R = a + B / T``. The table is
from a question page on dryer repair; it prints "ohms" where kilo-ohms are meant. Nothing is said
outside of it.

>>> round(thermistor_kohm(75.0), 2)
10.45
"""

import math
from itertools import pairwise

from triage.trade.calculators.catalogue import (
    Calculator,
    Entries,
    Judgement,
    NumberInput,
    Outcome,
    result_line,
)
from triage.trade.calculators.quantities import (
    FAHRENHEIT,
    KELVIN_AT_0_C,
    KILO_OHMS,
    Limits,
    shown,
)

# (°F, kohm), coldest first: question page "How do I test the thermistor", 10 k type of a dryer.
TABLE: tuple[tuple[float, float], ...] = (
    (50.0, 19.9),
    (60.0, 15.3),
    (70.0, 11.9),
    (80.0, 9.2),
    (90.0, 7.4),
    (100.0, 5.7),
)
# Replace when off by more than 10 to 15 percent: common practice, no source.
GOOD_PERCENT = 10.0
BAD_PERCENT = 15.0

TEMPERATURE = Limits(TABLE[0][0], TABLE[-1][0], "°F")  # the table, not a guess
READING = Limits(0, 1000, "kohm")


def kelvin(temperature_f: float) -> float:
    """Absolute temperature, in K."""
    return (temperature_f - 32.0) / 1.8 + KELVIN_AT_0_C


def thermistor_kohm(temperature_f: float) -> float:
    """Resistance of a good thermistor.

    Parameters
    ----------
    temperature_f : float
        Temperature of the thermistor, in °F, within the table.

    Returns
    -------
    float
        Resistance, in kilo-ohm.

    Raises
    ------
    InputValueError
        The temperature is outside the table.
    """
    TEMPERATURE.check("temperature", temperature_f)
    (cold_f, cold_kohm), (hot_f, hot_kohm) = next(
        (cold, hot) for cold, hot in pairwise(TABLE) if temperature_f <= hot[0]
    )
    cold, here, hot = 1 / kelvin(cold_f), 1 / kelvin(temperature_f), 1 / kelvin(hot_f)
    share = (cold - here) / (cold - hot)
    return math.exp((1 - share) * math.log(cold_kohm) + share * math.log(hot_kohm))


def _judged(reading_kohm: float | None, expected_kohm: float) -> tuple[Judgement, str]:
    if reading_kohm is None:
        return Judgement.NOT_JUDGED, f"A good part reads about {KILO_OHMS.text(expected_kohm)}."
    off = 100.0 * (reading_kohm / expected_kohm - 1.0)
    stands = f"{shown(abs(round(off, 1)))} % {'above' if off >= 0 else 'below'} the table"
    if abs(off) <= GOOD_PERCENT:
        return Judgement.INSIDE, f"The reading is {stands}."
    if abs(off) <= BAD_PERCENT:
        return (
            Judgement.BORDERLINE,
            f"The reading is {stands}: let the part take the room's temperature, measure again.",
        )
    return Judgement.OUTSIDE, f"The reading is {stands}: replace the thermistor."


def _work(entries: Entries) -> Outcome:
    expected_kohm = thermistor_kohm(entries.numbers["temperature"])
    judgement, sentence = _judged(entries.numbers.get("reading"), expected_kohm)
    margin_kohm = expected_kohm * GOOD_PERCENT / 100.0
    return Outcome(
        lines=(
            result_line("expected", "Resistance", KILO_OHMS, expected_kohm),
            result_line("lowest", "Good from", KILO_OHMS, expected_kohm - margin_kohm),
            result_line("highest", "Good to", KILO_OHMS, expected_kohm + margin_kohm),
        ),
        judgement=judgement,
        sentence=sentence,
        notes=(
            "Only for the 10 k type. The wiring sheet in the cabinet comes first.",
            "Unplug, and take the wires off the thermistor.",
        ),
    )


CALCULATOR = Calculator(
    id="thermistor",
    title="Dryer thermistor, 10 k type",
    purpose="What a thermistor should read at the temperature it has.",
    inputs=(
        NumberInput(
            id="temperature",
            label="Temperature of the thermistor",
            hint="That of the room if the machine has stood for an hour",
            quantity=FAHRENHEIT,
            limits=TEMPERATURE,
        ),
        NumberInput(
            id="reading",
            label="Reading",
            hint="As measured, if it was",
            quantity=KILO_OHMS,
            limits=READING,
            is_optional=True,
        ),
    ),
    work=_work,
    source="Table of six points from a question page on dryer repair, read between the points; the "
    f"{shown(GOOD_PERCENT)} to {shown(BAD_PERCENT)} % are common practice without a source",
)
