"""A first visit plan as text: how to end the call, tests in order, parts to load, cautions."""

from collections.abc import Iterable

from triage.cli.output import heading, minutes_text, table, wrapped
from triage.services.plan.branching import BranchingPlan, LineKind, PlanLine
from triage.services.plan.lists import CHECK_RULE, GO_ON, HOLD_RULE
from triage.services.plan.offer import visit_offer
from triage.services.plan.visit import PartToLoad, PlannedStep, VisitPlan
from triage.services.wording import MINOR_UNITS, money_range, percent


def plan_lines(plan: VisitPlan) -> list[str]:
    """Return the plan as lines of text."""
    low, high = (f"{end / MINOR_UNITS:.2f}" for end in plan.price_range_minor)
    offer = visit_offer(plan)
    lines = [
        plan.outcome_title,
        *_listed(plan.reasons),
        f"  Time on site: {plan.minutes_p50:.0f} min as likely as not, "
        f"{plan.minutes_p80:.0f} min in four of five visits, {plan.minutes_p95:.0f} in 19 of 20",
        f"  Slot to book: {offer.slot_minutes} min",
        f"  Finished on the first visit: {percent(plan.first_visit_share)}",
        f"  Price to the customer: {low} to {high} {plan.currency}; "
        f"{percent(plan.declined_share)} of quotes are declined",
        heading("Expected cost to shop and customer, in " + plan.currency),
        *_ending_lines(plan),
        heading("Say before booking"),
        *_listed(offer.script),
    ]
    if plan.caller_steps:
        lines += [heading("The caller can try")]
        for own in plan.caller_steps:
            lines += [
                wrapped(f"- {own.title} ({percent(own.probability)})", 2, 2),
                wrapped(own.sentence, 4),
            ]
    if plan.steps:
        lines += [heading("Tests, in this order")]
        for place, step in enumerate(plan.steps, start=1):
            lines += _step_lines(place, step)
    lines += _part_lines(plan)
    if plan.advice is not None:
        lines += [heading(f"Repair or not: {plan.advice.title}")]
        lines += _listed((*plan.advice.reasons, *plan.advice.cautions))
    if plan.cautions:
        lines += [heading("Cautions"), *_listed(plan.cautions)]
    return lines


def branching_lines(plan: BranchingPlan) -> list[str]:
    """Return the branching plan as an indented checklist."""
    steps = [text for line in plan.lines for text in _branch_line(line, plan.currency)]
    if plan.has_repairs:
        steps += ["", wrapped(HOLD_RULE, 0)]
    if plan.checks:
        steps += [heading("Checks of the lists"), *_listed((GO_ON, CHECK_RULE))]
        steps += _listed(f"{check.repair.title}: {check.sentence}" for check in plan.checks)
    return [*steps, "", wrapped(plan.beyond_sentence, 0), wrapped(plan.gap_sentence, 0)]


def _branch_line(line: PlanLine, currency: str) -> list[str]:
    came_by = f"{line.came_by}: " if line.came_by else ""
    sure = f", {percent(line.sure)} sure" if line.sure else ""
    time = f", {minutes_text(line.minutes)}" if line.minutes else ""
    text = f"{line.number}. {came_by}{line.title} ({percent(line.probability)}{time}{sure})"
    indent = 2 + 3 * line.depth
    before = [wrapped(f"First: {'; '.join(line.preparations)}", indent + 4, 7)]
    lines = [wrapped(text, indent, 4), *(before if line.preparations else [])]
    if line.kind is LineKind.LIST:
        lines.append(wrapped(line.sentence, indent + 4))
    if line.unheld_share:
        told = f"Still not right: {percent(line.unheld_share)} that it did not hold"
        lines.append(wrapped(told, indent + 4, 7))
    if line.price_minor and line.parts:
        parts = ", ".join(part.title for part in line.parts)
        price = money_range(*line.price_minor, currency)
        lines.append(wrapped(f"Parts: {parts}; price {price}", indent + 4, 7))
    return lines


def _ending_lines(plan: VisitPlan) -> list[str]:
    rows = [
        (
            f"{entry.expected_cost_minor / MINOR_UNITS:.0f}",
            f"+{entry.difference_minor / MINOR_UNITS:.0f}" if entry.difference_minor else "",
            f"{entry.title}. {entry.sentence}",
        )
        for entry in plan.endings
    ]
    return table(rows, right=(0, 1))


def _part_lines(plan: VisitPlan) -> list[str]:
    visit = plan.load.visits[0]
    lines = []
    if plan.parts:
        lines += [heading("Parts to load")]
        lines += _listed(f"{_name(entry)}: {entry.where}; {entry.reason}" for entry in plan.parts)
    lines += [
        wrapped(
            f"All parts of the job aboard: {percent(visit.fill_rate)} "
            f"(van as it is: {percent(visit.fill_rate_of_van)})",
            2,
        )
    ]
    return [*lines, *_listed(visit.asks)]


def _name(entry: PartToLoad) -> str:
    return f"{entry.part.title}, {entry.number}" if entry.number else entry.part.title


def _step_lines(place: int, step: PlannedStep) -> list[str]:
    look = step.planned.observation
    lines = [
        wrapped(f"{place}. {look.title} ({minutes_text(look.minutes)})", 2, 3),
        wrapped(look.wording, 5),
    ]
    if step.preconditions:
        lines.append(wrapped(f"Needs: {'; '.join(step.preconditions)}", 5, 7))
    if look.acceptance:
        lines.append(wrapped(f"Good: {look.acceptance}", 5, 6))
    return [*lines, *(wrapped(f"- {result}", 5, 2) for result in step.results)]


def _listed(texts: Iterable[str]) -> list[str]:
    return [wrapped(f"- {text}", 2, 2) for text in texts]
