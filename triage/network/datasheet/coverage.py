"""What the shipped networks cover, side by side."""

from collections.abc import Callable, Collection, Mapping, Sequence

from triage.network.datasheet.markdown import broken, code, table
from triage.network.datasheet.page import COMMAND
from triage.network.datasheet.sources import GRADE_WORDS, provenances
from triage.network.drawing_labels import CHANNEL_TITLES, KIND_TITLES
from triage.network.drawing_links import STRENGTH_WORDS, all_links
from triage.network.values import (
    Channel,
    ComponentKind,
    FaultNetwork,
    Grade,
    NetworkIndex,
    RepairBy,
)

FIRM = STRENGTH_WORDS["often"]  # a weaker link leaves a cause in doubt whatever the test shows
ON_SITE = [channel for channel in Channel if channel.is_on_site]
BY_PHONE = [channel for channel in Channel if not channel.is_on_site]

Count = Callable[[FaultNetwork], int]


def coverage_page(networks: Sequence[FaultNetwork]) -> str:
    """Page that counts what each network holds and names what is thin.

    Parameters
    ----------
    networks : sequence of FaultNetwork
        In the order of the columns.

    Returns
    -------
    str
        Markdown, with a link to the page of each network beside it.
    """
    titles = [f"[{network.title}]({network.id}.md)" for network in networks]
    rows = ([name, *(f"{count(each)}" for each in networks)] for name, count in counts().items())
    thin = [
        ["no firm test on site", *(_listed(unfirm_modes(each, ON_SITE)) for each in networks)],
        ["no firm sign by phone", *(_listed(unfirm_modes(each, BY_PHONE)) for each in networks)],
    ]
    lines = [
        "# Appliances",
        "",
        f"Written by {code(COMMAND)} from the [network files](../../networks/README.md); change "
        "those, not this page. The page of an appliance tells all that its network says and asks "
        "what is wrong with it.",
        "",
        *table(["", *titles], rows),
        "",
        "## Where it is thin",
        "",
        f"Causes that show less than *often* ({100 * FIRM:.0f} %) in every sign that can be looked "
        "at in this way: they are found by ruling out the others.",
        "",
        *table(["causes with", *titles], thin),
    ]
    return "\n".join(lines) + "\n"


def counts() -> Mapping[str, Count]:
    """What can be counted in a network, by what it is called."""
    return {
        "version": lambda network: network.version,
        **{f"causes: {title.lower()}": _causes(kind) for kind, title in KIND_TITLES.items()},
        "pairs of causes": lambda network: len(network.pairs),
        "circumstances": lambda network: len(network.contexts),
        "signs": lambda network: len(network.signs),
        "links of cause and sign": lambda network: len(all_links(network)),
        "masks": lambda network: sum(len(sign.masks) for sign in network.signs.values()),
        **{f"looks: {title}": _looks(channel) for channel, title in CHANNEL_TITLES.items()},
        "signs seen through two channels or more": _signs_seen_twice,
        "repairs by a technician": _repairs(RepairBy.TECHNICIAN),
        "repairs by the caller": _repairs(RepairBy.CALLER),
        "repairs by a licensed trade": _repairs(RepairBy.LICENSED_TRADE),
        "parts": lambda network: len(network.parts),
        "safety flags": lambda network: len(network.safety_flags),
        **{f"entries {GRADE_WORDS[grade]}": _entries(grade) for grade in Grade},
    }


def _causes(kind: ComponentKind) -> Count:
    return lambda network: sum(
        len(part.modes) for part in network.components.values() if part.kind is kind
    )


def _looks(channel: Channel) -> Count:
    return lambda network: sum(look.channel is channel for look in network.observations.values())


def _repairs(by: RepairBy) -> Count:
    return lambda network: sum(repair.by is by for repair in network.repairs.values())


def _entries(grade: Grade) -> Count:
    return lambda network: sum(
        provenance.grade is grade for _, _, provenance in provenances(network)
    )


def _signs_seen_twice(network: FaultNetwork) -> int:
    looks = NetworkIndex(network).observations_of
    channels = ({look.channel for look in looks.get(sign, ())} for sign in network.signs)
    return sum(len(found) > 1 for found in channels)


def unfirm_modes(network: FaultNetwork, channels: Collection[Channel]) -> list[str]:
    """Failure modes that no sign shows firmly through these channels; the full run is left out."""
    index = NetworkIndex(network)
    seen = {
        look.sign
        for look in network.observations.values()
        if look.channel in channels and look.id != network.verification
    }
    firm = {link.mode for link in all_links(network) if link.strength >= FIRM and link.sign in seen}
    return [mode for mode in index.modes if mode not in firm]


def _listed(modes: Sequence[str]) -> str:
    return broken(map(code, modes))
