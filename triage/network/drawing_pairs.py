"""Brackets beside the causes that come together more often than chance.

A bracket joins one cause, marked by a dot, with each of those it comes with, so that ten pairs make
a few brackets and not ten.
"""

from collections.abc import Mapping, Sequence

from triage.network.drawing_columns import LETTER, TEXT_GAP, Block, Column
from triage.network.drawing_links import percent
from triage.network.drawing_svg import QUIET, element, tooltip
from triage.network.values import FaultNetwork, NetworkIndex, Pair

LEFT = 10.0  # of the leftmost bracket
ROOM = 30.0  # for all brackets together
WIDEST_STEP = 10.0  # from one bracket to the next
SHORTEST_TICK = 8.0
TICK_STEP = 2.5  # between brackets that end at the same cause
PAIR_LEGEND = "Dashed bracket: the cause with the dot often comes with the others."


def draw_pairs(network: FaultNetwork, column: Column, places: Mapping[str, float]) -> list[str]:
    """Draw brackets left of the text of a column; ``places`` has the height of each dot."""
    hubs = _by_hub(network.pairs, list(places))
    step = min(WIDEST_STEP, ROOM / max(len(hubs) - 1, 1))
    ends = {block.node: _text_end(column, block) for block in column.blocks}
    elements = []
    for number, (hub, pairs) in enumerate(hubs.items()):
        x = LEFT + step * number
        nodes = [hub, *(_partner(pair, hub) for pair in pairs)]
        shift = TICK_STEP * (number - (len(hubs) - 1) / 2)
        ticks = [(places[node] + shift, max(ends[node], x + SHORTEST_TICK)) for node in nodes]
        elements.append(_bracket(x, ticks, _text(NetworkIndex(network), hub, pairs)))
    return elements


def _by_hub(pairs: Sequence[Pair], order: Sequence[str]) -> Mapping[str, list[Pair]]:
    """Pairs by the failure mode that stands in most of those not yet taken, topmost first."""
    left = list(pairs)
    found: dict[str, list[Pair]] = {}
    while left:
        hub = max(order, key=lambda mode: sum(mode in pair.modes for pair in left))
        found[hub] = [pair for pair in left if hub in pair.modes]
        left = [pair for pair in left if hub not in pair.modes]
    return found


def _partner(pair: Pair, mode: str) -> str:
    one, other = pair.modes
    return other if mode == one else one


def _text_end(column: Column, block: Block) -> float:
    """Where the text of a block is sure to have ended, seen from its dot."""
    return column.x - 2 * TEXT_GAP - LETTER * max(map(len, block.lines))


def _text(index: NetworkIndex, hub: str, pairs: Sequence[Pair]) -> str:
    each = [
        f"with {index.mode_title(_partner(pair, hub))}: {percent(pair.probability)} of calls"
        for pair in pairs
    ]
    return "\n".join([index.mode_title(hub), *each])


def _bracket(x: float, ticks: Sequence[tuple[float, float]], text: str) -> str:
    heights = [y for y, _ in ticks]
    spine = f"M{x:g} {min(heights):g}V{max(heights):g}"
    way = spine + "".join(f"M{x:g} {y:g}H{end:g}" for y, end in ticks)
    line = element(
        "path",
        d=way,
        fill="none",
        class_="network-quiet-line",
        stroke=QUIET,
        stroke_dasharray="4 3",
    )
    first_y, first_end = ticks[0]
    dot = element("circle", cx=first_end, cy=first_y, r=2.5, class_="network-quiet", fill=QUIET)
    return element("g", tooltip(text), line, dot)
