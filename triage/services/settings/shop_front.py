"""What customers and staff meet of a shop: name, units, dates, tax.

No plan depends on these, so they stand beside ``ShopSettings`` and not in it. In a settings file
they are the sections ``shop`` and ``tax`` (docs/settings.md).
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from triage.trade.units import Units as Units

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


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


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopFront:
    """What customers and staff meet.

    ``tax_rate_basis_points`` is hundredths of a percent, so that 8.25 % is a whole number. Rates
    and what they are on are the owner's own: they differ from place to place, and none is known
    here.
    """

    name: str = ""
    address: str = ""
    units: Units = Units.US
    date_style: DateStyle = DateStyle.DAY_FIRST
    tax_name: str = "Tax"
    tax_rate_basis_points: int = 0
    taxed: tuple[Taxed, ...] = ()


DEFAULT_FRONT = ShopFront()


def day_as_written(day: date, style: DateStyle) -> str:
    """Day in the style of the shop.

    >>> [day_as_written(date(2026, 3, 2), style) for style in DateStyle]
    ['2 Mar 2026', 'Mar 2, 2026', '2026-03-02']
    """
    month = MONTHS[day.month - 1]
    match style:
        case DateStyle.DAY_FIRST:
            return f"{day.day} {month} {day.year}"
        case DateStyle.MONTH_FIRST:
            return f"{month} {day.day}, {day.year}"
        case DateStyle.ISO:
            return day.isoformat()


def short_day_as_written(day: date, style: DateStyle) -> str:
    """Day of these weeks in the style of the shop: its weekday instead of the year.

    >>> [short_day_as_written(date(2026, 3, 2), style) for style in DateStyle]
    ['Mon 02 Mar', 'Mon Mar 02', 'Mon 02 Mar']
    """
    month, weekday = MONTHS[day.month - 1], DAYS[day.weekday()]
    if style is DateStyle.MONTH_FIRST:
        return f"{weekday} {month} {day.day:02d}"
    return f"{weekday} {day.day:02d} {month}"
