"""Readings and texts in the units of a shop: US customary or SI.

A network says in one unit what is measured, and findings are kept in that unit. This module alone
turns it into the other one and back. Factors are exact, as fractions, so that a number typed in
either unit is the same finding [NIST811]_:

- 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 US gal = 3.785411784 L, by definition;
- °C = (°F - 32) / 1.8, by definition;
- 1 in w.c. = 25.4 mm of water of 1000 kg/m3 under 9.80665 m/s2 = 249.08891 Pa, the conventional
  inch of water;
- 1 cfm = (0.3048 m)^3 a minute, 0.4719474432 L/s.

Volt, ampere, ohm, percent and ppm are the same in both and stay as they are.

A limit of what is good is rounded inwards, and a reading never to the other side of a limit, so
that who compares two numbers on a page comes to what the network comes to.

>>> told_in("Cycles between about 120 and 160 F, at most 8 ft of duct, 108 V.", Units.SI)
'Cycles between about 48.9 and 71.1 °C, at most 2.4 m of duct, 108 V.'
"""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from triage.errors import ReadingError
from triage.network.values import Observation, Reading
from triage.trade.calculators.quantities import (
    INCHES_PER_FOOT,
    LITRES_PER_GALLON,
    METRES_PER_INCH,
)


class Units(StrEnum):
    """Units in which a shop reads and types what is measured."""

    US = "us"
    SI = "si"


_METRES_PER_FOOT = METRES_PER_INCH * INCHES_PER_FOOT
_WATER = Fraction(1000)  # kg/m3, conventional
_GRAVITY = Fraction("9.80665")  # m/s2, standard
_PASCALS_PER_INCH_OF_WATER = METRES_PER_INCH * _WATER * _GRAVITY
_LITRES_A_SECOND_PER_CFM = _METRES_PER_FOOT**3 * 1000 / 60
MOST_DIGITS = 4  # significant digits in a text; more than any meter on site gives
MOST_DECIMALS = 6
SPAN_STEPS = 200  # steps that a span is told in, at least; enough to see which end was passed
TYPED_MAX = 40  # letters of a reading

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)"


@dataclass(frozen=True, slots=True)
class _Pair:
    """A US unit with the SI unit of the same quantity: ``si = (us - offset) * scale``.

    ``us`` and ``si`` hold the symbol to show first, then what else a network may write.
    """

    us: tuple[str, ...]
    si: tuple[str, ...]
    scale: Fraction
    offset: int = 0

    def named(self, units: Units) -> tuple[str, ...]:
        return self.us if units is Units.US else self.si

    def turned(self, value: Fraction, units: Units) -> Fraction:
        """Value of the other unit in these units."""
        if units is Units.SI:
            return (value - self.offset) * self.scale
        return value / self.scale + self.offset

    def step(self, units: Units) -> Fraction:
        """What 1 of the other unit is in these units, as a difference."""
        return self.scale if units is Units.SI else 1 / self.scale


# The first pair that has a unit is the one it is turned by.
_PAIRS = (
    _Pair(("°F", "F"), ("°C", "C"), Fraction(5, 9), 32),
    _Pair(("ft", "foot", "feet"), ("m",), _METRES_PER_FOOT),
    _Pair(("in w.c.",), ("Pa",), _PASCALS_PER_INCH_OF_WATER),
    _Pair(("gal/min", "gallons a minute"), ("L/min", "litres a minute"), LITRES_PER_GALLON),
    _Pair(("gallons", "gallon", "gal"), ("L", "litres", "litre"), LITRES_PER_GALLON),
    _Pair(("cfm",), ("L/s",), _LITRES_A_SECOND_PER_CFM),
    _Pair(("in", "inches", "inch"), ("cm",), 100 * METRES_PER_INCH),
    _Pair(("in",), ("mm",), 1000 * METRES_PER_INCH),
)
_SYSTEMS: Mapping[str, tuple[_Pair, Units]] = {
    name: (pair, units)
    for pair in reversed(_PAIRS)
    for units in Units
    for name in pair.named(units)
}


