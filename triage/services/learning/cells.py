"""Cells of a file of closed jobs: what they hold as values, and values as cells.

A reader of a cell gives its value or raises ``CellError`` with what was found, what was expected
and what to do about it.
"""

import math
from collections.abc import Collection, Mapping
from datetime import UTC, datetime, tzinfo
from enum import StrEnum
from typing import TypeVar

from triage.errors import nearest
from triage.services.closing.columns import split_items

LONGEST_NAME = 100
YES, NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")

Choice = TypeVar("Choice", bound=StrEnum)


class CellError(Exception):
    """A cell that cannot be read: what it holds, what was expected, what to do."""

    def __init__(self, got: str, expected: str, advice: str) -> None:
        self.got, self.expected, self.advice = got, expected, advice
        super().__init__(f'got "{got}"; expected {expected}. {advice}')


def read_text(cell: str, *, what: str, longest: int = LONGEST_NAME) -> str:
    """Text that is not longer than the store keeps it."""
    text = cell.strip()
    if len(text) > longest:
        raise CellError(f"{text[:20]}…", f"{what} of at most {longest} characters", "Shorten it.")
    return text


def needed(cell: str, *, what: str) -> str:
    """Text that has to be there."""
    text = read_text(cell, what=what)
    if not text:
        raise CellError("", what, "Fill the cell in, or leave the line out.")
    return text


def read_moment(cell: str, zone: tzinfo = UTC) -> datetime:
    """Day, or day and time; in ``zone`` where none is written, a day at noon.

    >>> read_moment("2026-03-02T14:30:00+01:00").isoformat()
    '2026-03-02T13:30:00+00:00'
    >>> read_moment("2026-03-02").isoformat()
    '2026-03-02T12:00:00+00:00'
    """
    text = cell.strip()
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise CellError(
            text, "a day as 2026-03-02, or with a time as 2026-03-02T14:30", "Write it that way."
        ) from None
    if len(text) <= len("2026-03-02"):
        found = found.replace(hour=12)
    return (found if found.tzinfo else found.replace(tzinfo=zone)).astimezone(UTC)


def read_number(cell: str, *, what: str, least: float = 0.0, most: float = 1e9) -> float:
    """Number within its limits; a comma may stand for the point.

    >>> read_number("12,5", what="minutes")
    12.5
    """
    text = cell.strip()
    written = text.replace(",", ".") if text.count(",") == 1 and "." not in text else text
    try:
        value = float(written)
    except ValueError:
        value = math.nan
    if not least <= value <= most:
        raise CellError(text, f"{what}, a number from {least:g} to {most:g}", "Correct the number.")
    return value


def read_whole(cell: str, *, what: str, least: int = 0, most: int = 1_000_000_000) -> int:
    """Whole number within its limits."""
    value = read_number(cell, what=what, least=least, most=most)
    if value != int(value):
        raise CellError(cell.strip(), f"{what}, a whole number", "Leave out what follows it.")
    return int(value)


def read_yes_or_no(cell: str) -> bool:
    """Yes or no; empty is no."""
    text = cell.strip().lower()
    if text and text not in (*YES, *NO):
        raise CellError(cell.strip(), "yes or no", "Write one of the two, or nothing.")
    return text in YES


def read_choice(cell: str, kind: type[Choice], *, what: str) -> Choice:
    """One of the words of a closed set, capitals and spaces aside."""
    text = cell.strip().lower().replace(" ", "_").replace("-", "_")
    known = [one.value for one in kind]
    if text not in known:
        words = ", ".join(word or "nothing" for word in known)
        raise CellError(cell.strip(), f"{what}: {words}", f"Choose one.{nearest(text, known)}")
    return kind(text)


def read_known(name: str, known: Collection[str], *, what: str) -> str:
    """Id that the network has."""
    if name not in known:
        raise CellError(name, what, f"Correct the id.{nearest(name, known)}")
    return name


def read_pairs(cell: str, *, what: str, example: str) -> tuple[tuple[str, str], ...]:
    """Names and values of a cell that holds several ``name=value``."""
    items = split_items(cell)
    for name, value in items:
        if not name or not value:
            shown = name or f"={value}"
            raise CellError(shown, f"{what} as {example}", 'Put "=" between the two.')
    return items


def numbers_by_name(
    cell: str, known: Collection[str], *, what: str, most: float
) -> Mapping[str, float]:
    """Numbers by the id they belong to."""
    found = {}
    for name, value in read_pairs(cell, what=what, example="name=number"):
        read_known(name, known, what=f"{what}: an id of the network")
        found[name] = read_number(value, what=what, most=most)
    return found


def number_text(value: float | None) -> str:
    """Number with as many digits as it takes to read it back; nothing for None.

    >>> number_text(35.0), number_text(0.1), number_text(None)
    ('35', '0.1', '')
    """
    if value is None:
        return ""
    return str(int(value)) if value == int(value) else repr(value)
