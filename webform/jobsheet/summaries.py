"""The line of each folded part of the job sheet: what is inside, before it is opened."""

from collections.abc import Sequence
from dataclasses import dataclass

from triage.services.job.sheet import JobSheet
from webform.formatting import percent
from webform.jobsheet import texts
from webform.jobsheet.log_screen import LogRow
from webform.jobsheet.money_screen import MoneyShown
from webform.jobsheet.plan_screen import PlanShown

NAMED_MAX = 2  # names in a line that is read at a glance


@dataclass(frozen=True, slots=True, kw_only=True)
class Summaries:
    """One line for each part of the sheet."""

    where: str
    another: str
    changed: str
    log: str
    causes: str
    loads: str
    plan: str
    cautions: str
    checks: str
    quote: str
    orders: str
    photos: str


def summaries(
    sheet: JobSheet,
    *,
    where: Sequence[str],
    others: int,
    log: Sequence[LogRow],
    plan: PlanShown,
    money: MoneyShown,
) -> Summaries:
    """Sum up each part; ``where`` are words of the visit, ``others`` the steps worth choosing."""
    loads = [one.part.title for one in (*sheet.load.take, *sheet.load.check)]
    checks = len(texts.CALCULATORS.get(sheet.network.id, texts.EVERY_CALCULATOR))
    own_cautions = len(plan.cautions)
    return Summaries(
        where=" · ".join(one for one in where if one),
        another=texts.counted(others, "next best", "next best") if others else "any of your own",
        changed=_changed(sheet),
        log=texts.counted(len(log), "entry", "entries") if log else "nothing yet",
        causes=_causes(sheet),
        loads=_named(loads) if loads else "none",
        plan=_plan(plan),
        cautions=f"{len(texts.BEFORE_WORK)} for every job, {own_cautions} of these steps",
        checks=f"{texts.counted(checks, 'calculator', 'calculators')}, every test and repair",
        quote=_quote(money),
        orders=_orders(sheet),
        photos=str(len(sheet.photos)) if sheet.photos else "none yet",
    )


def _named(names: Sequence[str]) -> str:
    """Number of things with the names of the first.

    >>> _named(["Belt", "Drain pump", "Lid lock"])
    '3 (Belt, Drain pump and 1 more)'
    """
    shown = ", ".join(names[:NAMED_MAX])
    more = len(names) - NAMED_MAX
    return f"{len(names)} ({shown} and {more} more)" if more > 0 else f"{len(names)} ({shown})"


def _changed(sheet: JobSheet) -> str:
    if not sheet.shifts:
        return ""
    first, more = sheet.shifts[0], len(sheet.shifts) - 1
    text = f"{first.title}, {percent(first.before)} before, {percent(first.after)} now"
    return f"{text}; {more} more" if more else text


def _causes(sheet: JobSheet) -> str:
    causes = sheet.ranking.causes if sheet.ranking else ()
    if not causes:
        return ""
    return f"{causes[0].title}, {percent(causes[0].probability)}; {len(causes) - 1} more"


def _plan(plan: PlanShown) -> str:
    steps = [*plan.lines, *plan.rare]
    if not any(one.is_now for one in steps):
        return texts.counted(len(steps), "step", "steps")
    return texts.counted(len(steps) - 1, "more step", "more steps")


def _quote(money: MoneyShown) -> str:
    quote = money.quote
    if quote is None:
        return "none given"
    state = (
        "waits for a yes" if quote.is_open else "declined" if quote.is_declined else "authorised"
    )
    return f"{quote.amount}, {state}"


def _orders(sheet: JobSheet) -> str:
    orders = sheet.state.orders
    if not orders:
        return "none ordered"
    waiting = len(sheet.state.waiting_for)
    return f"{waiting} of {len(orders)} waited for" if waiting else "all there"
