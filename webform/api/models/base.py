"""What requests and responses are made of.

What is sent is read strictly: a field that nobody knows, a number written as text, a time without
its zone are refused. What is shown is built from the values of the library.
"""

from datetime import UTC, date, datetime
from typing import Annotated

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints

NUMBER_MAX = 999_999_999
YEARS = (2000, 2200)  # of a moment or a day that can be meant
NO_NUL = r"^[^\x00]*$"  # no database keeps it


def _in_utc(moment: datetime) -> datetime:
    if not YEARS[0] <= moment.year < YEARS[1]:
        raise ValueError(f"expected a time from {YEARS[0]} to {YEARS[1] - 1}")
    return moment.astimezone(UTC)


def _of_our_days(day: date) -> date:
    if not YEARS[0] <= day.year < YEARS[1]:
        raise ValueError(f"expected a day from {YEARS[0]} to {YEARS[1] - 1}")
    return day


def text(limit: int, *, is_needed: bool = False) -> StringConstraints:
    """Bounds of a text: at most so many characters; one that is needed holds more than blanks."""
    pattern = r"^[^\x00]*[^\x00\s][^\x00]*$" if is_needed else NO_NUL
    return StringConstraints(max_length=limit, pattern=pattern)


Number = Annotated[int, Field(ge=0, le=NUMBER_MAX)]
Id = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=NO_NUL)]
ClientId = Annotated[
    str,
    Field(
        pattern=r"^[A-Za-z0-9_.-]{1,64}$",
        description="made by the sender, new for each thing to record; "
        "the same again is harmless, so send it again when no answer came",
    ),
]
Version = Annotated[
    int,
    Field(
        ge=0,
        le=NUMBER_MAX,
        description="version of the call as the sender knows it; a call that has gone on since is "
        "left as it is, and the answer is 409",
    ),
]
Moment = Annotated[
    AwareDatetime, AfterValidator(_in_utc), Field(description="RFC 3339, with its zone; UTC out")
]
Day = Annotated[date, AfterValidator(_of_our_days)]
Share = Annotated[float, Field(ge=0.0, le=1.0)]


class Sent(BaseModel):
    """What a program sends as JSON."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Asked(BaseModel):
    """What a program asks for in the address, after the question mark."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Shown(BaseModel):
    """What a program is given; new keys may come."""

    model_config = ConfigDict(from_attributes=True, frozen=True)


class Told(BaseModel):
    """What the library tells as JSON, given on as it is; keys are those of docs/json.md."""

    model_config = ConfigDict(extra="allow", frozen=True)


class Submitted(Sent):
    """Something to be recorded once, on top of a version."""

    client_id: ClientId
    shown_version: Version


class Paged(Asked):
    """Page of a list, counted from 1."""

    page: Annotated[int, Field(ge=1, le=100_000)] = 1


class Nothing(Asked):
    """Nothing can be asked for in the address."""
