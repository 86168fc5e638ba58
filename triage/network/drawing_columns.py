"""A column of labelled nodes: blocks of lines from top to bottom, spare height spread evenly."""

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from triage.network.drawing_svg import (
    FONT_SIZE,
    NEUTRAL,
    PAPER,
    Attributes,
    element,
    ink,
    quiet,
    round_to_pixels,
    tooltip,
)

LINE = 15.0  # pixels from one line of text to the next
DROP = 4.0  # pixels from the base line of a text to the lower end of its line
LETTER = 0.56 * FONT_SIZE  # mean width of a letter in a wide sans-serif; the viewer's is unknown
TEXT_GAP = 12.0  # pixels from the middle of a dot to its text
SLOT = 14.0  # pixels for one mark
SLOT_GAP = 8.0  # pixels from the last slot to the text
KIND_LINES = 1.6  # height of a heading of a kind, in lines
GROUP_GAP = 0.3  # above the name of a component, in lines
KIND_SIZE = FONT_SIZE + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A letter in one of the slots between a dot and its text."""

    letter: str
    slot: int
    tooltip: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One node with its text.

    ``kind`` and ``group`` are headings above the node; ``remarks`` are lines below its own lines.
    ``room`` is the least number of lines it takes, headings not counted; ``radius`` of the dot is
    in pixels.
    """

    node: str
    lines: tuple[str, ...]
    kind: str = ""
    group: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    marks: Sequence[Mark] = ()
    tooltip: str = ""
    room: int = 1
    radius: float = 3.0
    colour: str = NEUTRAL
    is_hollow: bool = False

    @property
    def heading_height(self) -> float:
        """Height of the headings in pixels."""
        group = GROUP_GAP * bool(self.group) + len(self.group)
        return LINE * (KIND_LINES * bool(self.kind) + group)

    @property
    def height(self) -> float:
        """Height of the whole block in pixels."""
        return self.heading_height + LINE * max(len(self.lines) + len(self.remarks), self.room)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """Blocks at one place across the picture; the text stands left of the dots or right.

    ``slots`` is how many marks a block can have.
    """

    blocks: Sequence[Block]
    x: float
    is_text_left: bool = False
    slots: int = 0

    @property
    def height(self) -> float:
        """Least height in pixels."""
        return sum(block.height for block in self.blocks)

    @property
    def text_x(self) -> float:
        """Where the text begins, or ends if it stands left of the dots."""
        if self.is_text_left:
            return self.x - TEXT_GAP
        return self.x + TEXT_GAP + (SLOT * self.slots + SLOT_GAP if self.slots else 0)

    @property
    def anchor(self) -> Attributes:
        """Attribute that says on which side of ``text_x`` the text is."""
        return {"text_anchor": "end"} if self.is_text_left else {}


def wrapped(text: str, letters: int) -> tuple[str, ...]:
    """Text in lines of at most so many letters; a percent sign stays with its number."""
    kept_together = text.replace(" %", "\N{NO-BREAK SPACE}%")
    lines = textwrap.wrap(kept_together, letters, break_long_words=False, break_on_hyphens=False)
    return tuple(line.replace("\N{NO-BREAK SPACE}%", " %") for line in lines)


def draw_column(column: Column, top: float, height: float) -> tuple[list[str], Mapping[str, float]]:
    """Draw a column over a height in pixels.

    Returns
    -------
    list of str
        Elements.
    mapping of str to float
        The middle of each node's dot, in pixels from the top of the picture.
    """
    spare = (height - column.height) / max(len(column.blocks), 1)
    y = top + spare / 2
    elements, places = [], {}
    for block in column.blocks:
        node_top = y + block.heading_height
        places[block.node] = round_to_pixels(node_top + LINE * max(len(block.lines), 1) / 2)
        elements += _headings(block, column, y)
        elements.append(_node(block, column, node_top, places[block.node]))
        y += block.height + spare
    return elements, places


def _headings(block: Block, column: Column, y: float) -> list[str]:
    elements = []
    if block.kind:
        y += KIND_LINES * LINE
        style: Attributes = {"font_size": KIND_SIZE, "font_style": "italic", **column.anchor}
        elements.append(quiet(block.kind, column.text_x, y - DROP, **style))
    y += GROUP_GAP * LINE
    for line in block.group:
        y += LINE
        style = {"font_weight": "bold", **column.anchor}
        elements.append(ink(line, column.text_x, y - DROP, **style))
    return elements


def _node(block: Block, column: Column, y: float, middle: float) -> str:
    texts = []
    for line in block.lines:
        y += LINE
        texts.append(ink(line, column.text_x, y - DROP, **column.anchor))
    for line in block.remarks:
        y += LINE
        style: Attributes = {"font_size": FONT_SIZE - 1, **column.anchor}
        texts.append(quiet(line, column.text_x, y - DROP, **style))
    dot: Attributes = {
        "r": block.radius,
        "stroke": block.colour,
        "stroke_width": 1.6,
        "fill": block.colour,
    }
    if block.is_hollow:
        dot |= {"fill": PAPER, "class_": "network-paper"}
    circle = element("circle", cx=column.x, cy=middle, **dot)
    node = element("g", tooltip(block.tooltip), circle, *texts)
    return node + "".join(_mark(mark, column, middle) for mark in block.marks)


def _mark(mark: Mark, column: Column, middle: float) -> str:
    x = column.x + TEXT_GAP + SLOT * mark.slot
    letter = quiet(mark.letter, x, middle + LINE / 2 - DROP, font_size=FONT_SIZE - 1)
    return element("g", tooltip(mark.tooltip), letter)
