"""The branching plan as a picture: a checklist with exits, readable in print.

One row a step, its number in front; exits are indented, a line leads from the step whose result
leads there. The bar under a step is the probability of coming there, the figure stands beside it.
Kinds differ by shape: tests a circle, repairs a square, lists and stops hollow. Below its row stand
what is good in a test, the preparations, and the repairs of a list, its parts last. Cautions have
letters; they and the checks of the lists are told once, at the foot.
"""

from collections.abc import Iterator, Mapping
from functools import lru_cache
from itertools import accumulate
from textwrap import wrap

from triage.network.drawing_svg import NEUTRAL, document, element, ink, quiet, tooltip
from triage.services.plan.branching import BranchingPlan, LineKind, PlanLine
from triage.services.plan.lists import CHECK_RULE, GO_ON, HOLD_RULE, RepairCheck
from triage.services.wording import percent

WIDTH = 760.0
ROW = 40.0
TOP = 56.0
LEFT = 24.0
INDENT = 26.0
MARK = 9.0
BAR = 90.0
SMALL = 14.0  # between lines of small text
LARGE = 17.0  # the same of a title that takes more than one
LETTER, LARGE_LETTER = 5.9, 7.0  # width of a letter of small and of usual text, on average
PARAGRAPH = 8.0  # between paragraphs at the foot
TEXTS_KEPT = 4096  # with their lines; a sheet draws its plan anew after every entry

Letters = Mapping[str, str]  # of each caution


def draw_branching_plan(plan: BranchingPlan, title: str) -> str:
    """Draw the plan as an SVG picture; presentation attributes only, the same input the same bytes.

    Parameters
    ----------
    plan : BranchingPlan
    title : str
        Heading, such as the appliance and the complaint.
    """
    letters = _letters(plan)
    tops = _tops(plan, letters)
    end = tops.pop()
    foot, height = _foot(plan, letters, end)
    body = [ink(title, LEFT - MARK, 24.0, font_weight="bold", font_size=16)]
    body += list(_links(plan, tops))
    body += [_row(line, top, letters) for line, top in zip(plan.lines, tops, strict=True)]
    return document(title, plan.beyond_sentence, WIDTH, height, [*body, *foot])


def _letters(plan: BranchingPlan) -> Letters:
    """A, B and so on, for cautions in the order in which the plan comes to them."""
    texts = dict.fromkeys(text for line in plan.lines for text in line.cautions)
    return {text: _letter(place) for place, text in enumerate(texts)}


def _letter(place: int) -> str:
    more, last = divmod(place, 26)
    return (_letter(more - 1) if more else "") + chr(ord("A") + last)


def _x(line: PlanLine) -> float:
    return LEFT + INDENT * line.depth


@lru_cache(maxsize=TEXTS_KEPT)
def _wrapped(text: str, room: int) -> tuple[str, ...]:
    """Lines of a text where ``room`` letters fit in one."""
    return tuple(wrap(text, room))


def _tops(plan: BranchingPlan, letters: Letters) -> list[float]:
    """Where each row stands, and the end of the last."""
    heights = (
        ROW + LARGE * (len(_title(line)) - 1) + SMALL * len(_below(line, letters))
        for line in plan.lines
    )
    return list(accumulate(heights, initial=TOP))


def _title(line: PlanLine) -> tuple[str, ...]:
    """Title of a row, in the lines it takes."""
    came_by = f"{line.came_by}: " if line.came_by else ""
    sure = f" ({percent(line.sure)} sure)" if line.sure else ""
    room = int((WIDTH - _x(line) - 24.0) / LARGE_LETTER)
    return _wrapped(f"{line.number}. {came_by}{line.title}{sure}", room)


def _below(line: PlanLine, letters: Letters) -> tuple[str, ...]:
    """Small text below a row, in the lines it takes."""
    texts = [f"First: {'; '.join(line.preparations)}."] if line.preparations else []
    if line.test is not None and line.test.acceptance:
        texts.append(f"Good: {line.test.acceptance}")
    if line.in_order:
        texts.append(line.sentence)
        texts += [f"Parts: {', '.join(part.title for part in line.parts)}."] if line.parts else []
    if line.unheld_share:
        texts.append(f"Still not right: {percent(line.unheld_share)} that it did not hold.")
    if line.cautions:
        named = ", ".join(sorted(letters[text] for text in line.cautions))
        texts.append(f"Caution{'s' if len(line.cautions) > 1 else ''}: {named}.")
    return _wrapped(" ".join(texts), int((WIDTH - _x(line) - 24.0) / LETTER))


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


def _row(line: PlanLine, y: float, letters: Letters) -> str:
    x = _x(line) + 16.0
    title = _title(line)
    under = y + LARGE * (len(title) - 1)
    facts = f"{percent(line.probability)} of visits come here"
    if line.minutes:
        facts += f", {line.minutes:g} min"
    if line.setup_minutes:
        facts += f" ({line.setup_minutes:g} of them to prepare)"
    if line.parts and not line.in_order:
        facts += ", " + ", ".join(part.title for part in line.parts)
    bar = {"x": x, "y": under + 10.0, "width": max(1.0, BAR * line.probability), "height": 4}
    return element(
        "g",
        tooltip(line.sentence),
        _mark(line, _x(line), y),
        *(ink(text, x, y + 4.0 + LARGE * place) for place, text in enumerate(title)),
        element("rect", **bar, fill=NEUTRAL),
        quiet(facts, x + BAR + 8.0, under + 18.0, font_size=11),
        *(
            quiet(text, x, under + 33.0 + SMALL * place, font_size=11)
            for place, text in enumerate(_below(line, letters))
        ),
    )


def _foot(plan: BranchingPlan, letters: Letters, y: float) -> tuple[list[str], float]:
    """Cautions, checks of the lists, and what the plan leaves open; and where the picture ends."""
    paragraphs = [("Cautions", "")] if letters else []
    paragraphs += [("", f"{letter}. {text}") for text, letter in letters.items()]
    if plan.has_repairs:
        paragraphs += [("After a repair", ""), ("", HOLD_RULE)]
    if plan.checks:
        paragraphs += [("Checks of the lists", ""), ("", f"{GO_ON} {CHECK_RULE}")]
        paragraphs += [("", _check(check)) for check in plan.checks]
    paragraphs += [("Beyond this plan", ""), ("", f"{plan.beyond_sentence} {plan.gap_sentence}")]
    drawn: list[str] = []
    for heading, text in paragraphs:
        y += PARAGRAPH
        if heading:
            y += SMALL
            drawn.append(ink(heading, LEFT - MARK, y, font_weight="bold"))
        for part in _wrapped(text, int((WIDTH - 2.0 * LEFT) / LETTER)):
            y += SMALL
            drawn.append(quiet(part, LEFT - MARK, y, font_size=11))
    return drawn, y + LEFT


def _check(check: RepairCheck) -> str:
    """How a repair is checked, and what is good in its tests."""
    good = [f"{test.title}: {test.acceptance}" for test in check.tests if test.acceptance]
    told = f"{check.repair.title}: {check.sentence}."
    return " ".join([told, *(["Good:"] if good else []), *good])


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
