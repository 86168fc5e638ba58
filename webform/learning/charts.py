"""Pictures of scores as SVG; their colours come from classes, so that dark and print hold."""

from collections.abc import Sequence
from html import escape

from markupsafe import Markup

from triage.services.learning.scoring import Scores

SIZE, LEFT, TOP, BOTTOM, RIGHT = 300, 46, 12, 44, 28
HEIGHT_COUNTS = 54
GRID = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)


def reliability_picture(scores: Scores, title: str) -> Markup:
    """Reliability diagram: how often what was forecast came true, with intervals and counts."""
    width = LEFT + SIZE + RIGHT
    height = TOP + SIZE + BOTTOM + HEIGHT_COUNTS
    most = max(one.count for one in scores.bins)
    parts = [*_grid(), _line(0.0, 0.0, 1.0, 1.0, "chart-even")]
    for one in scores.bins:
        x = _x(one.mean_probability)
        low, high, at = _y(one.observed.low), _y(one.observed.high), _y(one.observed.value)
        parts.append(f'<line class="chart-interval" x1="{x}" y1="{low}" x2="{x}" y2="{high}"/>')
        parts.append(f'<circle class="chart-dot" cx="{x}" cy="{at}" r="4"/>')
        tall = max(1.0, 26.0 * one.count / most)
        foot = TOP + SIZE + BOTTOM + 40
        left = _x((one.low + one.high) / 2.0) - 9
        parts.append(
            f'<rect class="chart-count" x="{left:.1f}" y="{foot - tall:.1f}" width="18" '
            f'height="{tall:.1f}"/>'
        )
        parts.append(
            f'<text class="chart-small" x="{left + 9:.1f}" y="{foot + 11}" '
            f'text-anchor="middle">{_count(one.count)}</text>'
        )
    parts.append(_words(LEFT + SIZE / 2, TOP + SIZE + 34, "forecast"))
    return Markup(
        f'<svg class="chart" role="img" viewBox="0 0 {width} {height}" '
        f'aria-label="{escape(title)}">{"".join(parts)}</svg>'
    )


def months_picture(months: Sequence[tuple[str, float, float]], title: str) -> Markup:
    """Surprise by month, of the learned and of the frozen network, in bits a job."""
    if len(months) < 2:
        return Markup("")
    most = max(max(one[1:]) for one in months) * 1.1
    wide = 440
    foot = TOP + 160
    parts = [f'<line class="chart-grid" x1="{LEFT}" y1="{foot}" x2="{LEFT + wide}" y2="{foot}"/>']
    for place, name in enumerate(("chart-learned", "chart-frozen"), start=1):
        points = " ".join(
            f"{LEFT + wide * k / (len(months) - 1):.1f},{foot - 160 * float(one[place]) / most:.1f}"
            for k, one in enumerate(months)
        )
        parts.append(f'<polyline class="{name}" points="{points}"/>')
    every = max(1, len(months) // 6)
    for k in range(0, len(months), every):
        x = LEFT + wide * k / (len(months) - 1)
        parts.append(_words(x, TOP + 178, months[k][0]))
    for share in (0.0, 0.5, 1.0):
        y = TOP + 160 * (1 - share)
        parts.append(
            f'<text class="chart-small" x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">'
            f"{share * most:.1f}</text>"
        )
    return Markup(
        f'<svg class="chart wide" role="img" viewBox="0 0 {LEFT + wide + 40} 200" '
        f'aria-label="{escape(title)}">{"".join(parts)}</svg>'
    )


def _grid() -> list[str]:
    parts = []
    for at in GRID:
        parts.append(_line(0.0, at, 1.0, at, "chart-grid"))
        parts.append(_line(at, 0.0, at, 1.0, "chart-grid"))
        parts.append(
            f'<text class="chart-small" x="{LEFT - 6}" y="{_y(at) + 4:.1f}" text-anchor="end">'
            f"{100 * at:.0f}</text>"
        )
        parts.append(_words(_x(at), TOP + SIZE + 16, f"{100 * at:.0f} %"))
    return parts


def _line(x1: float, y1: float, x2: float, y2: float, name: str) -> str:
    return f'<line class="{name}" x1="{_x(x1)}" y1="{_y(y1)}" x2="{_x(x2)}" y2="{_y(y2)}"/>'


def _words(x: float, y: float, text: str) -> str:
    place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="middle"'
    return f'<text class="chart-small" {place}>{escape(text)}</text>'


def _x(value: float) -> float:
    return round(LEFT + SIZE * value, 1)


def _y(value: float) -> float:
    return round(TOP + SIZE * (1.0 - value), 1)


def _count(count: int) -> str:
    return str(count) if count < 10_000 else f"{count / 1000:.0f}k"
