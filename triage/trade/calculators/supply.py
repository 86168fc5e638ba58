"""Whether a supply voltage is within the ranges of ANSI C84.1.

Range A is what the supply should keep to, Range B what it may reach now and then. Both have
limits at the service (the meter of the house) and lower ones at the outlet, where the machine is
[ANSIC84]_. The numbers are from memory: of the standard only title and scope were read. Limits of
208 V and 240 V are those of 120 V in proportion.

>>> voltage_range_v(VoltageRange.A, Place.SERVICE, 120.0)
(114.0, 126.0)
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from triage.trade.calculators.catalogue import (
    Calculator,
    ChoiceInput,
    Entries,
    Judgement,
    NumberInput,
    Outcome,
    ResultLine,
    result_line,
)
from triage.trade.calculators.quantities import PERCENT, VOLTS, Limits


class VoltageRange(StrEnum):
    """Ranges of the standard."""

    A = "a"
    B = "b"


class Place(StrEnum):
    """Where the voltage was measured."""

    OUTLET = "outlet"
    SERVICE = "service"


BASE_V = 120.0
RANGES_AT_120_V: Mapping[tuple[VoltageRange, Place], tuple[float, float]] = {  # [ANSIC84]_, memory
    (VoltageRange.A, Place.SERVICE): (114.0, 126.0),
    (VoltageRange.B, Place.SERVICE): (110.0, 127.0),
    (VoltageRange.A, Place.OUTLET): (108.0, 126.0),
    (VoltageRange.B, Place.OUTLET): (104.0, 127.0),
}
DROP_LIMIT_PERCENT = 5.0  # under load; a rule of the trade, from memory

NOMINALS = ("120", "208", "240")
NOMINAL = Limits(120, 240, "V")
READING = Limits(0, 300, "V")
WITHOUT_LOAD = Limits(1, 300, "V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """A voltage measured with the machine running, and without load if that was measured too."""

    nominal_v: float
    place: Place
    reading_v: float
    without_load_v: float | None = None

    def __post_init__(self) -> None:
        """Check the voltages."""
        NOMINAL.check("nominal", self.nominal_v)
        READING.check("reading", self.reading_v)
        if self.without_load_v is not None:
            WITHOUT_LOAD.check("without_load", self.without_load_v)


def voltage_range_v(name: VoltageRange, place: Place, nominal_v: float) -> tuple[float, float]:
    """Lowest and highest voltage of a range of the standard, in V."""
    low_v, high_v = RANGES_AT_120_V[name, place]
    return low_v * nominal_v / BASE_V, high_v * nominal_v / BASE_V


def drop_percent(supply: Supply) -> float | None:
    """Drop of the voltage under load, in percent of that without; None if not measured."""
    if supply.without_load_v is None:
        return None
    return 100.0 * (supply.without_load_v - supply.reading_v) / supply.without_load_v


def range_of(supply: Supply) -> VoltageRange | None:
    """Narrowest range of the standard that holds the reading; None if it is outside both."""
    for name in VoltageRange:
        low_v, high_v = voltage_range_v(name, supply.place, supply.nominal_v)
        if low_v <= supply.reading_v <= high_v:
            return name
    return None


def _judged(supply: Supply) -> tuple[Judgement, str]:
    found = range_of(supply)
    low_v, _ = voltage_range_v(VoltageRange.B, supply.place, supply.nominal_v)
    drop = drop_percent(supply)
    if found is None:
        side = "low" if supply.reading_v < low_v else "high"
        return Judgement.OUTSIDE, f"The voltage is too {side}, outside Range B."
    if drop is not None and drop > DROP_LIMIT_PERCENT:
        return Judgement.OUTSIDE, "The voltage drops too far under load: look at the house wiring."
    if found is VoltageRange.B:
        return (
            Judgement.BORDERLINE,
            "The voltage is in Range B only: it may be so now and then, not all day.",
        )
    return Judgement.INSIDE, "The voltage is in Range A."


def _lines(supply: Supply) -> tuple[ResultLine, ...]:
    lines = []
    for name in VoltageRange:
        low_v, high_v = voltage_range_v(name, supply.place, supply.nominal_v)
        letter = name.value.upper()
        lines += [
            result_line(f"range_{name}_lowest", f"Range {letter} from", VOLTS, low_v),
            result_line(f"range_{name}_highest", f"Range {letter} to", VOLTS, high_v),
        ]
    drop = drop_percent(supply)
    if drop is not None:
        lines.append(result_line("drop", "Drop under load", PERCENT, drop))
    return tuple(lines)


def _work(entries: Entries) -> Outcome:
    supply = Supply(
        nominal_v=float(entries.choices["nominal"]),
        place=Place(entries.choices["place"]),
        reading_v=entries.numbers["reading"],
        without_load_v=entries.numbers.get("without_load"),
    )
    judgement, sentence = _judged(supply)
    notes = ["The pins are live: qualified persons only. Measure with the machine running."]
    if supply.nominal_v != BASE_V:
        notes.append(
            "About 0 V from leg to leg while each leg has about 120 V to neutral: one leg is open "
            "and fed back through the element."
        )
    return Outcome(lines=_lines(supply), judgement=judgement, sentence=sentence, notes=tuple(notes))


CALCULATOR = Calculator(
    id="supply_voltage",
    title="Supply voltage",
    purpose="Whether the voltage at the outlet is within its range.",
    inputs=(
        ChoiceInput(
            id="nominal",
            label="Supply",
            hint="240 V for most electric dryers, 208 V in some apartment houses",
            choices={nominal: f"{nominal} V" for nominal in NOMINALS},
            default="120",
        ),
        ChoiceInput(
            id="place",
            label="Measured at",
            hint="The service is where the wires enter the house",
            choices={Place.OUTLET: "The outlet", Place.SERVICE: "The service"},
            default=Place.OUTLET,
        ),
        NumberInput(
            id="reading",
            label="Voltage under load",
            hint="With the machine running",
            quantity=VOLTS,
            limits=READING,
        ),
        NumberInput(
            id="without_load",
            label="Voltage without load",
            hint="With the machine off, if it was measured",
            quantity=VOLTS,
            limits=WITHOUT_LOAD,
            is_optional=True,
        ),
    ),
    work=_work,
    source="ANSI C84.1, numbers from memory, only title and scope were read; the 5 % drop is from "
    "memory too",
    source_keys=("ANSIC84",),
)
