"""Picture of the gaps of policies: mean, 95th percentile and largest on a logarithmic scale."""

from collections.abc import Mapping, Sequence

import numpy as np

from triage.network.drawing_svg import QUIET, document, element, ink, quiet

LOWEST, HIGHEST = 0.01, 200.0  # percent; what is lower stands at the left edge
TICKS = (0.01, 0.1, 1.0, 10.0, 100.0)
LEFT, RIGHT, TOP, ROW = 250, 30, 64, 28  # pixels
WIDTH = 760


def across(gap: float) -> float:
    """Place of a gap on the scale, in pixels from the left."""
    share = np.log(max(gap, LOWEST) / LOWEST) / np.log(HIGHEST / LOWEST)
    return LEFT + float(share) * (WIDTH - LEFT - RIGHT)


def picture(gaps: Mapping[str, Sequence[float]]) -> str:
    """SVG of all policies, largest mean gap on top."""
    ranked = sorted(gaps.items(), key=lambda entry: -float(np.mean(entry[1])))
    bottom = TOP + ROW * len(ranked)
    body = [ink("Cost above the proved optimum, percent", 16, 26, font_weight="bold")]
    body.append(
        quiet("filled: mean, bar: 95th percentile, hollow: largest; logarithmic scale", 16, 44)
    )
    for tick in TICKS:
        x = across(tick)
        body.append(element("line", x1=x, y1=TOP - 8, x2=x, y2=bottom, stroke="#d5d9e0"))
        body.append(quiet(f"{tick:g}", x, bottom + 18, text_anchor="middle"))
    for place, (name, values) in enumerate(ranked):
        body += row(name, values, TOP + ROW * place + ROW / 2)
    names = "; ".join(f"{name}: mean {np.mean(values):.2f} percent" for name, values in ranked)
    return document("Cost of policies above the optimum", names, WIDTH, bottom + 30, body)


def row(name: str, values: Sequence[float], y: float) -> list[str]:
    """One policy."""
    mean, high, largest = np.mean(values), np.percentile(values, 95), np.max(values)
    x = across(float(high))
    line = {"stroke": QUIET, "class_": "network-quiet-line", "fill": "none"}
    return [
        ink(name, 16, y + 4),
        element("line", x1=across(float(mean)), y1=y, x2=across(float(largest)), y2=y, **line),
        element("line", x1=x, y1=y - 6, x2=x, y2=y + 6, stroke_width=2, **line),
        element("circle", cx=across(float(largest)), cy=y, r=4, stroke=QUIET, fill="#ffffff"),
        element("circle", cx=across(float(mean)), cy=y, r=5, fill="#1f5fa8"),
    ]
