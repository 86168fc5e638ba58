"""Settings as data that forms change, and as a text whose problems are told by entry.

A form changes some entries and leaves the rest of the text as it is; what it writes is data again,
so comments of a text written by hand go.
"""

import re
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from triage.errors import SettingsFileError
from triage.network.shipped import shown_path
from triage.network.values import FaultNetwork
from triage.network.yaml_marks import marked_text, write_yaml
from triage.services.calls.calls import Database
from triage.services.settings.hours import SECTION, WEEKDAYS, check_desk
from triage.services.settings.reading import check_settings
from triage.services.settings.text import settings_as_yaml
from triage.services.shop.settings import check_text, settings_text

PLACE = "settings"
PROBLEM = re.compile(rf"^{PLACE}:(\d+): (?:([\w.\[\]]+): )?(.*)$", re.DOTALL)
HOURS = ("desk", "opening_hours")

KeyPath = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    """A problem of a text: its line, the entry it is about (``a.b.c``, or empty), the sentence."""

    line: int
    path: str
    sentence: str


@dataclass(frozen=True, slots=True)
class WholeCheck:
    """What is wrong with a text, and what looks odd without being wrong."""

    problems: tuple[Problem, ...]
    remarks: tuple[str, ...]


def check_whole(text: str) -> WholeCheck:
    """Problems of every section of a text, by line."""
    found = check_text(text)
    told = [_problem(one) for one in found.problems]
    return WholeCheck(tuple(sorted(told, key=lambda one: one.line)), found.remarks)


def file_as_yaml(path: Path, networks: Sequence[FaultNetwork] = ()) -> str:
    """The settings that result from a file, as a file with what is known of each number.

    Raises
    ------
    SettingsFileError
        The file has problems; the error lists every one with its line.
    """
    found = check_settings(path, networks)
    if found.settings is None:
        raise SettingsFileError(shown_path(path), found.problems)
    desk = marked_text(path.read_text(encoding="utf-8"), PLACE).data.get(SECTION)
    text = settings_as_yaml(found.settings, found.front)
    return text if desk is None else f"{text}\n{write_yaml({SECTION: desk})}"


def settings_data(database: Database) -> dict[str, Any]:
    """The newest settings as data, in the order of their text.

    Opening hours are always there: whoever changes one day must not close the others.
    """
    text = settings_text(database)
    data = dict(marked_text(text, PLACE).data)
    if value_at(data, HOURS) is None:
        desk, _ = check_desk(text, PLACE)
        hours = {
            WEEKDAYS[day]: [f"{span.opens:%H:%M}-{span.closes:%H:%M}" for span in spans]
            for day, spans in desk.opening_hours.items()
        }
        _put(data, HOURS, hours)
    return data


def value_at(data: Mapping[str, Any], path: KeyPath) -> Any:
    """Entry of the settings, None if it is left out."""
    found: Any = data
    for key in path:
        found = found.get(key) if isinstance(found, dict) else None
    return found


def text_with(data: Mapping[str, Any], changes: Mapping[KeyPath, Any]) -> str:
    """Text of the settings with some entries changed; None leaves an entry out."""
    changed: dict[str, Any] = deepcopy(dict(data))
    for path, value in changes.items():
        _put(changed, path, value)
    return write_yaml({"format": 1, **changed})


def _put(data: dict[str, Any], path: Sequence[str], value: Any) -> None:
    *above, last = path
    levels = [data]
    for key in above:
        inner = levels[-1].get(key)
        if not isinstance(inner, dict):
            if value is None:
                return
            inner = levels[-1][key] = {}
        levels.append(inner)
    if value is None:
        levels[-1].pop(last, None)
    else:
        levels[-1][last] = value
    for level, key in reversed(list(zip(levels, above, strict=False))):
        if level[key] == {}:
            del level[key]


def _problem(text: str) -> Problem:
    found = PROBLEM.match(text)
    if found is None:
        return Problem(1, "", text)
    return Problem(int(found[1]), found[2] or "", found[3])
