"""Parts, repairs and safety flags from the entries of the files."""

from triage.network.file_format import MINOR_UNITS
from triage.network.report import Place
from triage.network.schema import RepairEntry
from triage.network.scope import Scope
from triage.network.values import (
    OnVan,
    Part,
    Repair,
    RepairBy,
    SafetyClass,
    SafetyFlag,
)


def build_parts(scope: Scope) -> dict[str, Part]:
    """Parts by id, with costs in minor units."""
    built = {}
    for name, placed in scope.entries.parts.items():
        provenance = scope.provenance("cost", placed.place, placed.entry)
        if provenance is not None:
            low, high = placed.entry.cost
            built[name] = Part(
                id=name,
                title=placed.entry.title,
                cost=(round(low * MINOR_UNITS), round(high * MINOR_UNITS)),
                on_van=OnVan(placed.entry.on_van),
                provenance=provenance,
            )
    return built


def build_repairs(scope: Scope) -> dict[str, Repair]:
    """Repairs by id."""
    built = {}
    for name, placed in scope.entries.repairs.items():
        repair = _repair(scope, name, placed.entry, placed.place)
        if repair is not None:
            built[name] = repair
    return built


def _repair(scope: Scope, name: str, entry: RepairEntry, place: Place) -> Repair | None:
    scope.are_known("modes", entry.cures, place.at("cures"))
    scope.are_known("parts", entry.parts, place.at("parts"))
    scope.are_known("cautions", entry.cautions, place.at("cautions"))
    if RepairBy(entry.by) is RepairBy.CALLER and not entry.caller_steps.strip():
        scope.report.add(
            place.at("caller_steps"),
            got="nothing",
            expected="the sentence to say, for a repair by caller",
        )
    provenance = scope.provenance("repair", place, entry)
    if provenance is None:
        return None
    return Repair(
        id=name,
        title=entry.title,
        cures=tuple(entry.cures),
        by=RepairBy(entry.by),
        success=entry.success,
        minutes=entry.minutes,
        parts=tuple(entry.parts),
        cautions=tuple(entry.cautions),
        caller_steps=entry.caller_steps,
        provenance=provenance,
    )


def build_safety_flags(scope: Scope) -> dict[str, SafetyFlag]:
    """Safety flags by id."""
    built = {}
    for name, placed in scope.entries.safety.items():
        entry = placed.entry
        provenance = scope.provenance("safety", placed.place, entry)
        if provenance is not None:
            built[name] = SafetyFlag(
                id=name,
                title=entry.title,
                wording=entry.wording,
                safety_class=SafetyClass(entry.safety_class),
                script=entry.script,
                referral=entry.referral,
                phrases=tuple(entry.phrases),
                provenance=provenance,
            )
    return built