def unit_in(unit: str, units: Units) -> str:
    """Symbol of the unit in which a shop reads what a network has in ``unit``."""
    pair = _to_turn(unit, units)
    return unit if pair is None else pair.named(units)[0]


def accept_in(reading: Reading, units: Units) -> tuple[str, str]:
    """What is good, from and to, as numbers in the units of a shop; rounded inwards.

    Parameters
    ----------
    reading : Reading
        With its limits in the unit of the network.
    units : Units
        Of the shop.
    """
    pair = _to_turn(reading.unit, units)
    if pair is None:
        return f"{reading.accept[0]:g}", f"{reading.accept[1]:g}"
    return (
        _limit(reading.accept[0], reading, pair, units, math.ceil),
        _limit(reading.accept[1], reading, pair, units, math.floor),
    )


def span_in(span: tuple[float, float], unit: str, units: Units) -> str:
    """What can be read, from and to with its unit, in the units of a shop; rounded inwards.

    >>> span_in((0.0, 2.0), "in w.c.", Units.SI), span_in((0.0, 260.0), "V", Units.SI)
    ('0 to 498 Pa', '0 to 260 V')
    """
    pair = _to_turn(unit, units)
    if pair is None:
        return f"{span[0]:g} to {span[1]:g} {unit}".strip()
    low, high = (pair.turned(_fraction(end), units) for end in span)
    decimals = _decimals((high - low) / SPAN_STEPS)
    first = _text(_rounded(low, decimals, math.ceil))
    return f"{first} to {_text(_rounded(high, decimals, math.floor))} {pair.named(units)[0]}"


def reading_in(reading: Reading, value: float, units: Units) -> str:
    """Reading with its unit, in the units of a shop, on its own side of every limit.

    Parameters
    ----------
    reading : Reading
        What is read, and its limits.
    value : float
        In the unit of the network.
    units : Units
        Of the shop.
    """
    pair = _to_turn(reading.unit, units)
    if pair is None:
        return f"{value:g} {reading.unit}".strip()
    unit = pair.named(units)[0]
    exact = pair.turned(_fraction(value), units)
    low, high = (Fraction(text) for text in accept_in(reading, units))
    decimals = _decimals_of_meter(reading, pair, units)
    rounded = _rounded(exact, decimals, round)
    if reading.accept[0] <= value <= reading.accept[1]:
        return f"{_text(min(max(rounded, low), high))} {unit}"
    while low <= rounded <= high and decimals < MOST_DECIMALS:
        decimals += 1
        rounded = _rounded(exact, decimals, round)
    return f"{_text(rounded)} {unit}"


def typed_reading(observation: Observation, text: str) -> str:
    """What was typed, as a number in the unit of the network.

    A number with a unit of the same quantity is turned, exactly; everything else is returned as
    it is, for the reader of findings to take or to refuse.

    Raises
    ------
    ReadingError
        The text ends with such a unit but does not begin with a number.

    Examples
    --------
    ``"40 °C"`` is ``"104.0"`` where the network has ``F``.
    """
    reading = observation.reading
    if reading is None:
        return text
    unit = next((one for one in _typed_units(reading.unit) if _ends_with(text, one)), None)
    if unit is None:
        return text
    number = text.strip()[: -len(unit)].strip()
    found = re.fullmatch(_NUMBER, number) if len(number) <= TYPED_MAX else None
    if found is None:
        raise ReadingError(observation.id, number, f"a number in {unit}")
    value = Fraction(number)
    pair, units = _SYSTEMS.get(reading.unit, (None, Units.US))
    if pair is None or unit in pair.named(units):
        return str(float(value))
    return str(float(pair.turned(value, units)))


