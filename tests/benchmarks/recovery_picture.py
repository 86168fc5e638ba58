"""Picture of learning: excess surprise against the number of closed jobs."""

from collections.abc import Mapping, Sequence

import numpy as np

from triage.network.drawing_svg import QUIET, document, element, ink, quiet

LEFT, RIGHT, TOP, HEIGHT, WIDTH = 60, 170, 64, 260, 760  # pixels
TICK_PERCENT = 2.0
GOAL_PERCENT = 2.0
DASHES = ("none", "7 4", "2 3")


def picture(jobs: Sequence[int], curves: Mapping[str, Sequence[float]]) -> str:
    """SVG with one line per curve; the numbers of jobs stand at equal distances."""
    highest = max(max(values) for values in curves.values())
    top = TICK_PERCENT * np.ceil(highest / TICK_PERCENT)
    bottom = TOP + HEIGHT
    across = np.linspace(LEFT, WIDTH - RIGHT, len(jobs))

    def down(percent: float) -> float:
        return float(bottom - HEIGHT * percent / top)

    body = [ink("Surprise above that of the true numbers, percent", 16, 26, font_weight="bold")]
    body.append(quiet("by number of closed jobs learned from; mean over the shops", 16, 44))
    for tick in np.arange(0.0, top + 0.5, TICK_PERCENT):
        y = down(float(tick))
        body.append(element("line", x1=LEFT, y1=y, x2=WIDTH - RIGHT, y2=y, stroke="#d5d9e0"))
        body.append(quiet(f"{tick:g}", LEFT - 8, y + 4, text_anchor="end"))
    goal = down(GOAL_PERCENT)
    body.append(
        element("line", x1=LEFT, y1=goal, x2=WIDTH - RIGHT, y2=goal, stroke=QUIET, stroke_width=1.5)
    )
    body.append(quiet("goal at 3,000 jobs", WIDTH - RIGHT + 10, goal + 4))
    for count, x in zip(jobs, across, strict=True):
        body.append(quiet(f"{count:,}", float(x), bottom + 20, text_anchor="middle"))
    for (name, values), dashes in zip(curves.items(), DASHES, strict=True):
        places = [(float(x), down(value)) for x, value in zip(across, values, strict=True)]
        body += curve(name, places, dashes)
    ends = "; ".join(
        f"{name}: {values[0]:.1f} to {values[-1]:.1f} percent" for name, values in curves.items()
    )
    return document("What learning brings", ends, WIDTH, bottom + 40, body + legend(list(curves)))


def curve(name: str, places: Sequence[tuple[float, float]], dashes: str) -> list[str]:
    """One line with its points."""
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    line = element(
        "polyline",
        points=points,
        fill="none",
        stroke="#1f5fa8",
        stroke_width=2,
        stroke_dasharray=dashes,
    )
    return [line, *(element("circle", cx=x, cy=y, r=3, fill="#1f5fa8") for x, y in places)]


def legend(names: Sequence[str]) -> list[str]:
    """Names of the lines with their dashes, at the right edge."""
    body = []
    for place, (name, dashes) in enumerate(zip(names, DASHES, strict=True)):
        y = TOP + 10 + 22 * place
        x = WIDTH - RIGHT + 10
        body.append(
            element(
                "line",
                x1=x,
                y1=y,
                x2=x + 34,
                y2=y,
                stroke="#1f5fa8",
                stroke_width=2,
                stroke_dasharray=dashes,
            )
        )
        body.append(ink(name, x + 42, y + 4))
    return body
