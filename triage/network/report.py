"""Problems of network files, gathered with their places and told in one form.

``networks/washer.yaml:12: signs.flow.leak: got 1.2; expected at most 1.``
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from triage.errors import nearest
from triage.network.yaml_marks import KeyPath, MarkedFile, key_path

_ENTRY_DEPTH = 2  # section and name
_LISTED = 8  # names; more than that do not help at a glance


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """An entry of a file."""

    file: MarkedFile
    path: KeyPath = ()

    def at(self, *keys: str | int) -> "Place":
        """Place of something inside this entry."""
        return Place(file=self.file, path=(*self.path, *keys))

    @property
    def line(self) -> int:
        """Line from 1."""
        return self.file.line(self.path)

    def __str__(self) -> str:
        return f"{self.file.place}:{self.line}"


class Report:
    """Collects problems; ``problems`` gives them as lines, by file and line number."""

    def __init__(self) -> None:
        self._found: dict[str, tuple[str, int]] = {}
        self._muted: list[Place] = []

    def mute(self, places: Sequence[Place]) -> None:
        """Take no more problems at these places, inside them, or of the fields they belong to."""
        self._muted += places

    def add(
        self,
        place: Place,
        *,
        got: str,
        expected: str,
        name: str = "",
        known: Iterable[str] = (),
    ) -> None:
        """Add a problem; the name among ``known`` that is nearest to ``name`` is suggested."""
        self.add_text(place, f"got {got}; expected {expected}.{nearest(name, known)}")

    def add_text(self, place: Place, text: str) -> None:
        """Add a problem whose sentence is already made."""
        if any(_is_about(place, muted) for muted in self._muted):
            return
        path = f"{key_path(place.path)}: " if place.path else ""
        self.add_line(place.file, place.line, path + text)

    def add_line(self, file: MarkedFile, line: int, text: str) -> None:
        """Add a problem that has a line but no entry, such as a key that stands twice."""
        self._found.setdefault(f"{file.place}:{line}: {text}", (file.place, line))

    @property
    def problems(self) -> tuple[str, ...]:
        """Every problem as one line of text, in the order of the files' names and lines."""
        return tuple(sorted(self._found, key=self._found.__getitem__))


def _is_about(place: Place, muted: Place) -> bool:
    """Whether one of the places holds the other; a whole entry, such as a sign, does not count."""
    shared = min(len(place.path), len(muted.path))
    is_same_branch = place.path[:shared] == muted.path[:shared]
    return place.file is muted.file and is_same_branch and shared > _ENTRY_DEPTH


def quoted(names: Sequence[str]) -> str:
    """Names in quotes, as far as they can be taken in at a glance."""
    shown = ", ".join(f'"{name}"' for name in names[:_LISTED])
    return f"{shown} and {len(names) - _LISTED} more" if len(names) > _LISTED else shown


def shown(value: object) -> str:
    """Value of a file as a message shows it."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"' if value.strip() else "an empty text"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "a mapping"
    return repr(value)
