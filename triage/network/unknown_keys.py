"""Keys that an entry should not have, put right where the nearest name is clear."""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """A key that is not among ``known``; ``entry`` is the very object it was found in."""

    entry: dict[str, object]
    key: str
    known: tuple[str, ...]


def without_unknown_keys(
    entry: dict[str, object], known: Sequence[str], found: list[Unknown]
) -> dict[str, object]:
    """Entry with known keys only; unknown ones are added to ``found``.

    A key that is a misspelling of a name which is not there stands for that name, so that one slip
    is reported once and the value under it is checked all the same.
    """
    unknown = [key for key in entry if key not in known]
    if not unknown:
        return entry
    found.extend(Unknown(entry=entry, key=key, known=tuple(known)) for key in unknown)
    meant = {key: get_close_matches(key, known, n=1) for key in unknown}
    kept = {key: value for key, value in entry.items() if key not in meant}
    for key, names in meant.items():
        if names and names[0] not in kept:
            kept[names[0]] = entry[key]
    return kept
