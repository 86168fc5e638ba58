"""Days of the shop as stretches of time, right also on the days on which clocks change.

A day is what its date says in the zone of the shop: 23, 24 or 25 hours long. Opening hours are
times of the clock; a time that the clock skips stands for the moment after the gap, and of a time
that it shows twice the first opens and the second closes. All reckoning is done in UTC.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from triage.services.settings.hours import DeskSettings


@dataclass(frozen=True, slots=True, order=True)
class Stretch:
    """From one moment to another, in UTC."""

    begins: datetime
    ends: datetime

    @property
    def length(self) -> timedelta:
        """How long it is."""
        return self.ends - self.begins

    def widened(self, minutes: int) -> "Stretch":
        """The same with some minutes before and after."""
        more = timedelta(minutes=minutes)
        return Stretch(self.begins - more, self.ends + more)

    def meets(self, other: "Stretch") -> bool:
        """Whether the two share any time; ends that touch do not."""
        return self.begins < other.ends and other.begins < self.ends


def day_stretch(day: date, zone: tzinfo) -> Stretch:
    """Day of the shop from midnight to midnight.

    >>> from zoneinfo import ZoneInfo
    >>> str(day_stretch(date(2026, 3, 8), ZoneInfo("America/Chicago")).length)
    '23:00:00'
    """
    return Stretch(_moment(day, time(), zone), _moment(day + timedelta(days=1), time(), zone))


def opening_stretches(day: date, settings: DeskSettings, zone: tzinfo) -> tuple[Stretch, ...]:
    """When the vans work on a day, earliest first."""
    spans = settings.opening_hours.get(day.weekday(), ())
    found = (
        Stretch(_moment(day, span.opens, zone), _moment(day, span.closes, zone, is_later=True))
        for span in spans
    )
    return tuple(sorted(one for one in found if one.begins < one.ends))


def day_of(moment: datetime, zone: tzinfo) -> date:
    """Date on which a moment falls in the zone of the shop."""
    return moment.astimezone(zone).date()


def week_of(day: date) -> tuple[date, ...]:
    """Seven days from the Monday on or before a day."""
    monday = day - timedelta(days=day.weekday())
    return tuple(monday + timedelta(days=number) for number in range(7))


def _moment(day: date, clock: time, zone: tzinfo, *, is_later: bool = False) -> datetime:
    local = datetime.combine(day, clock, zone).replace(fold=int(is_later))
    back = local.astimezone(UTC).astimezone(zone)
    if back.replace(tzinfo=None) != local.replace(tzinfo=None):  # the clock skips it
        local = local.replace(fold=0)
    return local.astimezone(UTC)
