"""Contexts, components with their failure modes, and pairs, from the entries of the files."""

from triage.network.file_format import NOTHING_FAILED
from triage.network.files import Placed
from triage.network.report import Place
from triage.network.schema import ModeEntry, MultiplierEntry, ShareEntry, Sourced
from triage.network.scope import Scope
from triage.network.values import Component, ComponentKind, Context, FailureMode, Pair


def build_contexts(scope: Scope) -> dict[str, Context]:
    """Contexts by id."""
    built = {}
    for name, placed in scope.entries.contexts.items():
        entry = placed.entry
        provenance = scope.provenance("context", placed.place, entry)
        if provenance is not None:
            built[name] = Context(
                id=name,
                title=entry.title,
                values={value: item.title for value, item in entry.values.items()},
                probabilities=tuple(item.probability for item in entry.values.values()),
                provenance=provenance,
            )
    return built


def build_components(scope: Scope) -> dict[str, Component]:
    """Components by id, "nothing failed" last."""
    for placed in scope.entries.multiplier_sets.values():
        _check_multipliers(scope, placed.entry, placed.place)
    built = {}
    for name, component in scope.entries.components.items():
        if name == NOTHING_FAILED:
            scope.report.add(
                component.place,
                got=f'a component "{NOTHING_FAILED}"',
                expected=f'another name, or the top-level section "{NOTHING_FAILED}"',
            )
        modes = {
            mode: Placed(entry, component.place.at("modes", mode))
            for mode, entry in component.entry.modes.items()
        }
        kind = ComponentKind(component.entry.kind)
        built[name] = _component(scope, name, component.entry.title, kind, modes)
    modes = scope.entries.nothing_failed
    if modes:
        kind = ComponentKind.NOTHING_FAILED
        built[NOTHING_FAILED] = _component(scope, NOTHING_FAILED, "Nothing failed", kind, modes)
    return built


def build_pairs(scope: Scope) -> tuple[Pair, ...]:
    """Pairs in file order."""
    built = []
    first_places: dict[frozenset[str], Place] = {}
    for placed in scope.entries.pairs:
        first, second = placed.entry.modes
        scope.are_known("modes", (first, second), placed.place.at("modes"))
        _check_pair(scope, first, second, placed.place)
        earlier = first_places.setdefault(frozenset((first, second)), placed.place)
        if earlier is not placed.place:
            scope.report.add(
                placed.place.at("modes"),
                got=f'the pair "{first}" and "{second}" again',
                expected=f"it once (first at {earlier})",
            )
        provenance = scope.provenance("pair", placed.place, placed.entry)
        if provenance is not None:
            built.append(
                Pair(
                    modes=(first, second),
                    probability=placed.entry.probability,
                    provenance=provenance,
                )
            )
    return tuple(built)


def _component(
    scope: Scope, name: str, title: str, kind: ComponentKind, modes: dict[str, Placed[ModeEntry]]
) -> Component:
    built = [
        _mode(scope, f"{name}.{mode}", placed.entry, placed.place) for mode, placed in modes.items()
    ]
    known = tuple(mode for mode in built if mode is not None)
    return Component(id=name, title=title, kind=kind, modes=known)


def _mode(scope: Scope, mode_id: str, entry: ModeEntry, place: Place) -> FailureMode | None:
    multipliers = _multipliers(scope, entry, place)
    share = scope.entries.shares.get(mode_id)
    if share is None:
        return None
    own: list[Sourced] = [entry]
    value = share.entry
    if isinstance(value, ShareEntry):
        own.insert(0, value)
        value = value.value
    provenance = scope.provenance("share", share.place, *own, home=share.place)
    if provenance is None:
        return None
    return FailureMode(
        id=mode_id,
        title=entry.title,
        share=value,
        multipliers=multipliers,
        provenance=provenance,
    )


def _multipliers(scope: Scope, entry: ModeEntry, place: Place) -> dict[str, dict[str, float]]:
    """Factors by context and value; those of several sets on one value are multiplied."""
    factors: dict[str, dict[str, float]] = {}
    for index, multiplier in enumerate(entry.multipliers):
        here = place.at("multipliers", index)
        if isinstance(multiplier, str):
            scope.is_known("multiplier_sets", multiplier, here)
            placed = scope.entries.multiplier_sets.get(multiplier)
            if placed is None:
                continue
            multiplier = placed.entry
        else:
            _check_multipliers(scope, multiplier, here, entry)
        for value, factor in multiplier.values.items():
            held = factors.setdefault(multiplier.context, {})
            held[value] = held[value] * factor if value in held else factor
    return factors


def _check_multipliers(scope: Scope, entry: MultiplierEntry, place: Place, *outer: Sourced) -> None:
    scope.provenance("multiplier", place, entry, *outer)
    if not scope.is_known("contexts", entry.context, place.at("context")):
        return
    values = scope.context_values(entry.context)
    for value in entry.values if values is not None else ():
        scope.is_one_of(value, values or (), place.at("values", value), "value")


def _check_pair(scope: Scope, first: str, second: str, place: Place) -> None:
    components = [mode.split(".")[0] for mode in (first, second)]
    if NOTHING_FAILED in components:
        got = f'a mode of "{NOTHING_FAILED}", which excludes every failure'
    elif components[0] == components[1]:
        got = f'two modes of "{components[0]}", which exclude each other'
    else:
        return
    scope.report.add(place.at("modes"), got=got, expected="modes of two different components")
