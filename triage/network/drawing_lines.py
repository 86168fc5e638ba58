"""Lines between columns, wider and darker the stronger the link, and the legend of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from triage.network.drawing_columns import LETTER
from triage.network.drawing_links import STRENGTH_WORDS, Link, strength_text, strength_word
from triage.network.drawing_svg import QUIET, Attributes, element, quiet, tooltip
from triage.network.values import NetworkIndex

# Widths (pixels) and opacities tell the four words for strength apart in black and white, too.
WIDTHS: Mapping[str, float] = {"almost always": 3.0, "often": 1.8, "sometimes": 1.0, "rarely": 0.7}
OPACITIES: Mapping[str, float] = {
    "almost always": 0.95,
    "often": 0.75,
    "sometimes": 0.45,
    "rarely": 0.28,
}
# One colour a cause, in turn, so that a line can be followed; each stands out from white paper and
# from a dark page by 3 to 1 (WCAG 2.2, 1.4.11). Nothing depends on telling them apart.
COLOURS = ("#0072b2", "#c4561a", "#00855f", "#a8589a", "#7468c4", "#8f6c00")
SAMPLE = 34.0  # length in pixels of a sample in the legend


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line from one dot to another, in pixels; ``word`` is its strength."""

    start: tuple[float, float]
    end: tuple[float, float]
    word: str
    colour: str
    tooltip: str


def colours_of(modes: Sequence[str]) -> Mapping[str, str]:
    """Colour of each failure mode: neighbours in this order differ."""
    return {mode: COLOURS[number % len(COLOURS)] for number, mode in enumerate(modes)}


def draw_lines(lines: Sequence[Line]) -> list[str]:
    """Draw lines, the weakest first so that the strong ones lie on top."""
    elements = []
    for word in reversed(list(STRENGTH_WORDS)):
        paths = [_path(line) for line in lines if line.word == word]
        if paths:
            elements.append(element("g", "\n", "\n".join(paths), "\n", fill="none", **_look(word)))
    return elements


def link_line(
    index: NetworkIndex,
    link: Link,
    *,
    start: tuple[float, float],
    end: tuple[float, float],
    colour: str,
) -> Line:
    """Line of a link, with cause, sign and strength in its tooltip."""
    others = " and ".join(index.mode_title(mode) for mode in link.together_with)
    condition = f", together with {others}" if others else ""
    title = index.network.signs[link.sign].title
    text = f"{index.mode_title(link.mode)} → {title}: {strength_text(link)}{condition}"
    word = strength_word(link.strength)
    return Line(start=start, end=end, word=word, colour=colour, tooltip=text)


def thin_line(start: tuple[float, float], end: tuple[float, float]) -> str:
    """A line that only says what belongs together."""
    look: Attributes = {
        "class_": "network-quiet-line",
        "stroke": QUIET,
        "fill": "none",
        "stroke_width": 0.8,
    }
    return element("path", d=_curve(start, end), **look)


def strength_legend(x: float, y: float) -> list[str]:
    """Draw a sample of each strength from ``x`` to the right, on the base line ``y``."""
    elements = []
    upper = ""
    for word, bound in STRENGTH_WORDS.items():
        label = f"{word} ({_range(bound, upper)})"
        sample = element(
            "path",
            d=f"M{x:g} {y - 4:g}h{SAMPLE:g}",
            class_="network-quiet-line",
            stroke=QUIET,
            fill="none",
            **_look(word),
        )
        elements += [sample, quiet(label, x + SAMPLE + 6, y)]
        x += SAMPLE + 20 + LETTER * len(label)
        upper = f"{100 * bound:.0f}"
    return elements


def _look(word: str) -> dict[str, float]:
    return {"stroke_width": WIDTHS[word], "stroke_opacity": OPACITIES[word]}


def _range(bound: float, upper: str) -> str:
    lower = f"{100 * bound:.0f}"
    if not upper:
        return f"{lower} % or more"
    return f"{lower} to {upper} %" if bound else f"under {upper} %"


def _path(line: Line) -> str:
    way = _curve(line.start, line.end)
    return element("path", tooltip(line.tooltip), d=way, stroke=line.colour)


def _curve(start: tuple[float, float], end: tuple[float, float]) -> str:
    """Path that leaves and arrives level."""
    (x, y), (end_x, end_y) = start, end
    bend = (x + end_x) / 2
    return f"M{x:g} {y:g}C{bend:g} {y:g} {bend:g} {end_y:g} {end_x:g} {end_y:g}"
