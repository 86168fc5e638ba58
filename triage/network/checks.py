"""Checks of a network as a whole: shares, coverage, circles, the numbers at its head."""

import math
from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter

from triage.network.file_format import SUM_TOLERANCE, UNRECORDED
from triage.network.report import Place
from triage.network.schema import ShareEntry, StatedNumber
from triage.network.scope import Scope


def check_network(scope: Scope) -> None:
    """Check what only a whole network can be checked for."""
    _check_head(scope)
    _check_shares(scope)
    _check_coverage(scope)


def check_circles(scope: Scope) -> None:
    """Check that no sign masks itself, directly or by way of others."""
    maskers = {
        name: [mask.sign for mask in placed.entry.masked_by]
        for name, placed in scope.entries.signs.items()
    }
    while True:
        try:
            TopologicalSorter(maskers).prepare()
        except CycleError as error:
            circle: list[str] = error.args[1]
            start = scope.entries.signs[circle[-1]].place.at("masked_by")
            scope.report.add(
                start,
                got=f"masks in a circle: {' masks '.join(circle)}",
                expected="an order in which each sign is masked by others only",
            )
            maskers[circle[-1]] = []
        else:
            return


def _check_head(scope: Scope) -> None:
    header, root = scope.entries.header, scope.entries.root
    if header is None:
        return
    for name in ("expected_failed_modes", "conflict_threshold_bits"):
        number: StatedNumber = getattr(header, name)
        if number.source != UNRECORDED:
            scope.provenance(name, root.at(name), number)
    if header.expected_failed_modes.value < 1:
        scope.report.add(
            root.at("expected_failed_modes", "value"),
            got=f"{header.expected_failed_modes.value:g}",
            expected="at least 1, it is the mean given that something failed",
        )
    if header.verification is not None:
        scope.is_known("observations", header.verification, root.at("verification"))


def _check_shares(scope: Scope) -> None:
    shares, modes = scope.entries.shares, scope.entries.names("modes")
    for mode, placed in shares.items():
        scope.is_known("modes", mode, placed.place)
    if scope.is_partial:
        return
    stated = scope.entries.names("shares")
    for mode, place in modes.items():
        if mode not in stated:
            scope.report.add(place, got=f'no share of "{mode}"', expected="one under shares")
    if len(shares) < len(stated):
        return  # the sum of what is left says nothing
    values = (
        placed.entry.value if isinstance(placed.entry, ShareEntry) else placed.entry
        for placed in shares.values()
    )
    total = math.fsum(values)
    if abs(total - 1) > SUM_TOLERANCE:
        first = next(iter(shares.values()), None)
        place = first.place if first else scope.entries.root
        section = Place(file=place.file, path=("shares",))
        scope.report.add(section, got=f"shares that sum to {total:.12g}", expected="1 within 1e-9")


def _check_coverage(scope: Scope) -> None:
    """Check that each mode shows and is cured, and each sign is caused and looked at."""
    if scope.is_partial:
        return
    entries = scope.entries
    modes, signs = entries.names("modes"), entries.names("signs")
    caused_by = {sign: _causes(scope, sign) for sign in signs}
    cured = {mode for repair in entries.repairs.values() for mode in repair.entry.cures}
    observed = {look.entry.sign for look in entries.observations.values() if look.entry.sign}
    shown = {mode for causes in caused_by.values() for mode in causes}
    _check_each(scope, modes, shown, "no sign that depends on it", "at least one")
    _check_each(scope, modes, cured, "no repair that cures it", "at least one")
    caused = {sign for sign, causes in caused_by.items() if causes}
    _check_each(scope, signs, caused, "no failure mode that causes it", "at least one")
    _check_each(scope, signs, observed, "no observation of it", "at least one")


def _causes(scope: Scope, sign: str) -> set[str]:
    """Modes a sign depends on."""
    placed = scope.entries.signs.get(sign)
    causes = set(scope.entries.causes.get(sign, ()))
    if placed is not None:
        causes |= set(placed.entry.causes)
        causes |= {mode for row in placed.entry.rows or () for mode in row.when or ()}
    return causes


def _check_each(
    scope: Scope, places: Mapping[str, Place], covered: Iterable[str], got: str, expected: str
) -> None:
    """Report what is not covered, unless an entry that could not be read mentions it."""
    done = {*covered, *scope.entries.mentioned}
    for name, place in places.items():
        if name not in done:
            scope.report.add(place, got=got, expected=expected)
