"""Causes on the page of an appliance: shares, circumstances, pairs."""

from collections.abc import Iterable

from triage.network.datasheet.markdown import broken, code, section, table
from triage.network.drawing_labels import KIND_TITLES
from triage.network.drawing_links import percent
from triage.network.values import (
    Component,
    ComponentKind,
    Context,
    FailureMode,
    FaultNetwork,
    NetworkIndex,
    OnVan,
    Part,
    Repair,
    RepairBy,
)

BY_WORDS = {
    RepairBy.TECHNICIAN: "technician",
    RepairBy.CALLER: "caller",
    RepairBy.LICENSED_TRADE: "licensed trade",
}
VAN_WORDS = {
    OnVan.USUALLY: "usually on the van",
    OnVan.SOMETIMES: "sometimes on the van",
    OnVan.ORDERED: "ordered",
}
NOT_FITTED = "not fitted"


def causes_section(network: FaultNetwork) -> list[str]:
    """Failure modes with share, repairs, minutes and parts, one table per kind of component."""
    lines: list[str] = []
    for kind, title in KIND_TITLES.items():
        components = [part for part in network.components.values() if part.kind is kind]
        if components:
            total = sum(mode.share for part in components for mode in part.modes)
            lines += [f"### {title}: {percent(total)} of calls", ""]
            lines += [*_causes_table(network, components), ""]
    tell_us = (
        "a cause that is missing or stands twice, a share that is off by a factor of two or more, "
        "a repair that takes you clearly longer or shorter, a part that should be on the van."
    )
    return section("Causes", lines[:-1], tell_us)


def circumstances_section(network: FaultNetwork) -> list[str]:
    """Contexts, and how each changes the shares."""
    contexts = list(network.contexts.values())
    lines = [
        *table(["circumstance", "at a call", "source"], map(_context_row, contexts)),
        "",
        "How they change the share of a cause, value by value in the order above. 1 leaves it as "
        "it is, 2 doubles it; afterwards all shares are brought back to a sum of 100 %.",
        "",
        *table(
            ["cause", *(context.title for context in contexts)],
            (
                [_cause(component, mode), *(_factors(mode, context) for context in contexts)]
                for component, mode in _modes(network)
                if mode.multipliers
            ),
        ),
    ]
    tell_us = (
        "a cause that old machines have much more often than this says, one that comes with a "
        "kind of drive, a move or a storm and does not say so, a kind of machine that you see "
        "more or less often."
    )
    return section("Circumstances", lines, tell_us)


def pairs_section(network: FaultNetwork) -> list[str]:
    """Failure modes that come together."""
    index = NetworkIndex(network)
    rows = (
        [
            broken(f"{index.mode_title(mode)} {code(mode)}" for mode in pair.modes),
            percent(pair.probability),
            code(pair.provenance.source),
        ]
        for pair in network.pairs
    )
    lines = [
        "Any two causes can come together by chance. These do so more often.",
        "",
        *table(["causes", "both, share of calls", "source"], rows),
    ]
    return section(
        "Causes that come together", lines, "two parts that you always find broken as a pair."
    )


def cost_text(network: FaultNetwork, part: Part) -> str:
    """What a part costs the shop."""
    low, high = (amount / 100 for amount in part.cost)
    return (
        f"{network.currency} {low:g}" if low == high else f"{network.currency} {low:g} to {high:g}"
    )


def _causes_table(network: FaultNetwork, components: Iterable[Component]) -> list[str]:
    index = NetworkIndex(network)
    rows = []
    for component in components:
        for mode in component.modes:
            repairs = index.repairs_of[mode.id]
            rows.append(
                [
                    _cause(component, mode),
                    percent(mode.share),
                    broken(f"{repair.title} ({BY_WORDS[repair.by]})" for repair in repairs),
                    broken(f"{repair.minutes:g}" for repair in repairs),
                    broken(dict.fromkeys(_parts(network, repair) for repair in repairs)),
                    code(mode.provenance.source),
                ]
            )
    return table(["cause", "share", "repair (by)", "minutes", "parts", "source"], rows)


def _parts(network: FaultNetwork, repair: Repair) -> str:
    parts = (network.parts[name] for name in repair.parts)
    return "; ".join(
        f"{part.title}, {cost_text(network, part)}, {VAN_WORDS[part.on_van]}" for part in parts
    )


def _cause(component: Component, mode: FailureMode) -> str:
    is_plain = component.kind is ComponentKind.NOTHING_FAILED
    title = mode.title if is_plain else f"**{component.title}**: {mode.title}"
    return broken([title, code(mode.id)])


def _modes(network: FaultNetwork) -> Iterable[tuple[Component, FailureMode]]:
    return ((part, mode) for part in network.components.values() for mode in part.modes)


def _context_row(context: Context) -> list[str]:
    chances = zip(context.values.values(), context.probabilities, strict=True)
    values = broken(f"{title} {percent(chance)}" for title, chance in chances)
    return [broken([context.title, code(context.id)]), values, code(context.provenance.source)]


def _factors(mode: FailureMode, context: Context) -> str:
    factors = mode.multipliers.get(context.id)
    if not factors:
        return ""
    each = (factors.get(value, 1.0) for value in context.values)
    return " / ".join(f"{factor:.3g}" if factor else NOT_FITTED for factor in each)
