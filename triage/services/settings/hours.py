"""Settings of the desk: where the shop goes, when it works, what is told to customers.

They stand in the section ``desk`` of the settings file (docs/settings.md); a setting that is left
out has its default. Times are those of the clock in the zone of the shop, so that a working day
begins at eight also after the clocks were changed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import time
from typing import Annotated, Any, Literal

import phonenumbers
from pydantic import AfterValidator, Field, ValidationError
from pydantic_core import PydanticCustomError

from triage.errors import SettingsFileError
from triage.network.messages import add_unknown_keys, add_validation_problems
from triage.network.report import Place, Report
from triage.network.schema import Strict
from triage.network.schema_types import RULE
from triage.network.unknown_keys import Unknown
from triage.network.yaml_marks import MarkedFile, marked_text
from triage.services.folding import folded

SECTION = "desk"
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]


@dataclass(frozen=True, slots=True)
class OpenSpan:
    """From when until when the vans work on a day, by the clock of the shop."""

    opens: time
    closes: time


WORKING_DAY = (OpenSpan(time(8), time(17)),)


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskSettings:
    """Settings of the desk. Every default is common practice, no source.

    ``service_area`` holds beginnings of postcodes and names of towns; empty means that the place is
    not asked. ``opening_hours`` are by weekday, Monday 0; a day that is missing is closed.
    ``phone_region`` is the country of numbers written without one (ISO 3166), empty for none.
    """

    service_area: tuple[str, ...] = ()
    opening_hours: Mapping[int, tuple[OpenSpan, ...]] = field(
        default_factory=lambda: dict.fromkeys(range(5), WORKING_DAY)
    )
    window_minutes: int = 120
    travel_minutes: int = 20
    slot_step_minutes: int = 30
    days_ahead: int = 14
    cancel_hours: int = 24
    callback_days: int = 30
    phone_region: str = "US"

    def is_in_area(self, place: str) -> bool | None:
        """Whether a postcode or town lies in the service area; None if that cannot be said.

        >>> DeskSettings(service_area=("606", "Mill End")).is_in_area("606 14")
        True
        >>> DeskSettings(service_area=("606", "Mill End")).is_in_area("MILL  END")
        True
        >>> DeskSettings(service_area=("606",)).is_in_area("70114")
        False
        """
        said = folded(place)
        if not self.service_area or not said:
            return None
        joined = said.replace(" ", "")
        return any(
            joined.startswith(entry) if any(one.isdigit() for one in entry) else joined == entry
            for entry in (folded(entry).replace(" ", "") for entry in self.service_area)
        )


DEFAULT_DESK = DeskSettings()


def _clock(text: str) -> str:
    """Check a span such as 08:00-17:00."""
    _span(text)
    return text


def _span(text: str) -> OpenSpan:
    try:
        opens, closes = (time.fromisoformat(one.strip()) for one in text.split("-"))
    except ValueError:
        raise PydanticCustomError(RULE, "expected times such as 08:00-17:00") from None
    if opens >= closes or opens.tzinfo or closes.tzinfo:
        raise PydanticCustomError(RULE, "expected a later time after the dash")
    return OpenSpan(opens, closes)


def _region(text: str) -> str:
    if text and text not in phonenumbers.SUPPORTED_REGIONS:
        raise PydanticCustomError(RULE, "expected two capital letters of a country, such as US")
    return text


class DeskEntry(Strict):
    """Section ``desk`` of a settings file."""

    service_area: list[Annotated[str, Field(min_length=1, max_length=60)]] | None = None
    opening_hours: dict[Weekday, list[Annotated[str, AfterValidator(_clock)]]] | None = None
    window_minutes: Annotated[int, Field(ge=15, le=600)] | None = None
    travel_minutes: Annotated[int, Field(ge=0, le=240)] | None = None
    slot_step_minutes: Annotated[int, Field(ge=5, le=120)] | None = None
    days_ahead: Annotated[int, Field(ge=1, le=60)] | None = None
    cancel_hours: Annotated[int, Field(ge=0, le=168)] | None = None
    callback_days: Annotated[int, Field(ge=1, le=730)] | None = None
    phone_region: Annotated[str, AfterValidator(_region)] | None = None


def desk_settings(text: str, place: str = "settings") -> DeskSettings:
    """Settings of the desk in the text of a settings file; without that section the defaults.

    Raises
    ------
    SettingsFileError
        The section has problems; the error lists every one with its line.
    """
    found, problems = check_desk(text, place)
    if problems:
        raise SettingsFileError(place, problems)
    return found


def check_desk(text: str, place: str = "settings") -> tuple[DeskSettings, tuple[str, ...]]:
    """Settings of the desk in a text, and every problem of their section with its line."""
    return desk_in(marked_text(text, place))


def desk_in(marked: MarkedFile) -> tuple[DeskSettings, tuple[str, ...]]:
    """Settings of the desk in a settings file that was read, and every problem of their section."""
    raw = marked.data.get(SECTION)
    if raw is None:
        return DEFAULT_DESK, ()
    report, unknown = Report(), list[Unknown]()
    section = Place(file=marked).at(SECTION)
    entry = None
    try:
        entry = DeskEntry.model_validate(raw, context=unknown)
    except ValidationError as error:
        add_validation_problems(report, section, error)
    add_unknown_keys(report, section, raw, unknown)
    settings = DEFAULT_DESK if entry is None else _settings(entry)
    return settings, report.problems


def _settings(entry: DeskEntry) -> DeskSettings:
    given: dict[str, Any] = entry.model_dump(exclude_none=True)
    if "service_area" in given:
        given["service_area"] = tuple(given["service_area"])
    if entry.opening_hours is not None:
        given["opening_hours"] = _hours(entry.opening_hours)
    return DeskSettings(**given)


def _hours(entry: Mapping[Weekday, Sequence[str]]) -> dict[int, tuple[OpenSpan, ...]]:
    return {
        WEEKDAYS.index(day): tuple(sorted((_span(one) for one in spans), key=lambda one: one.opens))
        for day, spans in entry.items()
    }
