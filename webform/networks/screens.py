"""Read models of the pages of the networks."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import url_for
from markupsafe import Markup

from triage.network.datasheet.causes import BY_WORDS, VAN_WORDS
from triage.network.drawing_labels import CHANNEL_TITLES, KIND_TITLES, counts_text, mask_text
from triage.network.drawing_links import Link, percent, strength_text
from triage.network.values import (
    Component,
    FailureMode,
    FaultNetwork,
    NetworkIndex,
    Observation,
    Part,
    Repair,
)
from triage.services.networks.pictures import Coverage, Surroundings
from webform.formatting import bar, minutes, money_range, nowrap


@dataclass(frozen=True, slots=True)
class NetworkLink:
    """A network in the list of them."""

    title: str
    description: str
    url: str


@dataclass(frozen=True, slots=True)
class CoverageRow:
    """What is counted, with one number a network."""

    title: str
    numbers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ThinGroup:
    """A network with the causes that nothing shows firmly."""

    title: str
    on_site: tuple[str, ...]
    by_phone: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CoverageScreen:
    """Everything the list of networks shows."""

    networks: tuple[NetworkLink, ...]
    rows: tuple[CoverageRow, ...]
    thin: tuple[ThinGroup, ...]


@dataclass(frozen=True, slots=True)
class CauseRow:
    """A cause with its share, and what puts it right."""

    component: str
    url: str
    title: str
    share: str
    bar: str
    repairs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CauseTable:
    """Causes of one kind, most frequent first."""

    title: str
    share: str
    rows: tuple[CauseRow, ...]


@dataclass(frozen=True, slots=True)
class RepairRow:
    """A repair."""

    title: str
    by: str
    works: str
    minutes: str
    cures: tuple[str, ...]
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part."""

    title: str
    cost: str
    carried: str
    repairs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkScreen:
    """Everything the page of a network shows."""

    id: str
    title: str
    description: str
    counts: str
    picture: Markup
    causes: tuple[CauseTable, ...]
    repairs: tuple[RepairRow, ...]
    parts: tuple[PartRow, ...]


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A cause that shows as a sign, and how often."""

    cause: str
    sign: str
    strength: str


@dataclass(frozen=True, slots=True)
class SignLooks:
    """A sign with the ways to look at it."""

    sign: str
    looks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AroundScreen:
    """Everything the page around a part shows; without a title nothing was chosen.

    A cause or a sign that is the same in every link is not repeated: ``has_causes`` and
    ``has_signs`` say which of them differ.
    """

    id: str
    network: str
    title: str
    picture: Markup
    links: tuple[LinkRow, ...]
    has_causes: bool
    has_signs: bool
    hidden: tuple[str, ...]
    looks: tuple[SignLooks, ...]


def coverage_screen(found: Coverage) -> CoverageScreen:
    """Put the list of networks together."""
    return CoverageScreen(
        tuple(
            NetworkLink(entry.title, entry.description, url_for("networks.network", name=entry.id))
            for entry in found.networks
        ),
        tuple(
            CoverageRow(_first_upper(title), tuple(str(number) for number in numbers))
            for title, numbers in found.counts.items()
        ),
        tuple(
            ThinGroup(network.title, on_site, by_phone)
            for network, on_site, by_phone in zip(
                found.networks, found.not_firm_on_site, found.not_firm_by_phone, strict=True
            )
        ),
    )


def network_screen(network: FaultNetwork, picture: str) -> NetworkScreen:
    """Put the page of a network together."""
    index = NetworkIndex(network)
    return NetworkScreen(
        id=network.id,
        title=network.title,
        description=network.description,
        counts=counts_text(network),
        picture=_inline(picture),
        causes=tuple(_cause_tables(index)),
        repairs=tuple(_repair(index, repair) for repair in network.repairs.values()),
        parts=tuple(_part(network, part) for part in network.parts.values()),
    )


def around_screen(network: FaultNetwork, found: Surroundings | None) -> AroundScreen:
    """Put the page around a part together."""
    links = found.links if found else ()
    looks = found.looks if found else {}
    return AroundScreen(
        id=network.id,
        network=network.title,
        title=found.title if found else "",
        picture=_inline(found.picture if found else ""),
        links=tuple(_link(NetworkIndex(network), link) for link in links),
        has_causes=len({link.mode for link in links}) > 1,
        has_signs=len({link.sign for link in links}) > 1,
        hidden=tuple(
            f"“{network.signs[sign].title}” cannot be judged while {mask_text(network, mask)}."
            for sign in looks
            for mask in network.signs[sign].masks
        ),
        looks=tuple(
            SignLooks(network.signs[sign].title, tuple(map(_look, entries)))
            for sign, entries in looks.items()
        ),
    )


def _inline(picture: str) -> Markup:
    """Picture as a part of a page; the library writes it and escapes every text in it."""
    return Markup(picture)


def _cause_tables(index: NetworkIndex) -> Sequence[CauseTable]:
    components = index.network.components.values()
    largest = max(mode.share for mode in index.modes.values())
    tables = []
    for kind, title in KIND_TITLES.items():
        modes = [(part, mode) for part in components if part.kind is kind for mode in part.modes]
        modes.sort(key=lambda pair: (-pair[1].share, pair[1].id))
        total = nowrap(percent(sum(mode.share for _, mode in modes)))
        rows = tuple(_cause(index, part, mode, largest) for part, mode in modes)
        tables.append(CauseTable(title, total, rows))
    return tables


def _cause(
    index: NetworkIndex, component: Component, mode: FailureMode, largest: float
) -> CauseRow:
    return CauseRow(
        component.title,
        url_for("networks.around", name=index.network.id, node=component.id),
        mode.title,
        nowrap(percent(mode.share)),
        bar(mode.share / largest),
        tuple(repair.title for repair in index.repairs_of[mode.id]),
    )


def _repair(index: NetworkIndex, repair: Repair) -> RepairRow:
    return RepairRow(
        repair.title,
        BY_WORDS[repair.by],
        nowrap(percent(repair.success)),
        minutes(repair.minutes),
        tuple(index.mode_title(mode) for mode in repair.cures),
        tuple(index.network.parts[name].title for name in repair.parts),
    )


def _part(network: FaultNetwork, part: Part) -> PartRow:
    return PartRow(
        part.title,
        money_range(*part.cost, network.currency),
        VAN_WORDS[part.on_van],
        tuple(repair.title for repair in network.repairs.values() if part.id in repair.parts),
    )


def _link(index: NetworkIndex, link: Link) -> LinkRow:
    others = " and ".join(index.mode_title(mode) for mode in link.together_with)
    strength = nowrap(strength_text(link))
    return LinkRow(
        index.mode_title(link.mode),
        index.network.signs[link.sign].title,
        f"{strength}, only together with {others}" if others else strength,
    )


def _look(look: Observation) -> str:
    return f"{look.title}: {CHANNEL_TITLES[look.channel]}, {minutes(look.minutes)}"


def _first_upper(text: str) -> str:
    return text[0].upper() + text[1:]
