"""Elements of an SVG picture as text, with presentation attributes only.

A page under a strict content security policy may hold such a picture inline: it has no style
element, no style attribute and no script. Colours stand in attributes, which any style sheet of the
page overrules by the classes; a dark page may use that. By itself the picture brings its own paper,
so that it is readable on any ground.

======================= ====================================================================
class                   what it is on
======================= ====================================================================
``network-paper``       the ground, and whatever is hollow
``network-ink``         text that matters
``network-quiet``       text that explains
``network-quiet-line``  lines that explain; they have a stroke and no fill
======================= ====================================================================

The same input gives the same bytes: coordinates are rounded, and nothing depends on a clock, on a
random number or on the order of a set.
"""

from collections.abc import Iterable
from html import escape

PAPER = "#ffffff"
INK = "#1b1f27"
QUIET = "#4a5160"
NEUTRAL = "#717886"  # of a dot without a colour of its own; stands out from light and dark paper
FONT_SIZE = 13  # of the picture as a whole; a larger or smaller text says so

Attributes = dict[str, str | float]


def attributes(**values: str | float) -> str:
    """Attributes, a blank before each; ``_`` in a name is ``-``, at the end of a name nothing."""
    return "".join(
        f' {name.rstrip("_").replace("_", "-")}="{_value(value)}"' for name, value in values.items()
    )


def element(tag: str, *content: str, **values: str | float) -> str:
    """One element; content is SVG already."""
    if not content:
        return f"<{tag}{attributes(**values)}/>"
    return f"<{tag}{attributes(**values)}>{''.join(content)}</{tag}>"


def round_to_pixels(length: float) -> float:
    """Length in pixels, to one digit: more is invisible and makes files long."""
    return round(length, 1)


def tooltip(text: str) -> str:
    """What a pointer resting on the parent shows, and what a screen reader reads."""
    return element("title", escape(text, quote=False)) if text else ""


def ink(text: str, x: float, y: float, **values: str | float) -> str:
    """Text that matters; ``y`` is its base line."""
    return _text(text, x, y, "network-ink", INK, values)


def quiet(text: str, x: float, y: float, **values: str | float) -> str:
    """Text that explains."""
    return _text(text, x, y, "network-quiet", QUIET, values)


def document(name: str, description: str, width: float, height: float, body: Iterable[str]) -> str:
    """Return a whole picture, one element a line.

    Parameters
    ----------
    name, description : str
        What a screen reader says for the picture.
    width, height : float
        Size in pixels; the picture scales to whatever room it is given.
    body : iterable of str
        Elements, those in front last.
    """
    root = attributes(
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_value(width)} {_value(height)}",
        width=width,
        height=height,
        role="img",
        font_family="Arial, Helvetica, sans-serif",
        font_size=FONT_SIZE,
    )
    lines = [
        f"<svg{root}>",
        tooltip(name),
        element("desc", escape(description, quote=False)),
        element("rect", width=width, height=height, class_="network-paper", fill=PAPER),
        *body,
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _text(text: str, x: float, y: float, name: str, fill: str, values: Attributes) -> str:
    return element("text", escape(text, quote=False), x=x, y=y, class_=name, fill=fill, **values)


def _value(value: str | float) -> str:
    return escape(value) if isinstance(value, str) else f"{round(value, 2):g}"
