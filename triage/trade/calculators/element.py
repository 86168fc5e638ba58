"""Resistance, power and current of a heating element.

Ohm's law with the rating on the element: ``R = V^2 / P`` at the rated voltage, and the resistance
taken as constant, ``P(v) = v^2 / R`` and ``I(v) = v / R``. A hot element reads a little higher
than a cold one, which is left out.

>>> element = Element(rated_power_w=5400.0, rated_v=240.0)
>>> round(element.resistance_ohm, 2), round(element.power_w(208.0)), element.current_a(240.0)
(10.67, 4056, 22.5)
"""

from collections.abc import Mapping
from dataclasses import dataclass

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
from triage.trade.calculators.quantities import AMPERES, OHMS, PERCENT, VOLTS, WATTS, Limits, shown

RATED_POWER = Limits(100, 10000, "W")
SUPPLY = Limits(1, 300, "V")
RESISTANCE = Limits(0.1, 2000, "ohm")
RATED_VOLTAGES_V = Limits(120, 240, "V")
# Supplies that an element of a rating meets: homes have 240 V, some apartment houses 208 V between
# the same wires, and one leg of either is 120 V.
SUPPLIES_V: Mapping[str, tuple[float, ...]] = {
    "240": (240.0, 208.0, 120.0),
    "208": (208.0, 120.0),
    "120": (120.0,),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """A heating element by its rating."""

    rated_power_w: float
    rated_v: float

    def __post_init__(self) -> None:
        """Check the rating."""
        RATED_POWER.check("rated_power", self.rated_power_w)
        RATED_VOLTAGES_V.check("rated_voltage", self.rated_v)

    @property
    def resistance_ohm(self) -> float:
        """Resistance by the rating, in ohm."""
        return self.rated_v**2 / self.rated_power_w

    def power_w(self, supply_v: float) -> float:
        """Heat at a supply voltage, in W."""
        return supply_v**2 / self.resistance_ohm

    def current_a(self, supply_v: float) -> float:
        """Current at a supply voltage, in A."""
        return supply_v / self.resistance_ohm

    def percent_of_rated(self, supply_v: float) -> float:
        """Heat at a supply voltage, in percent of the rated heat."""
        return 100.0 * self.power_w(supply_v) / self.rated_power_w


def _lines_at(element: Element, supply_v: float, name: str) -> list[ResultLine]:
    volts = shown(supply_v)
    at = (
        f"on one {volts} V leg"
        if supply_v < element.rated_v and supply_v == 120.0
        else f"at {volts} V"
    )
    return [
        result_line(f"power_at_{name}", f"Heat {at}", WATTS, element.power_w(supply_v)),
        result_line(
            f"percent_at_{name}",
            f"Part of the rated heat {at}",
            PERCENT,
            element.percent_of_rated(supply_v),
        ),
        result_line(f"current_at_{name}", f"Current {at}", AMPERES, element.current_a(supply_v)),
    ]


def _sentence(element: Element, reading_ohm: float | None) -> str:
    rated_ohm = OHMS.text(element.resistance_ohm)
    if reading_ohm is None:
        return f"A good element of this rating reads about {rated_ohm}."
    difference = 100.0 * (reading_ohm / element.resistance_ohm - 1.0)
    stands = f"{shown(abs(round(difference, 1)))} % {'above' if difference >= 0 else 'below'}"
    return (
        f"The reading is {stands} the {rated_ohm} of the rating. "
        "No published limit was found: the wiring sheet in the cabinet decides."
    )


def _work(entries: Entries) -> Outcome:
    rating = entries.choices["rated_voltage"]
    element = Element(rated_power_w=entries.numbers["rated_power"], rated_v=float(rating))
    lines = [result_line("resistance", "Resistance", OHMS, element.resistance_ohm)]
    for supply_v in SUPPLIES_V[rating]:
        lines += _lines_at(element, supply_v, f"{shown(supply_v)}_v")
    measured_v = entries.numbers.get("supply_voltage")
    if measured_v is not None:
        lines += _lines_at(element, measured_v, "measured_supply")
    notes = ["Measure resistance only on an unplugged machine with the wires off the element."]
    if rating != "120":
        notes.append(
            "With one leg lost the circuit is normally open: no heat at all, not a quarter."
        )
    return Outcome(
        lines=tuple(lines),
        judgement=Judgement.NOT_JUDGED,
        sentence=_sentence(element, entries.numbers.get("reading")),
        notes=tuple(notes),
    )


CALCULATOR = Calculator(
    id="heating_element",
    title="Heating element",
    purpose="Resistance, heat and current of an element from its rating.",
    inputs=(
        NumberInput(
            id="rated_power",
            label="Rated power",
            hint="On the rating plate; dryers 4000 to 6000 W, washer heaters 1000 to 2000 W",
            quantity=WATTS,
            limits=RATED_POWER,
        ),
        ChoiceInput(
            id="rated_voltage",
            label="Rated voltage",
            hint="On the rating plate",
            choices={rating: f"{rating} V" for rating in SUPPLIES_V},
            default="240",
        ),
        NumberInput(
            id="supply_voltage",
            label="Voltage at the machine",
            hint="As measured, if it was",
            quantity=VOLTS,
            limits=SUPPLY,
            is_optional=True,
        ),
        NumberInput(
            id="reading",
            label="Resistance reading",
            hint="As measured on the cold element, if it was",
            quantity=OHMS,
            limits=RESISTANCE,
            is_optional=True,
        ),
    ),
    work=_work,
    source="Ohm's law with the rating of the element; no published limit of the reading was found",
)
