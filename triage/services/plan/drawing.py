"""The branching plan as a picture: a checklist with exits, readable in print.

One row a step, its number in front; exits are indented, a line leads from the step whose result
leads there. The bar under a step is the probability of coming there, the figure stands beside it.
Kinds differ by shape: tests a circle, repairs a square, lists and stops hollow. A list is written
out below its row, the parts of any of its repairs last.
"""

from collections.abc import Iterator
from itertools import accumulate
from textwrap import wrap

from triage.network.drawing_svg import NEUTRAL, document, element, ink, quiet, tooltip
from triage.services.plan.branching import BranchingPlan, LineKind, PlanLine
from triage.services.wording import percent

WIDTH = 760.0
ROW = 40.0
TOP = 56.0
LEFT = 24.0
INDENT = 26.0
MARK = 9.0
BAR = 90.0
SMALL = 14.0  # between lines of a list
LETTER = 5.6  # width of a small letter, on average


def draw_branching_plan(plan: BranchingPlan, title: str) -> str:
    """Draw the plan as an SVG picture; presentation attributes only, the same input the same bytes.

    Parameters
    ----------
    plan : BranchingPlan
    title : str
        Heading, such as the appliance and the complaint.
    """
    tops = _tops(plan)
    height = tops.pop() + 30.0
    body = [ink(title, LEFT - MARK, 24.0, font_weight="bold", font_size=16)]
    body += list(_links(plan, tops))
    body += [_row(line, top) for line, top in zip(plan.lines, tops, strict=True)]
    body.append(quiet(plan.beyond_sentence, LEFT - MARK, height - 14.0))
    return document(title, plan.beyond_sentence, WIDTH, height, body)


def _x(line: PlanLine) -> float:
    return LEFT + INDENT * line.depth


def _tops(plan: BranchingPlan) -> list[float]:
    """Where each row stands, and the end of the last."""
    heights = (ROW + SMALL * len(_written_out(line)) for line in plan.lines)
    return list(accumulate(heights, initial=TOP))


def _written_out(line: PlanLine) -> list[str]:
    """Text of a list below its row."""
    if not line.in_order:
        return []
    parts = ", ".join(part.title for part in line.parts)
    told = f"{line.sentence} Parts: {parts}." if parts else line.sentence
    return wrap(told, int((WIDTH - _x(line) - 24.0) / LETTER))


def _links(plan: BranchingPlan, tops: list[float]) -> Iterator[str]:
    """Lines from each step to the steps its results lead to."""
    places = {line.number: place for place, line in enumerate(plan.lines)}
    for place, line in enumerate(plan.lines):
        if line.came_from is None:
            continue
        source = plan.lines[places[line.came_from]]
        x, y = _x(source), tops[places[line.came_from]]
        path = f"M{x:.1f} {y + MARK:.1f}V{tops[place]:.1f}H{_x(line) - MARK:.1f}"
        if line.depth == source.depth:
            path = f"M{x:.1f} {y + MARK:.1f}V{tops[place] - MARK:.1f}"
        yield element(
            "path", d=path, fill="none", stroke=NEUTRAL, stroke_width=1, class_="network-quiet-line"
        )


def _row(line: PlanLine, y: float) -> str:
    x = _x(line)
    came_by = f"{line.came_by}: " if line.came_by else ""
    head = f"{line.number}. {came_by}{line.title}"
    if line.sure:
        head += f" ({percent(line.sure)} sure)"
    bar = element(
        "rect",
        x=x + 16.0,
        y=y + 10.0,
        width=max(1.0, BAR * line.probability),
        height=4,
        fill=NEUTRAL,
    )
    below = f"{percent(line.probability)} of visits come here"
    if line.minutes:
        below += f", {line.minutes:g} min"
    if line.setup_minutes:
        below += f" ({line.setup_minutes:g} of them to prepare)"
    if line.parts and not line.in_order:
        below += ", " + ", ".join(part.title for part in line.parts)
    return element(
        "g",
        tooltip(" ".join([line.sentence, *(f"First: {step}." for step in line.preparations)])),
        _mark(line, x, y),
        ink(head, x + 16.0, y + 4.0),
        bar,
        quiet(below, x + 16.0 + BAR + 8.0, y + 18.0, font_size=11),
        *(
            quiet(text, x + 16.0, y + 33.0 + SMALL * place, font_size=11)
            for place, text in enumerate(_written_out(line))
        ),
    )


def _mark(line: PlanLine, x: float, y: float) -> str:
    if line.kind is LineKind.TEST:
        return element("circle", cx=x, cy=y, r=MARK / 1.5, fill=NEUTRAL)
    side = MARK * 1.4
    box = {"x": x - side / 2, "y": y - side / 2, "width": side, "height": side}
    if line.kind is LineKind.REPAIR:
        return element("rect", **box, fill=NEUTRAL)
    return element(
        "rect", **box, fill="none", stroke=NEUTRAL, stroke_width=1.5, class_="network-quiet-line"
    )
