"""Picture of a whole fault network: causes on the left, signs on the right, lines between them.

It has about the shape of an upright A4 sheet. ``drawing_neighbourhood`` draws what is around one
node. Both give SVG text, which ``drawing_svg`` describes. O(passes x links), 0.1 s for 600 links.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import networkx as nx

from triage.network.drawing_columns import Block, Column, draw_column
from triage.network.drawing_labels import (
    CHANNEL_LEGEND,
    DOT_LEGEND,
    KIND_TITLES,
    component_lines,
    counts_text,
    mode_block,
    sign_block,
)
from triage.network.drawing_lines import (
    Line,
    colours_of,
    draw_lines,
    link_line,
    strength_legend,
)
from triage.network.drawing_links import Link, all_links
from triage.network.drawing_order import Groups, ordered_layers
from triage.network.drawing_pairs import PAIR_LEGEND, draw_pairs
from triage.network.drawing_svg import document, ink, quiet
from triage.network.values import Channel, ComponentKind, FaultNetwork, NetworkIndex

# A sign of more causes than this would add a fan of lines that hides the others and tells causes
# apart least; it is listed with their number instead.
MOST_LINES = 18
WIDTH = 1190.0
MODE_X = 344.0
SIGN_X = 740.0
TOP = 122.0  # below title and legend
MARGIN = 24.0


def draw_network(network: FaultNetwork) -> str:
    """Picture of every cause, every sign and every link of a network.

    Parameters
    ----------
    network : FaultNetwork
        At least one failure mode and one sign.

    Returns
    -------
    str
        SVG, as high as the longer of its two columns needs.
    """
    links = all_links(network)
    crowded = _crowded(network)
    drawn = [link for link in links if link.sign not in crowded]
    signs = [sign for sign in network.signs if sign not in crowded]
    groups, signs = ordered_layers(_graph(network, drawn), _groups(network), signs)
    left = Column(blocks=_mode_blocks(network, groups), x=MODE_X, is_text_left=True)
    right = Column(blocks=_sign_blocks(network, signs, crowded), x=SIGN_X, slots=len(Channel))
    height = max(left.height, right.height)
    mode_elements, modes = draw_column(left, TOP, height)
    sign_elements, places = draw_column(right, TOP, height)
    body = [
        *_header(network),
        *draw_lines(_lines(network, left, drawn, modes, places)),
        *draw_pairs(network, left, modes),
        *mode_elements,
        *sign_elements,
    ]
    description = f"{counts_text(network)} Lines run from each cause to the signs it shows as."
    name = f"{network.title}: causes and signs"
    return document(name, description, WIDTH, TOP + height + MARGIN, body)


def _crowded(network: FaultNetwork) -> list[str]:
    return [sign.id for sign in network.signs.values() if len(sign.parents) > MOST_LINES]


def _graph(network: FaultNetwork, links: Sequence[Link]) -> nx.Graph:
    graph = nx.Graph()
    graph.add_nodes_from(mode.id for part in network.components.values() for mode in part.modes)
    for link in links:
        graph.add_edge(link.mode, link.sign, weight=link.strength**2)
    return graph


def _groups(network: FaultNetwork) -> Groups:
    """Failure modes by component, by kind of component."""
    parts = network.components.values()
    return [
        [[mode.id for mode in part.modes] for part in parts if part.kind is kind and part.modes]
        for kind in KIND_TITLES
    ]


def _mode_blocks(network: FaultNetwork, groups: Groups) -> list[Block]:
    index = NetworkIndex(network)
    colours = colours_of([mode for kind in groups for part in kind for mode in part])
    blocks = []
    for kind, parts in zip(KIND_TITLES, groups, strict=True):
        for number, part in enumerate(parts):
            heading = "" if number else KIND_TITLES[kind]
            first, *others = (mode_block(index, index.mode(mode), colours[mode]) for mode in part)
            component = index.component_of[part[0]]
            group = () if kind is ComponentKind.NOTHING_FAILED else component_lines(component)
            blocks += [replace(first, kind=heading, group=group), *others]
    return blocks


def _sign_blocks(
    network: FaultNetwork, signs: Sequence[str], crowded: Sequence[str]
) -> list[Block]:
    index = NetworkIndex(network)
    blocks = [sign_block(index, network.signs[sign]) for sign in signs]
    for number, sign in enumerate(crowded):
        block = sign_block(index, network.signs[sign])
        count = len(network.signs[sign].parents)
        heading = "" if number else f"More than {MOST_LINES} causes, lines not drawn"
        lines = (*block.lines[:-1], f"{block.lines[-1]} ({count} causes)")
        blocks.append(replace(block, kind=heading, lines=lines))
    return blocks


def _lines(
    network: FaultNetwork,
    left: Column,
    links: Sequence[Link],
    modes: Mapping[str, float],
    signs: Mapping[str, float],
) -> list[Line]:
    index = NetworkIndex(network)
    colours = {block.node: block.colour for block in left.blocks}
    return [
        link_line(
            index,
            link,
            start=(MODE_X, modes[link.mode]),
            end=(SIGN_X, signs[link.sign]),
            colour=colours[link.mode],
        )
        for link in links
    ]


def _header(network: FaultNetwork) -> list[str]:
    contexts = ", ".join(context.title for context in network.contexts.values())
    pairs = f"   {PAIR_LEGEND}" if network.pairs else ""
    return [
        ink(f"{network.title}: causes and signs", MARGIN, 32, font_size=20, font_weight="bold"),
        quiet(counts_text(network), MARGIN, 52),
        quiet(f"Shares also depend on: {contexts}.", MARGIN, 68) if contexts else "",
        *strength_legend(MARGIN, 88),
        quiet(DOT_LEGEND + pairs, MARGIN, 106),
        quiet(CHANNEL_LEGEND, WIDTH - MARGIN, 52, text_anchor="end"),
    ]
