"""Signs from the entries of the files: distributions, decision lists and masks."""

import math

from triage.network.file_format import SUM_TOLERANCE
from triage.network.files import Placed, StrengthEntry
from triage.network.report import Place
from triage.network.schema import SignEntry
from triage.network.scope import Scope
from triage.network.values import UNTESTABLE, Combination, Mask, Sign, TableRow

Distribution = tuple[float, ...]


def build_signs(scope: Scope) -> dict[str, Sign]:
    """Signs by id, with the causes that are stated elsewhere."""
    for level in scope.entries.levels.values():
        scope.provenance("strength", level.place, level.entry)
    _check_added_causes(scope)
    built = {}
    for name, entry in scope.entries.signs.items():
        sign = _sign(scope, name, entry.entry, entry.place)
        if sign is not None:
            built[name] = sign
    return built


def _check_added_causes(scope: Scope) -> None:
    """Check the causes that are stated apart from their sign; only numbers need a source there."""
    for sign, causes in scope.entries.causes.items():
        for mode, placed in causes.items():
            section = Place(file=placed.place.file, path=placed.place.path[:-1])
            scope.is_known("signs", sign, section)
            scope.is_known("modes", mode, placed.place)
            if _has_number(placed.entry):
                scope.provenance("strength", placed.place)


def _sign(scope: Scope, name: str, entry: SignEntry, place: Place) -> Sign | None:
    states = scope.states(name) or ()
    _check_states(scope, entry, place)
    masks = tuple(
        _mask(scope, entry, states, index, place.at("masked_by", index))
        for index in range(len(entry.masked_by))
    )
    causes = _causes(scope, name, entry, states, place)
    rows = _rows(scope, entry, states, place)
    if entry.leak is not None:
        leak = _distribution(scope, entry.leak, states, place.at("leak"))
    else:
        leak = rows[-1].then if rows else _distribution(scope, 0.0, states, place)
    provenance = scope.provenance("strength", place, entry)
    if leak is None or provenance is None:
        return None
    return Sign(
        id=name,
        title=entry.title,
        states=states,
        combination=Combination.NOISY_MAX if entry.rows is None else Combination.TABLE,
        leak=leak,
        causes=causes,
        rows=rows,
        masks=masks,
        provenance=provenance,
    )


def _check_states(scope: Scope, entry: SignEntry, place: Place) -> None:
    if UNTESTABLE in entry.states:
        scope.report.add(
            place.at("states"),
            got=f'the state "{UNTESTABLE}"',
            expected="it to be left out, it is added where a mask shows it",
        )
    if entry.rows is not None and entry.leak is not None:
        scope.report.add(
            place.at("leak"),
            got='a leak beside "rows"',
            expected="the last row, without `when`, to say what happens with nothing failed",
        )


def _mask(
    scope: Scope, entry: SignEntry, states: tuple[str, ...], index: int, place: Place
) -> Mask:
    mask = entry.masked_by[index]
    if scope.is_known("signs", mask.sign, place.at("sign")):
        masker_states = scope.states(mask.sign)
        for number, state in enumerate(mask.states if masker_states is not None else ()):
            scope.is_one_of(state, masker_states or (), place.at("states", number), "state")
    shown_states = states if UNTESTABLE in states else (*states, UNTESTABLE)
    scope.is_one_of(mask.shows, shown_states, place.at("shows"), "state")
    return Mask(masker=mask.sign, states=tuple(mask.states), shows=mask.shows)


def _causes(
    scope: Scope, name: str, entry: SignEntry, states: tuple[str, ...], place: Place
) -> dict[str, Distribution]:
    stated: dict[str, Placed[StrengthEntry]] = {}
    for mode, strength in entry.causes.items():
        stated[mode] = Placed(strength, place.at("causes", mode))
        scope.is_known("modes", mode, stated[mode].place)
    for mode, placed in scope.entries.causes.get(name, {}).items():
        if mode in stated:
            scope.report.add(
                placed.place,
                got=f'"{mode}" again',
                expected=f"it once (first at {stated[mode].place})",
            )
        stated.setdefault(mode, placed)
    if stated and entry.rows is not None:
        scope.report.add(
            next(iter(stated.values())).place,
            got='causes for a sign that has "rows"',
            expected="one of the two",
        )
    built = {}
    for mode, placed in stated.items():
        distribution = _distribution(scope, placed.entry, states, placed.place)
        if distribution is not None:
            built[mode] = distribution
    return built


def _rows(
    scope: Scope, entry: SignEntry, states: tuple[str, ...], place: Place
) -> tuple[TableRow, ...]:
    built = []
    rows = entry.rows or []
    for index, row in enumerate(rows):
        here = place.at("rows", index)
        is_last = index == len(rows) - 1
        if is_last != (row.when is None):
            got, expected = ("a `when`", "none in the last row") if is_last else (
                "no `when`", "one in every row but the last",
            )  # fmt: skip
            scope.report.add(here, got=got, expected=expected)
        scope.are_known("modes", row.when or (), here.at("when"))
        then = _distribution(scope, row.then, states, here.at("then"))
        if then is not None:
            built.append(TableRow(when=tuple(row.when or ()), then=then))
    return tuple(built)


def _distribution(
    scope: Scope, strength: StrengthEntry, states: tuple[str, ...], place: Place
) -> Distribution | None:
    """Distribution over ``states`` that a strength stands for; None if it has a problem.

    A single value is that of the worst state; the normal state has the rest unless it is stated.
    """
    declared = tuple(state for state in states if state != UNTESTABLE)
    named = strength if isinstance(strength, dict) else {declared[-1]: strength}
    values: dict[str, float] = {}
    for state, stated in named.items():
        here = place.at(state) if isinstance(strength, dict) else place
        value = scope.strength(stated, here)
        if scope.is_one_of(state, declared, here, "state") and value is not None:
            values[state] = value
    if len(values) < len(named):
        return None
    total, normal = math.fsum(values.values()), declared[0]
    is_whole = normal in values
    if (abs(total - 1) > SUM_TOLERANCE) if is_whole else (total > 1):
        expected = "1 within 1e-9" if is_whole else f'at most 1, the rest is "{normal}"'
        scope.report.add(place, got=f"values that sum to {total:.12g}", expected=expected)
        return None
    values.setdefault(normal, 1 - total)
    return tuple(values.get(state, 0.0) for state in states)


def _has_number(strength: StrengthEntry) -> bool:
    values = strength.values() if isinstance(strength, dict) else (strength,)
    return any(not isinstance(value, str) for value in values)
