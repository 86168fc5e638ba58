"""Reads a network file or fragment with everything it includes, entry by entry.

Each entry is validated by itself, so that one bad entry hides no other. What could not be read
is still *known* (its name is taken) and what it mentions counts as mentioned, so that one slip
does not raise a trail of further problems.
"""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any, Generic, TypeVar, cast

from pydantic import TypeAdapter, ValidationError

from triage.network.file_format import NOTHING_FAILED
from triage.network.mending import mended
from triage.network.messages import add_unknown_keys, add_validation_problems
from triage.network.report import Place, Report, shown
from triage.network.schema import (
    SECTION_NAMES,
    ComponentEntry,
    ContextEntry,
    FragmentFile,
    LevelEntry,
    ModeEntry,
    MultiplierEntry,
    NetworkFile,
    ObservationEntry,
    PairEntry,
    PartEntry,
    ProvenanceEntry,
    ReliabilityEntry,
    RepairEntry,
    SafetyEntry,
    Sections,
    ShareEntry,
    SignEntry,
)
from triage.network.shipped import shipped_folder, shown_path
from triage.network.unknown_keys import Unknown, without_unknown_keys
from triage.network.yaml_marks import KeyPath, MarkedFile, marked_text, read_marked

T = TypeVar("T")
StrengthEntry = float | str | dict[str, float | str]


@dataclass(frozen=True, slots=True)
class Placed(Generic[T]):
    """A valid entry and where it stands."""

    entry: T
    place: Place


@dataclass(slots=True, kw_only=True)
class Entries:
    """Valid entries of a file and of everything it includes, in reading order.

    ``known`` holds every name of a section with its place, that of bad entries too (failure modes
    under ``modes``); ``mentioned`` every word of the bad entries; ``defaults`` the provenance of
    each file, by the file's place and the kind of number. ``is_complete`` is false if a file or a
    section could not be read, so that a name not found may well exist.
    """

    root: Place
    is_fragment: bool = False
    is_complete: bool = True
    header: NetworkFile | None = None
    known: dict[str, dict[str, Place]] = field(default_factory=dict)
    mentioned: set[str] = field(default_factory=set)
    defaults: dict[tuple[str, str], Placed[ProvenanceEntry]] = field(default_factory=dict)
    bad_defaults: set[tuple[str, str]] = field(default_factory=set)
    sources: dict[str, Placed[str]] = field(default_factory=dict)
    levels: dict[str, Placed[LevelEntry]] = field(default_factory=dict)
    multiplier_sets: dict[str, Placed[MultiplierEntry]] = field(default_factory=dict)
    answer_sets: dict[str, Placed[dict[str, str]]] = field(default_factory=dict)
    reliabilities: dict[str, Placed[ReliabilityEntry]] = field(default_factory=dict)
    contexts: dict[str, Placed[ContextEntry]] = field(default_factory=dict)
    components: dict[str, Placed[ComponentEntry]] = field(default_factory=dict)
    nothing_failed: dict[str, Placed[ModeEntry]] = field(default_factory=dict)
    shares: dict[str, Placed[float | ShareEntry]] = field(default_factory=dict)
    pairs: list[Placed[PairEntry]] = field(default_factory=list)
    signs: dict[str, Placed[SignEntry]] = field(default_factory=dict)
    causes: dict[str, dict[str, Placed[StrengthEntry]]] = field(default_factory=dict)
    observations: dict[str, Placed[ObservationEntry]] = field(default_factory=dict)
    repairs: dict[str, Placed[RepairEntry]] = field(default_factory=dict)
    parts: dict[str, Placed[PartEntry]] = field(default_factory=dict)
    safety: dict[str, Placed[SafetyEntry]] = field(default_factory=dict)
    preconditions: dict[str, Placed[str]] = field(default_factory=dict)
    cautions: dict[str, Placed[str]] = field(default_factory=dict)

    def names(self, section: str) -> dict[str, Place]:
        """Every name of a section with its place, that of bad entries too."""
        return self.known.setdefault(section, {})


def read_entries(path: Path, report: Report, text: str | None = None) -> Entries:
    """Read a file and what it includes; what is wrong goes to ``report``.

    With ``text`` that is read in place of the file.
    """
    reader = _Reader(path, report, text)
    reader.read(path, None)
    return reader.entries


