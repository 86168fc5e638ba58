"""Quantities with their units: read as a technician types them, shown as a technician reads them.

Each quantity has one unit that formulas use, the first of its list; what is typed in another unit
is converted. US customary units come first and metric units are taken as well. The factors are
exact by definition: 1 in = 0.0254 m, 1 US gal = 231 cubic inches = 3.785411784 L [NIST811]_.

>>> FEET.read("18 ft 6 in"), round(FEET.read("5.5 m"), 3), FEET.read("eighteen")
(18.5, 18.045, None)
>>> [measure.text for measure in FEET.measures(22.5)]
['22.5 ft', '6.858 m']
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from triage.errors import InputValueError

METRES_PER_INCH = Fraction("0.0254")
INCHES_PER_FOOT = 12
LITRES_PER_GALLON = Fraction("3.785411784")
KELVIN_AT_0_C = 273.15
SIGNIFICANT_DIGITS = 4  # more than any meter or tape on site gives

_PAIR = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+))\s*([^\d\s.+-]*)\s*")


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: ``value in the first unit = scale * value + offset``.

    Scales are fractions, so that 33 ft 5 in is the same number however it is typed.
    """

    symbol: str
    scale: Fraction = Fraction(1)
    offset: int = 0
    also_typed: tuple[str, ...] = ()
    is_shown: bool = False

    def is_typed_as(self, word: str) -> bool:
        """Whether a word stands for this unit; capitals and the degree sign do not matter."""
        known = (self.symbol, *self.also_typed)
        return word.casefold().strip("°") in {name.casefold().strip("°") for name in known}


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with its unit."""

    value: float
    unit: str

    @property
    def text(self) -> str:
        """Number and unit as people read them."""
        return f"{shown(self.value)} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Quantity:
    """What can be measured in ``units``; formulas use the first."""

    units: tuple[Unit, ...]

    @property
    def unit(self) -> str:
        """Symbol of the unit that formulas use; empty for a plain number."""
        return self.units[0].symbol

    def read(self, text: str) -> float | None:
        """Value in the first unit; None if the text is not a number with one of the units.

        Several numbers, each with its unit, are added up: "18 ft 6 in".
        """
        pairs = []
        place = 0
        while place < len(text):
            found = _PAIR.match(text, place)
            if found is None:
                return None
            pairs.append(found.groups())
            place = found.end()
        if not pairs or (len(pairs) > 1 and not all(word for _, word in pairs)):
            return None
        values = [self._in_first_unit(Fraction(number), word) for number, word in pairs]
        known = [value for value in values if value is not None]
        return float(sum(known)) if len(known) == len(values) else None

    def _in_first_unit(self, number: Fraction, word: str) -> Fraction | None:
        if not word:
            return number
        units = [unit for unit in self.units if unit.is_typed_as(word)]
        return units[0].scale * number + units[0].offset if units else None

    def measures(self, value: float) -> tuple[Measure, ...]:
        """Value in the first unit, and in the other units that are shown."""
        others = [unit for unit in self.units[1:] if unit.is_shown]
        return (
            Measure(value, self.unit),
            *(Measure((value - unit.offset) / float(unit.scale), unit.symbol) for unit in others),
        )

    def text(self, value: float, *, in_metric: bool = False) -> str:
        """Value as people read it, in the first unit or in the metric one."""
        return self.measures(value)[-1 if in_metric else 0].text

    def with_metric_unit(self, text: str) -> str:
        """Text to read; a number without a unit gets the metric one that is shown, if any is."""
        shown_units = [unit for unit in self.units[1:] if unit.is_shown]
        is_bare = self.read(text) is not None and not re.search(r"[^\d\s.+-]", text)
        return f"{text.strip()} {shown_units[-1].symbol}" if is_bare and shown_units else text


@dataclass(frozen=True, slots=True)
class Limits:
    """What a number may be, ends included.

    The limits catch slips of typing. They are wide, chosen here, and no rule of a code or
    standard unless the module says so.
    """

    low: float
    high: float
    unit: str

    @property
    def text(self) -> str:
        """Both ends as people read them."""
        return f"{shown(self.low)} to {shown(self.high)} {self.unit}".rstrip()

    def check(self, name: str, value: float) -> None:
        """Raise unless the value is within the limits.

        Raises
        ------
        InputValueError
            The value is outside the limits, or not a finite number.
        """
        if not self.low <= value <= self.high:
            got = Measure(value, self.unit).text if math.isfinite(value) else str(value)
            raise InputValueError(name, got, self.text)


def shown(value: float) -> str:
    """Number with four significant digits, without zeros at the end.

    >>> [shown(value) for value in (0.0, 10.6667, 4056.0, 22.5, 0.751111, -2.0)]
    ['0', '10.67', '4056', '22.5', '0.7511', '-2']
    """
    if value == 0:
        return "0"
    decimals = max(0, SIGNIFICANT_DIGITS - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


_FOOT = METRES_PER_INCH * INCHES_PER_FOOT  # m
FEET = Quantity(
    (
        Unit("ft", also_typed=("foot", "feet", "'")),
        Unit("m", 1 / _FOOT, is_shown=True),
        Unit("in", Fraction(1, INCHES_PER_FOOT), also_typed=("inch", "inches", '"')),
        Unit("cm", 1 / (100 * _FOOT)),
    )
)
INCHES = Quantity(
    (
        Unit("in", also_typed=("inch", "inches", '"')),
        Unit("cm", 1 / (100 * METRES_PER_INCH), is_shown=True),
        Unit("ft", Fraction(INCHES_PER_FOOT), also_typed=("foot", "feet", "'")),
        Unit("mm", 1 / (1000 * METRES_PER_INCH)),
        Unit("m", 1 / METRES_PER_INCH),
    )
)
GALLONS = Quantity(
    (
        Unit("gal", also_typed=("gallon", "gallons")),
        Unit("L", 1 / LITRES_PER_GALLON, also_typed=("litre", "litres", "liters"), is_shown=True),
    )
)
GALLONS_PER_MINUTE = Quantity(
    (
        Unit("gal/min", also_typed=("gpm",)),
        Unit("L/min", 1 / LITRES_PER_GALLON, also_typed=("lpm",), is_shown=True),
    )
)
FAHRENHEIT = Quantity((Unit("°F"), Unit("°C", Fraction("1.8"), 32, is_shown=True)))
OHMS = Quantity(
    (Unit("ohm", also_typed=("ohms", "Ω")), Unit("kohm", Fraction(1000), also_typed=("k", "kΩ")))
)
KILO_OHMS = Quantity(
    (Unit("kohm", also_typed=("k", "kΩ")), Unit("ohm", Fraction("0.001"), also_typed=("ohms", "Ω")))
)
WATTS = Quantity((Unit("W", also_typed=("watt", "watts")), Unit("kW", Fraction(1000))))
VOLTS = Quantity((Unit("V", also_typed=("volt", "volts")),))
AMPERES = Quantity((Unit("A", also_typed=("amp", "amps")),))
MICROFARADS = Quantity((Unit("µF", also_typed=("uF", "μF", "mfd")),))
MINUTES = Quantity((Unit("min"),))
PERCENT = Quantity((Unit("%"),))
COUNT = Quantity((Unit(""),))
