"""What customers and staff meet of a shop: name, opening hours, units, dates, tax.

No plan depends on these, so they stand beside ``ShopSettings`` and not in it. In a settings file
they are the sections ``shop`` and ``tax`` (docs/settings.md).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from enum import StrEnum


class Units(StrEnum):
    """Units in which calculators and readings are shown first."""

    US = "us"
    SI = "si"


class DateStyle(StrEnum):
    """How a day is written: 2 Mar 2026, Mar 2, 2026 or 2026-03-02."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"
    ISO = "iso"


class Taxed(StrEnum):
    """What may be taxed."""

    FEE = "fee"
    LABOUR = "labour"
    PARTS = "parts"


class Weekday(StrEnum):
    """Days of the week, in the order of ``datetime.weekday``."""

    MON = "mon"
    TUE = "tue"
    WED = "wed"
    THU = "thu"
    FRI = "fri"
    SAT = "sat"
    SUN = "sun"


WORKDAYS = (Weekday.MON, Weekday.TUE, Weekday.WED, Weekday.THU, Weekday.FRI)
USUAL_HOURS = "08:00-17:00"  # common practice, no source
HOURS = re.compile(r"([01]\d|2[0-3]):([0-5]\d)-([01]\d|2[0-3]):([0-5]\d)")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopFront:
    """What customers and staff meet; ``hours`` has no entry for a day on which the shop is closed.

    ``tax_rate_basis_points`` is hundredths of a percent, so that 8.25 % is a whole number. Rates
    and what they are on are the owner's own: they differ from place to place, and none is known
    here.
    """

    name: str = ""
    address: str = ""
    units: Units = Units.US
    date_style: DateStyle = DateStyle.DAY_FIRST
    hours: Mapping[Weekday, str] = field(
        default_factory=lambda: dict.fromkeys(WORKDAYS, USUAL_HOURS), hash=False
    )
    tax_name: str = "Tax"
    tax_rate_basis_points: int = 0
    taxed: tuple[Taxed, ...] = ()

    def open_on(self, weekday: int) -> tuple[time, time] | None:
        """When the shop opens and closes on a day of the week (0 is Monday); None if it does not.

        >>> ShopFront().open_on(0)
        (datetime.time(8, 0), datetime.time(17, 0))
        """
        text = self.hours.get(tuple(Weekday)[weekday])
        return None if text is None else opening_times(text)


def opening_times(text: str) -> tuple[time, time]:
    """Opening and closing time of ``08:00-17:00``; ``ValueError`` if it is no such text."""
    found = HOURS.fullmatch(text)
    if found is None:
        raise ValueError(f'hours "{text}"; expected such as "{USUAL_HOURS}"')
    opens, closes = (time(int(found[k]), int(found[k + 1])) for k in (1, 3))
    if closes <= opens:
        raise ValueError(f'hours "{text}"; expected a closing time after the opening time')
    return opens, closes


DEFAULT_FRONT = ShopFront()
