"""pydantic's errors in the words of this project: got what, expected what, at which entry."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from triage.network.file_format import LEAST
from triage.network.report import Place, Report, quoted, shown
from triage.network.schema_types import (
    CHOICE,
    CURRENCY_CODE,
    MODE_NAME,
    NOT_BLANK,
    RULE,
    SNAKE_CASE,
    SOURCE_KEY,
)
from triage.network.unknown_keys import Unknown
from triage.network.yaml_marks import KeyPath

_PATTERNS = {
    SNAKE_CASE: "a snake_case name",
    MODE_NAME: "a failure mode, component.mode",
    SOURCE_KEY: "a source key of letters, digits and _",
    CURRENCY_CODE: "an ISO 4217 code such as USD",
    NOT_BLANK: "text",
}
_TYPES = {
    "string_type": "text",
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "finite_number": "a finite number",
    "dict_type": "a mapping (key: value)",
    "model_type": "a mapping (key: value)",
    "list_type": "a list",
}
_BOUNDS = {
    "greater_than_equal": ("at least", "ge"),
    "greater_than": ("more than", "gt"),
    "less_than_equal": ("at most", "le"),
    "less_than": ("less than", "lt"),
}


def add_validation_problems(
    report: Report, place: Place, error: ValidationError, first: str | int | None = None
) -> list[KeyPath]:
    """Add every error that pydantic found at ``place``; ``first`` replaces the first key.

    Returns the paths of the errors, from ``place``.
    """
    paths = []
    for detail in error.errors(include_url=False):
        path = tuple(key for key in detail["loc"] if not _is_tag(key))
        if first is not None:
            path = (first, *path[1:])
        paths.append(path)
        if detail["type"] == "missing":
            name = str(path[-1])
            report.add(place.at(*path[:-1]), got=f'no "{name}"', expected=f'a value for "{name}"')
        elif detail["type"] == RULE:
            report.add_text(place.at(*path), f"{detail['msg']}.")
        else:
            report.add(
                place.at(*path),
                got=shown(detail["input"]),
                expected=_expected(detail),
                name=str(detail["input"]),
                known=_allowed(detail),
            )
    return paths


def add_unknown_keys(report: Report, place: Place, raw: object, unknown: Sequence[Unknown]) -> None:
    """Add the unknown keys found in ``raw``, the plain data of the entry at ``place``."""
    if not unknown:
        return
    paths = dict(_paths(raw, ()))
    for found in unknown:
        report.add(
            place.at(*paths[id(found.entry)], found.key),
            got=f'unknown key "{found.key}"',
            expected=f"one of {quoted(found.known)}",
            name=found.key,
            known=found.known,
        )


def _paths(raw: object, path: KeyPath) -> list[tuple[int, KeyPath]]:
    """Identity and path of every mapping in ``raw``."""
    if isinstance(raw, list):
        return [pair for index, item in enumerate(raw) for pair in _paths(item, (*path, index))]
    if not isinstance(raw, dict):
        return []
    inner = [pair for key, value in raw.items() for pair in _paths(value, (*path, key))]
    return [(id(raw), path), *inner]


def _is_tag(key: str | int) -> bool:
    return isinstance(key, str) and (key == "[key]" or (key[:1] == "<" and key[-1:] == ">"))


def _allowed(detail: ErrorDetails) -> list[str]:
    """Words that a closed set allows, so that the nearest can be suggested."""
    if detail["type"] != "literal_error":
        return []
    return re.findall(r"'([^']*)'", detail["ctx"]["expected"])


def _expected(detail: ErrorDetails) -> str:
    kind = detail["type"]
    context: Mapping[str, Any] = detail.get("ctx", {})
    if kind == CHOICE:
        return detail["msg"]
    if kind in _TYPES:
        return _TYPES[kind]
    if kind in _BOUNDS:
        words, key = _BOUNDS[kind]
        return _bound(words, context[key])
    if kind == "string_pattern_mismatch":
        return _PATTERNS[context["pattern"]]
    if kind == "literal_error":
        allowed = str(context["expected"]).replace("'", '"')
        return f"one of {allowed}" if " or " in allowed else allowed
    if kind in ("too_short", "too_long"):
        limit = context["min_length"] if kind == "too_short" else context["max_length"]
        return f"{'at least' if kind == 'too_short' else 'at most'} {limit}"
    return f"something else ({detail['msg']})"


def _bound(words: str, limit: float) -> str:
    if limit in (LEAST, 1 - LEAST):
        return "a value in [1e-6, 1-1e-6]; zero and one freeze learning"
    return f"{words} {limit:g}"
