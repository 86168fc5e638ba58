"""Ids that were renamed or retired since a job was closed: the table, and jobs read through it.

Identifiers of a network are stable, but a cause may be split or a question dropped. The table
``networks/renames/renames.yaml`` (networks/README.md) tells what became of such an id. An entry is
applied only where the network at hand does not know the id: a job from before the change and a
network from after it. Entries are followed one after the other, so two changes in a row are found.

>>> table = RenameTable((Rename("cause", "lint.full", "lint_filter.blocked", "any", "", "split"),))
>>> table.find("cause", "lint.full", "gas_dryer", known=["lint_filter.blocked"])
'lint_filter.blocked'
>>> table.find("cause", "lint.gone", "gas_dryer", known=["lint_filter.blocked"]) is None
True
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from triage.errors import RenamesFileError
from triage.network.shipped import shipped_folder, shown_path
from triage.network.yaml_marks import MarkedFile, read_marked

KINDS = ("observation", "answer", "cause", "repair", "part")
ANY = "any"
RETIRED = ""
KEYS = {"kind", "of", "from", "to", "network", "reason"}
NEEDED = {"kind", "from", "to", "reason"}


@dataclass(frozen=True, slots=True)
class Rename:
    """An id and what became of it; ``new`` is empty if nothing did.

    ``network`` is ``any`` where it holds for each. ``of`` is the observation of an answer, else
    empty.
    """

    kind: str
    old: str
    new: str
    network: str
    of: str
    reason: str


@dataclass(frozen=True, slots=True)
class RenameTable:
    """Every rename, in the order in which they were made."""

    renames: tuple[Rename, ...] = ()

    def find(
        self, kind: str, name: str, network: str, *, known: Collection[str], of: str = ""
    ) -> str | None:
        """Id under which a network knows a name, ``RETIRED``, or None if the table has no word.

        Parameters
        ----------
        kind : str
            One of ``KINDS``.
        name : str
        network : str
        known : collection of str
            Ids that the network has; a name among them is itself.
        of : str
            For an answer, the observation under its present id.
        """
        seen: set[str] = set()
        while name not in known:
            step = self._step(kind, name, network, of)
            if step is None or step.new in seen:
                return None
            if step.new == RETIRED:
                return RETIRED
            seen.add(name)
            name = step.new
        return name

    def _step(self, kind: str, name: str, network: str, of: str) -> Rename | None:
        for entry in self.renames:
            fits = (entry.kind, entry.old, entry.of) == (kind, name, of)
            if fits and entry.network in (ANY, network):
                return entry
        return None


@cache
def shipped_renames() -> RenameTable:
    """Table that came with the program."""
    return read_renames(shipped_folder() / "renames" / "renames.yaml")


def read_renames(path: Path) -> RenameTable:
    """Read a table.

    Raises
    ------
    RenamesFileError
        The file has problems; the error lists every one with its line.
    """
    marked = read_marked(path, shown_path(path))
    problems = [f"{marked.place}:{line}: {text}." for line, text in marked.problems]
    data = marked.data
    if marked.is_sound:
        if data.get("format") != 1:
            problems.append(_problem(marked, ("format",), "format", data.get("format"), "1"))
        for key in sorted(set(data) - {"format", "renames"}):
            problems.append(_problem(marked, (key,), "unknown key", key, "format and renames"))
    listed = data.get("renames", [])
    if not isinstance(listed, list):
        problems.append(_problem(marked, ("renames",), "renames", listed, "a list of mappings"))
        listed = []
    found: list[Rename] = []
    for place, raw in enumerate(listed):
        entry = _rename(marked, place, raw, problems)
        if entry is not None:
            problems += _twice(marked, place, entry, found)
            found.append(entry)
    if problems:
        raise RenamesFileError(problems)
    return RenameTable(tuple(found))


def _rename(marked: MarkedFile, place: int, raw: object, problems: list[str]) -> Rename | None:
    at = ("renames", place)
    if not isinstance(raw, dict):
        problems.append(_problem(marked, at, "entry", raw, "a mapping (kind, from, to, reason)"))
        return None
    before = len(problems)
    for key in sorted(set(raw) - KEYS):
        problems.append(_problem(marked, (*at, key), "unknown key", key, ", ".join(sorted(KEYS))))
    for key in sorted(NEEDED - set(raw)):
        problems.append(_problem(marked, at, f"no {key}", None, f"the key {key}"))
    for key, value in raw.items():
        if key == "to" and value is None:
            continue
        if key in KEYS and (not isinstance(value, str) or not value):
            problems.append(_problem(marked, (*at, key), key, value, "a text"))
    if len(problems) == before:
        problems += _contradictions(marked, at, raw)
    if len(problems) > before:
        return None
    return Rename(
        kind=raw["kind"],
        old=raw["from"],
        new=raw["to"] or RETIRED,
        network=raw.get("network", ANY),
        of=raw.get("of", ""),
        reason=raw["reason"],
    )


def _contradictions(marked: MarkedFile, at: tuple[str, int], raw: Mapping[str, str]) -> list[str]:
    problems = []
    if raw["kind"] not in KINDS:
        problems.append(_problem(marked, (*at, "kind"), "kind", raw["kind"], ", ".join(KINDS)))
    if (raw["kind"] == "answer") != ("of" in raw):
        wanted = '"of" with an answer, and with nothing else'
        problems.append(_problem(marked, at, "of", raw.get("of"), wanted))
    if raw["from"] == raw["to"]:
        problems.append(_problem(marked, (*at, "to"), "to", raw["to"], "another id than from"))
    return problems


def _twice(marked: MarkedFile, place: int, entry: Rename, earlier: list[Rename]) -> list[str]:
    key = (entry.kind, entry.old, entry.of)
    for one in earlier:
        overlaps = ANY in (one.network, entry.network) or one.network == entry.network
        if (one.kind, one.old, one.of) == key and overlaps:
            return [_problem(marked, ("renames", place), "from", entry.old, "each id once")]
    return []


def _problem(
    marked: MarkedFile, path: tuple[str | int, ...], what: str, got: object, expected: str
) -> str:
    shown = "nothing" if got is None else f'"{got}"'
    return f"{marked.place}:{marked.line(path)}: {what}: got {shown}; expected {expected}."
