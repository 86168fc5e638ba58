"""Sources and grades on the page of an appliance: who says so, and for how many numbers."""

from collections.abc import Iterable, Mapping

from triage.network.datasheet.markdown import broken, code, counted, section, table
from triage.network.values import (
    Context,
    FailureMode,
    FaultNetwork,
    Grade,
    Observation,
    Part,
    Provenance,
    Repair,
    SafetyFlag,
    Sign,
)

_Entry = Context | FailureMode | Sign | Observation | Repair | Part | SafetyFlag
Kind = tuple[str, str]  # plural, singular
LISTED = 6  # a longer list of entries is given as their number
GRADE_WORDS = {
    Grade.MEASURED: "measured",
    Grade.PUBLISHED: "published",
    Grade.JUDGED: "judged",
}


def sources_section(network: FaultNetwork) -> list[str]:
    """Sources with the entries that rest on them, by grade."""
    rows = (
        [
            broken([code(provenance.source), network.sources.get(provenance.source, "")]),
            _grade(provenance),
            broken(_entries(kind, one, names) for (kind, one), names in entries.items()),
        ]
        for provenance, entries in _by_provenance(network).items()
    )
    lines = [
        "A judged number says how many closed jobs the guess is worth: the shop's own jobs "
        "outweigh it once there are more of them.",
        "",
        *table(["source", "grade", "holds for"], rows),
    ]
    return section("Sources and grades", lines, "a published figure that contradicts one of these.")


def _by_provenance(network: FaultNetwork) -> Mapping[Provenance, Mapping[Kind, list[str]]]:
    found: dict[Provenance, dict[Kind, list[str]]] = {}
    for kind, name, provenance in provenances(network):
        found.setdefault(provenance, {}).setdefault(kind, []).append(name)
    return dict(sorted(found.items(), key=lambda item: (item[0].source, item[0].grade)))


def provenances(network: FaultNetwork) -> Iterable[tuple[Kind, str, Provenance]]:
    """Every entry of a network that has a provenance: its kind, its id, its provenance."""
    modes = {mode.id: mode for part in network.components.values() for mode in part.modes}
    groups: Mapping[Kind, Mapping[str, _Entry]] = {
        ("circumstances", "circumstance"): network.contexts,
        ("shares", "share"): modes,
        ("signs", "sign"): network.signs,
        ("ways to look", "way to look"): network.observations,
        ("repairs", "repair"): network.repairs,
        ("parts", "part"): network.parts,
        ("dangers", "danger"): network.safety_flags,
    }
    for kind, entries in groups.items():
        for name, entry in entries.items():
            yield kind, name, entry.provenance
    for pair in network.pairs:
        yield ("pairs", "pair"), " and ".join(pair.modes), pair.provenance


def _entries(many: str, one: str, names: list[str]) -> str:
    count = counted(len(names), one, many)
    if len(names) > LISTED:
        return count
    return f"{count}: {', '.join(map(code, names))}"


def _grade(provenance: Provenance) -> str:
    jobs = provenance.equivalent_sample_size
    worth = f", worth {jobs:g} jobs" if jobs is not None else ""
    return f"{GRADE_WORDS[provenance.grade]}{worth}"