def told_in(text: str, units: Units, reading: Reading | None = None) -> str:
    """Text with its quantities in the units of a shop.

    A number is as fine as it was: a step of its last digit is not coarser afterwards, within four
    significant digits. A number that is a limit of ``reading`` is rounded like that limit.
    """
    limits = {}
    if reading is not None and (pair := _to_turn(reading.unit, units)) is not None:
        ends = zip(reading.accept, accept_in(reading, units), strict=True)
        limits = {(pair, _fraction(end)): shown for end, shown in ends}
    return _QUANTITY.sub(lambda found: _told(found, units, limits), text)


def _told(found: re.Match[str], units: Units, limits: Mapping[tuple[_Pair, Fraction], str]) -> str:
    pair = _to_turn(found["unit"], units)
    if pair is None:
        return found[0]
    numbers = [number for number in (found["first"], found["last"]) if number]
    decimals = max(_decimals(_last_digit(number) * pair.step(units)) for number in numbers)
    told = [
        limits.get((pair, Fraction(number)))
        or _turned_text(pair.turned(Fraction(number), units), decimals)
        for number in numbers
    ]
    return f"{(found['joined'] or '').join(told)} {pair.named(units)[0]}"


def _last_digit(number: str) -> Fraction:
    """What a step of the last digit of "12", "2.5" or "1/4" is."""
    whole, _, decimals = number.partition(".")
    return Fraction(1, int(whole.partition("/")[2] or 1) * 10 ** len(decimals))


def _turned_text(value: Fraction, decimals: int) -> str:
    size = math.floor(math.log10(abs(value))) if value else 0
    return _text(_rounded(value, min(decimals, max(0, MOST_DIGITS - 1 - size)), round))


def _to_turn(unit: str, units: Units) -> _Pair | None:
    """Pair by which a unit is turned; None if it is one of the shop's, or has no other."""
    pair, own = _SYSTEMS.get(unit, (None, units))
    return None if own is units else pair


def _typed_units(unit: str) -> tuple[str, ...]:
    """Units in which a reading may be typed, the longest first."""
    pair, _ = _SYSTEMS.get(unit, (None, Units.US))
    names = (unit,) if pair is None else (*pair.us, *pair.si)
    return tuple(sorted(names, key=len, reverse=True))


def _ends_with(text: str, unit: str) -> bool:
    head, end = text.strip()[: -len(unit)], text.strip()[-len(unit) :]
    return bool(unit) and end == unit and (not head or not head[-1].isalpha())


def _limit(
    end: float, reading: Reading, pair: _Pair, units: Units, way: Callable[[Fraction], int]
) -> str:
    exact = pair.turned(_fraction(end), units)
    return _text(_rounded(exact, _decimals_of_meter(reading, pair, units), way))


def _decimals_of_meter(reading: Reading, pair: _Pair, units: Units) -> int:
    """Decimals that are finer than half of the error of the meter."""
    return _decimals(_fraction(reading.sd) * pair.step(units) / 2)


def _decimals(step: Fraction) -> int:
    """Fewest decimals that are as fine as ``step``."""
    return min(MOST_DECIMALS, max(0, math.ceil(-math.log10(step))))


def _rounded(value: Fraction, decimals: int, way: Callable[[Fraction], int]) -> Fraction:
    return Fraction(way(value * 10**decimals), 10**decimals)


def _text(value: Fraction) -> str:
    text = f"{float(value):.{MOST_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _fraction(value: float) -> Fraction:
    """Number as it is written, not as its nearest binary fraction."""
    return Fraction(repr(float(value)))


def _quantity() -> re.Pattern[str]:
    """Numbers with a unit in a text; "in" is no unit before a word that it belongs to."""
    names = sorted(_SYSTEMS, key=len, reverse=True)
    number = r"\d+(?:/\d+|\.\d+)?"
    units = "|".join(re.escape(name) for name in names)
    return re.compile(
        rf"(?<![\w./])(?:(?P<first>{number})(?P<joined> (?:to|and|or) ))?(?P<last>{number}) "
        rf"(?P<unit>{units})(?![\w/])(?<! in(?= (?:\d|the |a |each |all |one |two )))"
    )


_QUANTITY = _quantity()
