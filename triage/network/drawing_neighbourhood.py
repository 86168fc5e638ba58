"""Picture of what is around one component, failure mode or sign.

Three columns: causes, signs, and the ways to look at each sign. Around a component or a failure
mode stand the signs it shows as; around a sign stand its causes, and the signs that hide it or that
it hides. The strongest stands on top. O(links).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from triage.errors import UnknownNodeError
from triage.network.drawing_columns import LINE, Block, Column, draw_column, wrapped
from triage.network.drawing_labels import (
    CHANNEL_LEGEND,
    DOT_LEGEND,
    component_lines,
    mode_block,
    mode_remarks,
    observation_block,
    sign_block,
)
from triage.network.drawing_lines import (
    colours_of,
    draw_lines,
    link_line,
    strength_legend,
    thin_line,
)
from triage.network.drawing_links import Link, all_links, links_of, strength_text, words
from triage.network.drawing_svg import document, ink, quiet
from triage.network.values import FaultNetwork, Mask, NetworkIndex, Sign

MODE_X = 340.0
SIGN_X = 570.0
OBSERVATION_X = 940.0
WIDTH = 1340.0
SIGN_LETTERS = 42  # longest line of a sign
REMARK_LETTERS = 50  # of the smaller text below it
FORK = 46.0  # pixels from the text of a sign to the ways to look at it
TOP = 92.0  # below title and legend
MARGIN = 24.0

Masks = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Surroundings:
    """What is drawn: failure modes and signs from top to bottom, and the links between them.

    ``signs`` are those with links. ``hiding`` and ``hidden`` stand below them, each with the states
    in which a sign hides another; they are there only where ``is_one_sign``.
    """

    title: str
    modes: Sequence[str]
    signs: Sequence[str]
    links: Sequence[Link]
    hiding: Masks = field(default_factory=dict)
    hidden: Masks = field(default_factory=dict)
    is_one_sign: bool = False


def draw_neighbourhood(network: FaultNetwork, node: str) -> str:
    """Picture of what is around one node of a network.

    Parameters
    ----------
    network : FaultNetwork
        The network.
    node : str
        Id of a component, a failure mode or a sign.

    Returns
    -------
    str
        SVG, as high as the longest column needs.

    Raises
    ------
    UnknownNodeError
        The network has no component, failure mode or sign of that id.
    """
    index = NetworkIndex(network)
    around = _surroundings(index, node)
    left = Column(blocks=_mode_blocks(index, around), x=MODE_X, is_text_left=True)
    middle = Column(blocks=_sign_blocks(index, around), x=SIGN_X)
    height = max(left.height, middle.height)
    mode_elements, modes = draw_column(left, TOP, height)
    sign_elements, signs = draw_column(middle, TOP, height)
    colours = {block.node: block.colour for block in left.blocks}
    lines = [
        link_line(
            index,
            link,
            start=(MODE_X, modes[link.mode]),
            end=(SIGN_X, signs[link.sign]),
            colour=colours[link.mode],
        )
        for link in around.links
    ]
    body = [
        *_header(around),
        *draw_lines(lines),
        *_observations(index, around, signs),
        *mode_elements,
        *sign_elements,
    ]
    name = f"{network.title}: {around.title}"
    description = "Lines run from causes to the signs they show as, and on to the ways to look."
    return document(name, description, WIDTH, TOP + height + MARGIN, body)


def _surroundings(index: NetworkIndex, node: str) -> _Surroundings:
    network = index.network
    if node in network.signs:
        return _around_sign(index, node)
    if node in network.components:
        modes = [mode.id for mode in network.components[node].modes]
        return _around_modes(network, network.components[node].title, modes)
    if node in index.modes:
        return _around_modes(network, index.mode_title(node), [node])
    known = [*network.components, *index.modes, *network.signs]
    raise UnknownNodeError(node, network.id, known)


def _around_modes(network: FaultNetwork, title: str, modes: Sequence[str]) -> _Surroundings:
    """Signs of some failure modes: those that the first mode shows most strongly come first."""
    links = [link for link in all_links(network) if link.mode in modes]
    strongest: dict[str, Link] = {}
    for link in sorted(links, key=lambda link: -link.strength):
        strongest.setdefault(link.sign, link)
    ordered = sorted(strongest.values(), key=lambda link: (modes.index(link.mode), -link.strength))
    signs = [link.sign for link in ordered]
    return _Surroundings(title=title, modes=modes, signs=signs, links=links)


def _around_sign(index: NetworkIndex, name: str) -> _Surroundings:
    sign = index.network.signs[name]
    links = links_of(sign)
    return _Surroundings(
        title=sign.title,
        modes=[link.mode for link in links],
        signs=[name],
        links=links,
        is_one_sign=True,
        hiding=_states((mask.masker, mask) for mask in sign.masks),
        hidden=_states(
            (other.id, mask)
            for other in index.network.signs.values()
            for mask in other.masks
            if mask.masker == name
        ),
    )


def _states(masks: Iterable[tuple[str, Mask]]) -> Masks:
    """States in which masks act, by the sign that is named with each."""
    found: dict[str, tuple[str, ...]] = {}
    for name, mask in masks:
        found[name] = (*found.get(name, ()), *mask.states)
    return found


def _mode_blocks(index: NetworkIndex, around: _Surroundings) -> list[Block]:
    """Failure modes; around a sign each says how strongly it shows as that sign."""
    colours = colours_of(around.modes)
    strengths = {link.mode: strength_text(link) for link in around.links if around.is_one_sign}
    blocks = []
    shown = ""
    for name in around.modes:
        component = index.component_of[name]
        block = mode_block(index, index.mode(name), colours[name])
        remarks = mode_remarks(index, index.mode(name))
        if around.is_one_sign:
            remarks = (strengths[name],)
        group = component_lines(component) if component.id != shown else ()
        blocks.append(replace(block, group=group, remarks=remarks))
        shown = component.id
    return blocks


def _sign_blocks(index: NetworkIndex, around: _Surroundings) -> list[Block]:
    return [
        *(_linked_sign(index, name, around) for name in around.signs),
        *_masked_blocks(index, around),
    ]


def _linked_sign(index: NetworkIndex, name: str, around: _Surroundings) -> Block:
    sign = index.network.signs[name]
    links = [link for link in around.links if link.sign == name]
    return replace(
        sign_block(index, sign),
        lines=wrapped(sign.title, SIGN_LETTERS),
        remarks=() if around.is_one_sign else wrapped(_remark(sign, links), REMARK_LETTERS),
        marks=(),
        room=len(index.observations_of.get(name, ())),
    )


def _remark(sign: Sign, links: Sequence[Link]) -> str:
    """How strongly a sign is shown, if by one of the drawn causes, and how many causes are not."""
    others = len(sign.parents) - len(links)
    parts = [strength_text(links[0])] if len(links) == 1 else []
    if others:
        parts.append(f"{others} other cause{'s' if others != 1 else ''}")
    return "; ".join(parts)


def _masked_blocks(index: NetworkIndex, around: _Surroundings) -> list[Block]:
    """Signs that hide the one in the centre, and those it hides, with the states that do it."""
    blocks = []
    for kind, masks in (("Hides it", around.hiding), ("Is hidden by it", around.hidden)):
        for number, (name, states) in enumerate(masks.items()):
            block = sign_block(index, index.network.signs[name])
            while_text = f"while: {' or '.join(map(words, states))}"
            heading = "" if number else kind
            blocks.append(replace(block, kind=heading, remarks=(while_text,), marks=()))
    return blocks


def _observations(
    index: NetworkIndex, around: _Surroundings, signs: Mapping[str, float]
) -> list[str]:
    """Ways to look at each sign, beside it, each at the end of a line of its own."""
    elements = []
    for name in around.signs:
        looks = [observation_block(look) for look in index.observations_of.get(name, ())]
        beside = Column(blocks=looks, x=OBSERVATION_X)
        lines = len(wrapped(index.network.signs[name].title, SIGN_LETTERS))
        texts, places = draw_column(beside, signs[name] - LINE * lines / 2, beside.height)
        start = (OBSERVATION_X - FORK, signs[name])
        elements += [thin_line(start, (OBSERVATION_X, y)) for y in places.values()]
        elements += texts
    return elements


def _header(around: _Surroundings) -> list[str]:
    return [
        ink(around.title, MARGIN, 32, font_size=20, font_weight="bold"),
        *strength_legend(MARGIN, 56),
        quiet(f"{DOT_LEGEND}   {CHANNEL_LEGEND}", MARGIN, 74),
    ]
