"""Read model of the job sheet: every text and number as the template places it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from flask import url_for

from triage.network.values import FaultNetwork
from triage.services.job.events import Verified
from triage.services.job.sheet import JobSheet
from triage.services.plan.next_step import StepCard
from webform.access import may_open
from webform.desk import desk
from webform.formatting import minutes, money, nowrap, told
from webform.forms import Ticket
from webform.jobsheet import texts
from webform.jobsheet.known_screen import KnownShown, known_shown
from webform.jobsheet.log_screen import (
    LogRow,
    OrderShown,
    PhotoShown,
    entered,
    log_rows,
    orders,
    photos,
)
from webform.jobsheet.money_screen import MoneyShown, money_shown
from webform.jobsheet.plan_screen import PlanShown, plan_shown
from webform.jobsheet.refusal import NOTHING_REFUSED, Refusal, kinds_shown
from webform.jobsheet.steps_screen import StepShown, step_shown
from webform.jobsheet.summaries import Summaries, summaries


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Who, where and when."""

    name: str
    phone: str
    phone_url: str
    address: tuple[str, ...]
    notes: tuple[str, ...]
    machine: str
    window: str
    slot: str
    state: str
    may_arrive: bool
    may_leave: bool


@dataclass(frozen=True, slots=True)
class OtherStep:
    """A step that may be taken instead, with what it costs more."""

    id: str
    title: str
    extra: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NowShown:
    """The step to do now, what is to be said about it, and what may be done instead."""

    step: StepShown | None
    note: str
    proposed: str
    others: tuple[OtherStep, ...]
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ChoicesShown:
    """What may be chosen in the forms of the sheet."""

    tests: tuple[OtherStep, ...]
    repairs: tuple[OtherStep, ...]
    parts: tuple[OtherStep, ...]
    components: tuple[OtherStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetScreen:
    """Everything the job sheet shows; ``is_open`` where every part is shown open."""

    call_id: int
    version: int
    ticket: Ticket
    title: str
    refusal: Refusal
    is_open: bool
    open_url: str
    says: Summaries
    network_id: str
    network_version: int
    words: str
    shown_at: str
    where: Where
    safety: tuple[str, ...]
    is_closed: bool
    close_url: str
    book_url: str
    notice: str
    warnings: tuple[str, ...]
    now: NowShown
    known: KnownShown
    plan: PlanShown
    log: tuple[LogRow, ...]
    told_by_phone: tuple[LogRow, ...]
    money: MoneyShown
    choices: ChoicesShown
    orders: tuple[OrderShown, ...]
    photos: tuple[PhotoShown, ...]


def sheet_screen(
    sheet: JobSheet, now: datetime, refusal: Refusal = NOTHING_REFUSED, *, is_open: bool = False
) -> SheetScreen:
    """Put the job sheet together, with what could not be recorded."""
    state, network = sheet.state, sheet.network
    call_id = state.call.call_id
    name = sheet.customer.name if sheet.customer else state.call.caller
    where, step, plan = _where(sheet, name), _now(sheet), _plan(sheet)
    log = log_rows(sheet.site_made, state.told, network)
    told = money_shown(sheet, _card(sheet))
    return SheetScreen(
        call_id=call_id,
        version=state.version,
        ticket=Ticket.for_page(state.version),
        title=texts.job_title(call_id, name),
        refusal=_on_sheet(refusal, sheet, step),
        is_open=is_open,
        open_url=url_for("jobsheet.job", call_id=call_id, show="all"),
        says=_says(sheet, where, step, plan, log, told),
        network_id=network.id,
        network_version=network.version,
        words=state.call.words,
        shown_at=f"{now.astimezone(desk().time_zone):%H:%M}",
        where=where,
        safety=_safety(sheet),
        is_closed=sheet.is_closed,
        close_url=_url_if_there("closing.close", call_id),
        book_url=_url_if_there("booking.book", call_id),
        notice=_notice(sheet),
        warnings=_warnings(sheet),
        now=step,
        known=known_shown(sheet),
        plan=plan,
        log=log,
        told_by_phone=log_rows(sheet.phone_findings, (), network),
        money=told,
        choices=_choices(network),
        orders=orders(state, network),
        photos=photos(sheet.photos, call_id),
    )


def _on_sheet(refusal: Refusal, sheet: JobSheet, now: NowShown) -> Refusal:
    """What could not be recorded, at its field if that is on the sheet."""
    step = now.step.id if now.step else ""
    return refusal.on_sheet(step, kinds_shown(sheet), entered(sheet.network, refusal.fields))


def _says(
    sheet: JobSheet,
    where: Where,
    now: NowShown,
    plan: PlanShown,
    log: Sequence[LogRow],
    told: MoneyShown,
) -> Summaries:
    """Line of each folded part."""
    words, others = _where_words(sheet, where), len(now.others)
    return summaries(sheet, where=words, others=others, log=log, plan=plan, money=told)


def _where_words(sheet: JobSheet, where: Where) -> Sequence[str]:
    """What is read at a glance before the rest of who, where and when."""
    state = "Closed" if sheet.is_closed else where.state
    window = where.window.removeprefix(f"{desk().midnight():%a %d %b}, ")
    return (sheet.network.title, state, window, ", ".join(where.address))


def _now(sheet: JobSheet) -> NowShown:
    card = _card(sheet)
    step, note = _step(sheet, card)
    return NowShown(
        step=step,
        note=note,
        proposed=card.id if card else "",
        others=_others(sheet, step),
        why=_why(sheet),
    )


def _card(sheet: JobSheet) -> StepCard | None:
    """Step that the program proposes."""
    return sheet.next_step.recommended if sheet.next_step else None


def _plan(sheet: JobSheet) -> PlanShown:
    line = sheet.place.line if sheet.place else None
    if sheet.place and sheet.place.is_off and sheet.plan.lines:
        line = sheet.plan.lines[0]
    return plan_shown(sheet.plan, sheet.network.title, line, _plan_note(sheet))


def _choices(network: FaultNetwork) -> ChoicesShown:
    tests = (one for one in network.observations.values() if one.channel.is_on_site)
    repairs = sorted(network.repairs.values(), key=lambda one: one.title)
    parts = sorted(network.parts.values(), key=lambda one: one.title)
    return ChoicesShown(
        *(
            tuple(OtherStep(one.id, one.title, "") for one in group)
            for group in (tests, repairs, parts, network.components.values())
        )
    )


def _step(sheet: JobSheet, card: StepCard | None) -> tuple[StepShown | None, str]:
    """Step to do now, and what is to be said about it."""
    network, state = sheet.network, sheet.state
    if sheet.next_step is None:
        return None, ""
    cards = {one.id: one for one in (card, *sheet.next_step.alternatives) if one is not None}
    if state.taken in network.observations or state.taken in network.repairs:
        is_other = card is not None and card.id != state.taken
        note = texts.YOU_CHOSE.format(title=card.title) if card and is_other else ""
        return step_shown(network, state.taken, cards.get(state.taken)), note
    verified = state.verified(network)
    is_run_open = verified is Verified.NOT_RUN and network.verification is not None
    if is_run_open and network.verification:
        return step_shown(network, network.verification), texts.CHECK_RUN_OPEN
    return (None if card is None else step_shown(network, card.id, card)), ""


def _others(sheet: JobSheet, step: StepShown | None) -> tuple[OtherStep, ...]:
    """Steps that may be taken instead of the one shown."""
    if sheet.next_step is None:
        return ()
    return tuple(
        OtherStep(one.id, one.title, money(one.extra_minor, sheet.currency))
        for one in sheet.next_step.alternatives
        if one.id and (step is None or one.id != step.id)
    )


def _notice(sheet: JobSheet) -> str:
    if sheet.is_closed:
        return ""
    if sheet.ranking is None:
        return texts.EXCLUDE
    if sheet.state.verified(sheet.network) is Verified.WORKS:
        return texts.CURED
    if sheet.next_step is not None and sheet.next_step.recommended is None:
        return texts.NOTHING_LEFT
    return ""


def _warnings(sheet: JobSheet) -> tuple[str, ...]:
    """What does not fit: findings that hardly go together."""
    if sheet.ranking is None or not sheet.ranking.conflict_sentence:
        return ()
    return (told(sheet.ranking.conflict_sentence),)


def _plan_note(sheet: JobSheet) -> str:
    place = sheet.place
    if place is None:
        return ""
    if place.is_off:
        return texts.OFF_PLAN.format(left_by=told(place.left_by))
    return texts.ON_PLAN.format(number=place.line.number) if place.line else ""


def _why(sheet: JobSheet) -> tuple[str, ...]:
    if sheet.next_step is None or sheet.next_step.recommended is None:
        return ()
    return (told(sheet.next_step.basis_sentence), nowrap(sheet.next_step.gap_sentence))


def _safety(sheet: JobSheet) -> tuple[str, ...]:
    """What the safety questions brought, and who made the machine safe."""
    safety = sheet.state.call.safety(sheet.network)
    raised = [flag.title for flag in safety.raised]
    confirmed = safety.confirmed_by or ""
    return (*raised, *([f"Made safe, as {confirmed} confirmed"] if confirmed else []))


def _where(sheet: JobSheet, name: str) -> Where:
    customer, visit = sheet.customer, sheet.visit
    zone = desk().time_zone
    window = slot = state = ""
    if visit is not None:
        begins, ends = (
            one.astimezone(zone) for one in (visit.window_starts_at, visit.window_ends_at)
        )
        window = f"{begins:%a %d %b, %H:%M} to {ends:%H:%M}"
        slot = minutes((visit.ends_at - visit.starts_at).total_seconds() / 60.0)
        state = texts.VISIT_STATES.get(visit.state, "")
    notes = (customer.notes if customer else "", visit.note if visit else "")
    town = f"{customer.postcode} {customer.town}".strip() if customer else ""
    phone = customer.phone_text if customer else ""
    return Where(
        name=name,
        phone=phone,
        phone_url=f"tel:{customer.phone_e164}" if customer and customer.phone_e164 else "",
        address=tuple(one for one in (customer.street if customer else "", town) if one),
        notes=tuple(one for one in notes if one),
        machine=sheet.plate,
        window=window,
        slot=slot,
        state=state,
        may_arrive=visit is not None and visit.state == "booked",
        may_leave=visit is not None and visit.state == "under_way",
    )


def _url_if_there(endpoint: str, call_id: int) -> str:
    """Address of a page that another area has; empty where one may not open it."""
    return url_for(endpoint, call_id=call_id) if may_open(endpoint) else ""
