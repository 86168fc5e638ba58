"""Names and sources as seen from an entry: what a name stands for, where a number comes from."""

from collections.abc import Sequence

from triage.network.files import Entries
from triage.network.report import Place, Report, quoted
from triage.network.schema import Sourced
from triage.network.values import UNTESTABLE, Grade, Provenance

_THINGS = {
    "sources": "source",
    "levels": "level",
    "multiplier_sets": "multiplier set",
    "answer_sets": "answer set",
    "reliabilities": "reliability",
    "contexts": "context",
    "modes": "failure mode",
    "signs": "sign",
    "observations": "observation",
    "parts": "part",
    "preconditions": "precondition",
    "cautions": "caution",
}


class Scope:
    """Look-ups over the entries of a network; what is not found goes to the report.

    ``is_partial`` holds for a fragment on its own and for a network of which something could not
    be read: a name that is not found may well be defined elsewhere and is no problem then.
    """

    def __init__(self, entries: Entries, report: Report) -> None:
        self.entries = entries
        self.report = report
        self.is_partial = entries.is_fragment or not entries.is_complete

    def is_known(self, section: str, name: str, place: Place) -> bool:
        """Whether the section has that name; says so if it should."""
        known = self.entries.names(section)
        if name in known:
            return True
        if not self.is_partial:
            thing = _THINGS[section]
            self.report.add(
                place,
                got=f'unknown {thing} "{name}"',
                expected=f"one that is defined under {_section_title(section)}",
                name=name,
                known=known,
            )
        return False

    def are_known(self, section: str, names: Sequence[str], place: Place) -> None:
        """Check a list of names."""
        for index, name in enumerate(names):
            self.is_known(section, name, place.at(index))

    def is_one_of(self, name: str, allowed: Sequence[str], place: Place, thing: str) -> bool:
        """Whether a name is among those allowed here; says so if not."""
        if name in allowed:
            return True
        self.report.add(
            place,
            got=f'unknown {thing} "{name}"',
            expected=f"one of {quoted(allowed)}",
            name=name,
            known=allowed,
        )
        return False

    def states(self, sign: str) -> tuple[str, ...] | None:
        """States of a sign, ``untestable`` last if a mask shows it; None if it is not readable."""
        placed = self.entries.signs.get(sign)
        if placed is None:
            return None
        shows = {mask.shows for mask in placed.entry.masked_by}
        return (*placed.entry.states, *([UNTESTABLE] if UNTESTABLE in shows else []))

    def context_values(self, context: str) -> tuple[str, ...] | None:
        """Values of a context; None if it is not readable."""
        placed = self.entries.contexts.get(context)
        return None if placed is None else tuple(placed.entry.values)

    def provenance(
        self, kind: str, place: Place, *own: Sourced, home: Place | None = None
    ) -> Provenance | None:
        """Where the numbers of an entry come from.

        The first of ``own`` that states a field decides it, then the default for ``kind`` in the
        file of ``home`` (the file in which the number stands, that of ``place`` unless told).
        """
        key = ((home or place).file.place, kind)
        default = self.entries.defaults.get(key)
        stated: list[Sourced] = [*own, *([default.entry] if default else [])]
        source = next((entry.source for entry in stated if entry.source), None)
        grade = next((entry.grade for entry in stated if entry.grade), None)
        if key in self.entries.bad_defaults and (source is None or grade is None):
            return None  # the default itself has been reported
        if source is None or grade is None:
            lacking = [name for name, it in (("source", source), ("grade", grade)) if it is None]
            self.report.add(
                place,
                got=f"no {' and no '.join(lacking)} for its numbers",
                expected=f'"source" and "grade" here or under "provenance: {kind}"',
            )
            return None
        if any(entry.source == source for entry in own):
            self.is_known("sources", source, place.at("source"))
        sizes = (e.equivalent_sample_size for e in stated if e.grade in (None, grade))
        return self._graded(place, source, grade, next((size for size in sizes if size), None))

    def check_defaults(self) -> None:
        """Check the defaults of the files, and take a bad one out, so that it is told once."""
        for key, placed in list(self.entries.defaults.items()):
            entry = placed.entry
            self.is_known("sources", entry.source, placed.place.at("source"))
            size = entry.equivalent_sample_size
            if self._graded(placed.place, entry.source, entry.grade, size) is None:
                del self.entries.defaults[key]
                self.entries.bad_defaults.add(key)

    def strength(self, value: float | str, place: Place) -> float | None:
        """Return the number a strength stands for; None if its level is not readable."""
        if not isinstance(value, str):
            return value
        self.is_known("levels", value, place)
        level = self.entries.levels.get(value)
        return None if level is None else level.entry.value

    def _graded(
        self, place: Place, source: str, grade: str, size: float | None
    ) -> Provenance | None:
        if grade == Grade.JUDGED and size is None:
            self.report.add(
                place,
                got='grade "judged" without equivalent_sample_size',
                expected="how many closed jobs the guess is worth",
            )
            return None
        return Provenance(source=source, grade=Grade(grade), equivalent_sample_size=size)


def _section_title(section: str) -> str:
    return '"components" or "nothing_failed"' if section == "modes" else f'"{section}"'
