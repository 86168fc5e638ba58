"""Models of free times, visits and vans."""

from typing import Annotated, Any, Literal

from pydantic import Field

from webform.api.models.base import Asked, Day, Moment, Number, Shown, Submitted, text

LONGEST_MINUTES = 480
REASON_MAX = 300
Minutes = Annotated[int, Field(ge=1, le=LONGEST_MINUTES)]
VanNumber = Annotated[int, Field(ge=1, le=999_999_999)]
StateShown = Literal["booked", "under_way", "done", "cancelled", "no_show"]


class PlateAsked(Asked):
    """What the plate of the machine says, if it was read out."""

    plate: Annotated[str, text(300)] = ""


class SlotsAsked(Asked):
    """Which free times: ``minutes`` 0 is the length that the plan proposes, ``van`` 0 any van."""

    minutes: Annotated[int, Field(ge=0, le=LONGEST_MINUTES)] = 0
    from_day: Day | None = None
    van: Number = 0


class DayAsked(Asked):
    """A day of the shop, today if it is left out; ``van`` 0 is every van."""

    day: Day | None = None
    van: Number = 0


class SlotGiven(Submitted):
    """A time on the day of a van; ``outside_hours`` confirms one outside opening hours."""

    van: VanNumber
    starts_at: Moment
    minutes: Minutes
    outside_hours: bool = False


class VisitGiven(SlotGiven):
    """A visit to book; ``note`` is for the technician."""

    note: Annotated[str, text(REASON_MAX)] = ""


class CancelGiven(Submitted):
    """Why a visit is cancelled."""

    reason: Annotated[str, text(REASON_MAX, is_needed=True)]


class LateGiven(Submitted):
    """How many minutes later than planned the technician comes; 0 is on time again."""

    minutes: Annotated[int, Field(ge=0, le=LONGEST_MINUTES)]


class SlotShown(Shown):
    """A free time, and the window in which the technician arrives."""

    van: int
    van_name: str
    starts_at: Moment
    ends_at: Moment
    window_starts_at: Moment
    window_ends_at: Moment


class FreeDayShown(Shown):
    """Free times of a day, earliest first."""

    day: Day
    slots: list[SlotShown]


class Slots(Shown):
    """Free times for a call, what to say, and what is promised with a booking."""

    call: int
    version: int
    proposed_minutes: int
    minutes: int
    days: list[FreeDayShown]
    script: list[str]
    promised: dict[str, Any]


class VisitShown(Shown):
    """A visit; ``version`` is that of its call."""

    visit: int
    call: int
    version: int
    van: int
    van_name: str
    technician: str
    state: StateShown
    starts_at: Moment
    ends_at: Moment
    window_starts_at: Moment
    window_ends_at: Moment
    late_minutes: int
    note: str
    network: str
    appliance: str
    who: str
    phone: str
    address: str


class VanDayShown(Shown):
    """A van with the visits of a day, in order."""

    van: int
    van_name: str
    technician: str
    is_active: bool
    visits: list[VisitShown]


class Visits(Shown):
    """A day of the vans."""

    day: Day
    vans: list[VanDayShown]


class VanShown(Shown):
    """A van; ``technician`` is empty if nobody drives it."""

    van: int
    van_name: str
    technician: str
    is_active: bool


class Vans(Shown):
    """Every van, by name."""

    vans: list[VanShown]