class _Reader:
    """Reads files depth first, so that what is included comes before what includes it."""

    def __init__(self, path: Path, report: Report, text: str | None) -> None:
        self.report = report
        self.text = text
        self.entries = Entries(root=Place(file=MarkedFile(path=path, place=shown_path(path))))
        is_fragment = path.parent.name == "fragments"
        own = path.parent if is_fragment else path.parent / "fragments"
        self.folders = (own, shipped_folder() / "fragments")
        self.read_names = {path.stem} if is_fragment else set()

    def read(self, path: Path, included_as: str | None) -> None:
        marked = self._marked(path, included_as)
        for line, problem in marked.problems:
            self.report.add_line(marked, line, f"{problem}.")
        place = Place(file=marked)
        if included_as is None:
            self.entries.root = place
            self.entries.is_fragment = "fragment" in marked.data
        if not marked.is_sound:
            self.entries.is_complete = False
            return
        unknown: list[Unknown] = []
        model = self._model(place, included_as)
        names = tuple(model.model_fields)
        data = without_unknown_keys(marked.data, names, unknown)
        add_unknown_keys(self.report, place, marked.data, unknown)
        header = self._header(place, data, model)
        for name in _included(data):
            self._include(name, place)
        if included_as is None and isinstance(header, NetworkFile):
            self.entries.header = header
        for section in SECTION_NAMES:
            if section in data:
                self._section(place.at(section), section, data[section])

    def _marked(self, path: Path, included_as: str | None) -> MarkedFile:
        if included_as is None and self.text is not None:
            return replace(marked_text(self.text, shown_path(path)), path=path)
        return read_marked(path, shown_path(path))

    def _model(self, place: Place, included_as: str | None) -> type[NetworkFile | FragmentFile]:
        data = place.file.data
        kinds = [kind for kind in ("network", "fragment") if kind in data]
        if included_as is not None and kinds != ["fragment"]:
            self.report.add(place, got="no fragment", expected=f'"fragment: {included_as}"')
        elif len(kinds) != 1:
            got = 'both "network" and "fragment"' if kinds else 'neither "network" nor "fragment"'
            self.report.add(place, got=got, expected="one of them")
        return NetworkFile if "network" in kinds else FragmentFile

    def _header(
        self, place: Place, data: dict[str, Any], model: type[NetworkFile | FragmentFile]
    ) -> NetworkFile | FragmentFile | None:
        raw = {key: value for key, value in data.items() if key not in SECTION_NAMES}
        kind = "network" if model is NetworkFile else "fragment"
        stem = place.file.path.stem
        if isinstance(raw.get(kind), str) and raw[kind] != stem:
            self.report.add(
                place.at(kind), got=shown(raw[kind]), expected=f'"{stem}", the name of the file'
            )
        unknown: list[Unknown] = []
        header: NetworkFile | FragmentFile | None = None
        try:
            header = model.model_validate(raw, context=unknown)
        except ValidationError as error:
            report = self.report if kind in raw else Report()  # a file of no kind is told already
            bad_paths = add_validation_problems(report, place, error)
            with suppress(ValidationError):
                header = model.model_validate(mended(raw, bad_paths), context=[])
        add_unknown_keys(self.report, place, raw, unknown)
        return header

    def _include(self, name: str, place: Place) -> None:
        if name in self.read_names:
            return
        self.read_names.add(name)
        for folder in self.folders:
            path = folder / f"{name}.yaml"
            if path.is_file():
                self.read(path, name)
                return
        known = [found.stem for folder in self.folders for found in sorted(folder.glob("*.yaml"))]
        self.entries.is_complete = False
        self.report.add(
            place.at("include"),
            got=f'unknown fragment "{name}"',
            expected=f"a file {name}.yaml in {' or '.join(map(shown_path, self.folders))}",
            name=name,
            known=known,
        )

    def _section(self, place: Place, section: str, raw: object) -> None:
        is_list = section == "pairs"
        if not isinstance(raw, list if is_list else dict):
            expected = "a list" if is_list else "a mapping (key: value)"
            self.report.add(place, got=shown(raw), expected=expected)
            self.entries.is_complete = False
            return
        items = enumerate(cast(list[object], raw)) if is_list else cast(dict[str, Any], raw).items()
        for key, value in items:
            self._entry(place, section, key, value)

    def _entry(self, place: Place, section: str, key: str | int, raw: object) -> None:
        unknown: list[Unknown] = []
        try:
            entry = _validated(section, key, raw, unknown)
        except ValidationError as error:
            bad_paths = add_validation_problems(self.report, place, error, first=key)
            self.entries.mentioned.update(_words({str(key): raw}))
            self.report.mute([place.at(*path) for path in bad_paths])
            entry = _validated_if_mended(section, key, raw, [path[1:] for path in bad_paths])
        add_unknown_keys(self.report, place.at(key), raw, unknown)
        self._keep(place.at(key), section, key, entry, raw)

    def _keep(self, place: Place, section: str, key: str | int, entry: Any, raw: object) -> None:
        if section == "pairs":
            self.entries.pairs += [Placed(entry, place)] if entry is not None else []
        elif section == "provenance":
            self._keep_default(place, str(key), entry)
        elif section == "causes":
            self._keep_causes(place, str(key), entry or {})
        elif self._is_new(place, section, str(key)):
            self._learn_modes(place, section, str(key), raw)
            if entry is not None:
                getattr(self.entries, section)[key] = Placed(entry, place)

    def _keep_default(self, place: Place, kind: str, entry: ProvenanceEntry | None) -> None:
        key = (place.file.place, kind)
        if entry is None:
            self.entries.bad_defaults.add(key)
        else:
            self.entries.defaults[key] = Placed(entry, place)

    def _keep_causes(self, place: Place, sign: str, causes: dict[str, StrengthEntry]) -> None:
        kept = self.entries.causes.setdefault(sign, {})
        for mode, strength in causes.items():
            first = kept.get(mode)
            if first is not None:
                self._add_twice(place.at(mode), mode, first.place)
            else:
                kept[mode] = Placed(strength, place.at(mode))

    def _is_new(self, place: Place, section: str, name: str) -> bool:
        names = self.entries.names(section)
        if name in names:
            self._add_twice(place, name, names[name])
            return False
        names[name] = place
        return True

    def _add_twice(self, place: Place, name: str, first: Place) -> None:
        self.report.add(place, got=f'"{name}" again', expected=f"it once (first at {first})")

    def _learn_modes(self, place: Place, section: str, name: str, raw: Any) -> None:
        modes = self.entries.names("modes")
        if section == NOTHING_FAILED:
            modes[f"{NOTHING_FAILED}.{name}"] = place
        if section == "components" and isinstance(raw, dict):
            listed = raw.get("modes")
            for mode in listed if isinstance(listed, dict) else ():
                modes[f"{name}.{mode}"] = place.at("modes", mode)


