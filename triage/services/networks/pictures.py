"""What an owner looks at: a network as a picture, what is around a part of it, what it covers.

Only shipped networks are shown: a name that comes with an address is never taken as a path.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from triage.errors import UnknownNetworkError
from triage.network.catalogue import load_network, network_names
from triage.network.datasheet.coverage import BY_PHONE, ON_SITE, counts, unfirm_modes
from triage.network.drawing import draw_network
from triage.network.drawing_links import Link, all_links
from triage.network.drawing_neighbourhood import draw_neighbourhood
from triage.network.values import FaultNetwork, NetworkIndex, Observation
from triage.services.networks.engines import network_choices

PICTURES_KEPT = 64  # of neighbourhoods, about 20 kB each


@dataclass(frozen=True, slots=True)
class Coverage:
    """Shipped networks side by side, in the order of their titles.

    ``counts`` holds one number a network; ``not_firm_on_site`` and ``not_firm_by_phone`` hold, a
    network each, the titles of the causes that nothing of that kind shows often.
    """

    networks: tuple[FaultNetwork, ...]
    counts: Mapping[str, tuple[int, ...]]
    not_firm_on_site: tuple[tuple[str, ...], ...]
    not_firm_by_phone: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Surroundings:
    """A picture of what is around one node, and the same as values.

    ``links`` stand strongest first; ``looks`` are the ways to look at each sign.
    """

    title: str
    picture: str
    links: tuple[Link, ...]
    looks: Mapping[str, Sequence[Observation]]


def shipped_network(name: str) -> FaultNetwork:
    """Network of that name, or ``UnknownNetworkError``."""
    if name not in network_names():
        raise UnknownNetworkError(name, network_names())
    return load_network(name)


@cache
def picture(name: str) -> str:
    """Picture of a shipped network, as SVG.

    Raises
    ------
    UnknownNetworkError
        No network of that name is shipped.
    """
    return draw_network(shipped_network(name))


@lru_cache(maxsize=PICTURES_KEPT)
def surroundings(name: str, node: str) -> Surroundings:
    """What is around a component, failure mode or sign.

    Raises
    ------
    UnknownNetworkError
        No network of that name is shipped.
    UnknownNodeError
        The network has no such node.
    """
    network = shipped_network(name)
    index = NetworkIndex(network)
    drawn = draw_neighbourhood(network, node)
    component = network.components.get(node)
    nodes = [node, *(mode.id for mode in component.modes)] if component else [node]
    found = (link for link in all_links(network) if link.sign in nodes or link.mode in nodes)
    links = tuple(sorted(found, key=lambda link: -link.strength))
    signs = [node] if node in network.signs else dict.fromkeys(link.sign for link in links)
    looks = {sign: index.observations_of.get(sign, ()) for sign in signs}
    return Surroundings(_title(index, node), drawn, links, looks)


def coverage() -> Coverage:
    """Count what each shipped network holds, and name what is thin."""
    networks = tuple(load_network(name) for name, _ in network_choices())
    return Coverage(
        networks,
        {title: tuple(count(each) for each in networks) for title, count in counts().items()},
        tuple(_titles(each, unfirm_modes(each, ON_SITE)) for each in networks),
        tuple(_titles(each, unfirm_modes(each, BY_PHONE)) for each in networks),
    )


def _titles(network: FaultNetwork, modes: Sequence[str]) -> tuple[str, ...]:
    index = NetworkIndex(network)
    return tuple(index.mode_title(mode) for mode in modes)


def _title(index: NetworkIndex, node: str) -> str:
    if node in index.network.components:
        return index.network.components[node].title
    if node in index.network.signs:
        return index.network.signs[node].title
    return index.mode_title(node)
