"""The order of causes and signs in a picture, so that strong links are short and cross little.

Barycentre passes over a graph of two layers: each layer in turn is sorted by the mean place of its
neighbours in the other, weighted by the square of the strength, which lets weak links give way. The
order with the least weighted distance is kept. Causes stay within their component, and components
within their kind. O(passes x links).
"""

from collections.abc import Mapping, Sequence

import networkx as nx

PASSES = 24  # more change nothing in the shipped networks

Groups = Sequence[Sequence[Sequence[str]]]  # kinds, of components, of failure modes


def ordered_layers(
    graph: nx.Graph, groups: Groups, signs: Sequence[str]
) -> tuple[Groups, list[str]]:
    """Order both layers of a graph.

    Parameters
    ----------
    graph : networkx.Graph
        Nodes are failure modes and signs; each edge has a ``weight``.
    groups : sequence of sequence of sequence of str
        Failure modes by component by kind. Kinds keep their place.
    signs : sequence of str
        The other layer, in an order that decides ties.

    Returns
    -------
    groups, signs
        The same nodes in their new order.
    """
    best = (groups, list(signs))
    least = _distance(graph, *best)
    for _ in range(PASSES):
        signs = _sorted_by_place(graph, signs, _places(_flat(groups)))
        groups = _sorted_groups(graph, groups, _places(signs))
        distance = _distance(graph, groups, signs)
        if distance < least:
            best, least = (groups, list(signs)), distance
    return best


def _flat(groups: Groups) -> list[str]:
    return [mode for kind in groups for component in kind for mode in component]


def _places(nodes: Sequence[str]) -> Mapping[str, float]:
    """Place of each node from 0 at the top to 1 at the bottom."""
    return {node: (number + 0.5) / len(nodes) for number, node in enumerate(nodes)}


def _sorted_by_place(
    graph: nx.Graph, nodes: Sequence[str], places: Mapping[str, float]
) -> list[str]:
    own = _places(nodes)
    return sorted(nodes, key=lambda node: _barycentre(graph, [node], places, own[node]))


def _sorted_groups(graph: nx.Graph, groups: Groups, places: Mapping[str, float]) -> Groups:
    own = _places(_flat(groups))
    return [
        sorted(
            (_sorted_by_place(graph, component, places) for component in kind),
            key=lambda component: _barycentre(graph, component, places, own[component[0]]),
        )
        for kind in groups
    ]


def _barycentre(
    graph: nx.Graph, nodes: Sequence[str], places: Mapping[str, float], without: float
) -> float:
    """Mean place of the neighbours of some nodes; ``without`` if they have none."""
    edges = [
        (data["weight"], places[other])
        for node in nodes
        for other, data in graph.adj[node].items()
        if other in places
    ]
    total = sum(weight for weight, _ in edges)
    return sum(weight * place for weight, place in edges) / total if total else without


def _distance(graph: nx.Graph, groups: Groups, signs: Sequence[str]) -> float:
    places = {**_places(_flat(groups)), **_places(signs)}
    edges = graph.edges(data="weight")
    return float(sum(weight * abs(places[one] - places[two]) for one, two, weight in edges))