@cache
def _adapter(section: str) -> TypeAdapter[Any]:
    """Return the validator of a section; one takes longer to build than to use a hundred times."""
    annotation: Any = Sections.model_fields[section].annotation
    return TypeAdapter(annotation)


def _validated(section: str, key: str | int, raw: object, unknown: list[Unknown]) -> Any:
    is_list = section == "pairs"
    alone: object = [raw] if is_list else {key: raw}
    return _adapter(section).validate_python(alone, context=unknown)[0 if is_list else key]


def _validated_if_mended(
    section: str, key: str | int, raw: object, bad_paths: list[KeyPath]
) -> Any | None:
    """Return the entry without what is wrong with it; None if too little is left."""
    try:
        return _validated(section, key, mended(raw, bad_paths), [])
    except ValidationError:
        return None


def _included(data: dict[str, Any]) -> list[str]:
    """Names to include, as far as they are names; the header's own check tells the rest."""
    listed = data.get("include")
    return [name for name in listed if isinstance(name, str)] if isinstance(listed, list) else []


def _words(raw: object) -> Iterator[str]:
    """Every text in the data of an entry, keys included."""
    if isinstance(raw, str):
        yield raw
    elif isinstance(raw, dict):
        for key, value in raw.items():
            yield key
            yield from _words(value)
    elif isinstance(raw, list):
        for item in raw:
            yield from _words(item)
