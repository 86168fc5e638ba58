"""The branching plan on the job sheet: lines that a person reads and a device walks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from triage.services.job.events import Verified
from triage.services.job.place import STILL_BROKEN
from triage.services.plan.branching import BranchingPlan, LineKind, PlanLine
from triage.services.plan.drawing import draw_branching_plan
from triage.services.plan.lists import CHECK_RULE, GO_ON, HOLD_RULE
from webform.formatting import acceptance, minutes, money_range, nowrap, percent, told

DEPTH_SHOWN_MAX = 6  # deeper lines are not moved further in; the number of their line tells
LISTED_IN_PRINT = 3  # repairs of a list on a sheet that is printed on two pages
RARE_SHARE = 0.02  # lines that fewer visits come to stand apart, and are not printed


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLineShown:
    """A line of the plan.

    ``came_from`` is the number of the line it follows, 0 for the first; ``answer`` the ids of the
    results that lead here and ``came_by`` its words. ``then`` says where each result leads, and of
    a repair how likely it did not hold if the machine is still not right. Few
    visits come to a line that ``is_rare``. ``listed`` is what a list says, ``first`` its beginning.
    """

    number: int
    depth: int
    came_from: int
    answer: str
    came_by: str
    step: str
    kind: str
    title: str
    facts: str
    listed: str
    first: str
    acceptance: str
    then: tuple[str, ...]
    is_now: bool
    is_rare: bool


@dataclass(frozen=True, slots=True)
class CheckShown:
    """How the lists of a plan check a repair."""

    title: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanShown:
    """The plan: what is likely, what is ``rare``, how lists check a repair, and the picture.

    ``hold_rule`` says what to do first where a repair did not help; empty in a plan without one.
    """

    note: str
    lines: tuple[PlanLineShown, ...]
    rare: tuple[PlanLineShown, ...]
    hold_rule: str
    check_rule: str
    checks: tuple[CheckShown, ...]
    beyond: str
    picture: Markup
    cautions: tuple[str, ...]


def plan_shown(plan: BranchingPlan, title: str, now: PlanLine | None, note: str = "") -> PlanShown:
    """Put a plan together; ``title`` is that of its picture, ``now`` the line to do now."""
    plan = _in_units_of_the_shop(plan)
    lines = plan_lines(plan, now)
    return PlanShown(
        note=note,
        lines=tuple(one for one in lines if not one.is_rare),
        rare=tuple(one for one in lines if one.is_rare),
        hold_rule=HOLD_RULE if plan.has_repairs else "",
        check_rule=f"{GO_ON} {CHECK_RULE}",
        checks=tuple(CheckShown(one.repair.title, one.sentence) for one in plan.checks),
        beyond=nowrap(plan.beyond_sentence),
        picture=Markup(draw_branching_plan(plan, title)),
        cautions=tuple(dict.fromkeys(text for one in plan.lines for text in one.cautions)),
    )


def _in_units_of_the_shop(plan: BranchingPlan) -> BranchingPlan:
    lines = (
        replace(line, came_by=told(line.came_by), sentence=told(line.sentence))
        for line in plan.lines
    )
    return replace(plan, lines=tuple(lines))


def plan_lines(plan: BranchingPlan, now: PlanLine | None) -> tuple[PlanLineShown, ...]:
    """Lines of a plan; ``now`` is the one to do now."""
    by_number = {line.number: line for line in plan.lines}
    return tuple(_line(line, by_number, plan, now) for line in plan.lines)


def _line(
    line: PlanLine, by_number: Mapping[int, PlanLine], plan: BranchingPlan, now: PlanLine | None
) -> PlanLineShown:
    parent = by_number.get(line.came_from or 0)
    is_now = now is not None and now.number == line.number
    return PlanLineShown(
        number=line.number,
        depth=min(line.depth, DEPTH_SHOWN_MAX),
        came_from=parent.number if parent else 0,
        answer=" ".join(_answer(parent, label) for label in line.results),
        came_by=line.came_by,
        step=line.test.id if line.test else line.repair.id if line.repair else "",
        kind=line.kind.value,
        title=line.title,
        facts=_facts(line, plan.currency),
        listed=line.sentence if line.in_order else "",
        first=_first_of(line) if line.in_order else "",
        acceptance=acceptance(line.test) if line.test and _is_first(line, plan) else "",
        then=_then(line, [one for one in plan.lines if one.came_from == line.number]),
        is_now=is_now,
        is_rare=line.probability < RARE_SHARE and not is_now,
    )


def _then(line: PlanLine, onward: Sequence[PlanLine]) -> tuple[str, ...]:
    """Where each result of a line leads; after a repair that did not help first to itself."""
    if line.kind is not LineKind.REPAIR:
        return tuple(f"{one.came_by}: step {one.number}" for one in onward)
    go_on = f" Then step {onward[0].number}." if onward else ""
    share = f" ({percent(line.unheld_share)} not)" if line.unheld_share else ""
    return (nowrap(f"{STILL_BROKEN}: did it hold{share}?{go_on}"),)


def _is_first(line: PlanLine, plan: BranchingPlan) -> bool:
    """Whether no line before this one has the same test: what is good is told once."""
    first = next(one for one in plan.lines if one.test == line.test)
    return first.number == line.number


def _answer(parent: PlanLine | None, label: str) -> str:
    """Id of the result that leads to a line."""
    if parent is None:
        return ""
    if parent.test is not None:
        found = [name for name, text in parent.test.answers.items() if text == label]
        return found[0] if found else ""
    return Verified.STILL_BROKEN.value if label == STILL_BROKEN else ""


def _facts(line: PlanLine, currency: str) -> str:
    """What stands below the title of a line."""
    facts = [f"{percent(line.probability)} of visits come here"]
    if line.minutes:
        facts.append(minutes(line.minutes))
    if line.sure:
        facts.append(f"{percent(line.sure)} sure")
    if line.parts:
        facts.append(", ".join(part.title for part in line.parts))
    if line.price_minor:
        facts.append(money_range(*line.price_minor, currency))
    return nowrap("; ".join(facts))


def _first_of(line: PlanLine) -> str:
    """Beginning of a list, for a sheet that has two pages only."""
    names = [one.repair.title for one in line.in_order]
    if len(names) <= LISTED_IN_PRINT:
        return line.sentence
    return f"{'; '.join(names[:LISTED_IN_PRINT])}; and so on"
