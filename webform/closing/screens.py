"""Read models of the pages that close a job: every value a finished text."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from flask import url_for
from wtforms import Field

from triage.services.closing.amounts import amounts
from triage.services.closing.draft import ClosingDraft
from triage.services.closing.invoice import Invoice, exact_money
from triage.services.closing.values import ClosingGiven, ClosingOutcome
from triage.services.networks.labels import title_of
from triage.services.networks.scope import appliance_title
from triage.services.settings.shop_front import ShopFront
from webform.access import may_open
from webform.closing.forms import ClosingForm, PartRow
from webform.closing.texts import (
    DEGREES_TOLD,
    NOTHING_KNOWN,
    OUTCOMES_SHORT,
    UNSURE,
    VERIFIED,
)
from webform.formatting import date_and_time, minutes, percent


@dataclass(frozen=True, slots=True)
class CauseRow:
    """A cause with its chance and its field."""

    chance: str
    field: Field


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosingScreen:
    """Everything the page that closes a job shows; empty texts are left out.

    ``closed`` says how the job is closed already. ``proposal`` is what one press of the button
    records, in one sentence each.
    """

    call_id: int
    caller: str
    appliance: str
    proposal: tuple[str, ...]
    causes: tuple[CauseRow, ...]
    parts: tuple[PartRow, ...]
    more_parts: tuple[PartRow, ...]
    has_more_parts: bool
    has_repairs: bool
    has_earlier: bool
    later_visit: str
    closed: str
    job_url: str


@dataclass(frozen=True, slots=True)
class InvoiceRow:
    """A line of the invoice."""

    title: str
    amount: str


@dataclass(frozen=True, slots=True, kw_only=True)
class InvoiceScreen:
    """The invoice as a page; ``text`` is the whole of it to copy."""

    call_id: int
    shop: str
    address: tuple[str, ...]
    head: str
    rows: tuple[InvoiceRow, ...]
    total: str
    guarantee: tuple[str, ...]
    text: str
    correct_url: str


def closing_screen(draft: ClosingDraft, form: ClosingForm, front: ShopFront) -> ClosingScreen:
    """Page that closes a job."""
    standing = draft.standing
    closed = ""
    if standing is not None:
        closed = f"Closed by {standing.closed_by}, {date_and_time(standing.closed_at)}."
    rows = tuple(form.part_rows()) if draft.parts else ()
    filled = len(draft.given.parts)
    chances = {cause.mode: percent(cause.probability) for cause in draft.causes}
    return ClosingScreen(
        call_id=draft.call_id,
        caller=draft.caller,
        appliance=appliance_title(draft.appliance),
        proposal=tuple(_proposal(draft, front)),
        causes=tuple(CauseRow(chances[name], field) for name, field in form.cause_fields().items()),
        parts=rows[:filled],
        more_parts=rows[filled:],
        has_more_parts=form.has_more_parts(),
        has_repairs=bool(draft.repairs),
        has_earlier=bool(draft.earlier),
        later_visit="" if draft.later_visit is None else date_and_time(draft.later_visit),
        closed=closed,
        job_url=_url("jobsheet.job", draft.call_id),
    )


def _proposal(draft: ClosingDraft, front: ShopFront) -> Iterator[str]:
    """What one press of the button records."""
    given = draft.given
    yield OUTCOMES_SHORT[given.outcome]
    titles = {cause.mode: cause.title for cause in draft.causes} | dict(draft.other_causes)
    if given.causes:
        yield causes_told(given, titles)
    elif given.outcome is ClosingOutcome.REPAIRED:
        yield NOTHING_KNOWN.capitalize()
    if given.repairs:
        known = {repair.id: repair.title for repair in draft.repairs}
        done = ", then ".join(known[name] for name in given.repairs if name in known)
        yield f"{done}: {VERIFIED[given.verification].lower()}"
    pieces = sum(part.pieces for part in given.parts)
    if pieces:
        yield "1 piece fitted" if pieces == 1 else f"{pieces} pieces fitted"
    if given.minutes is not None:
        yield f"{minutes(given.minutes)} on site"
    sums = amounts(
        fee_minor=given.fee_minor,
        labour_minor=given.labour_minor,
        parts_minor=[(part.pieces, part.price_minor) for part in given.parts],
        front=front,
    )
    tax = f", {front.tax_name} included" if sums.tax_minor else ""
    yield f"{exact_money(sums.total_minor, draft.network.currency)} to pay{tax}"


def causes_told(given: ClosingGiven, titles: Mapping[str, str]) -> str:
    """Causes in a sentence, each with how it is known."""
    told = "; ".join(
        f"{title_of(titles, one.cause)} ({DEGREES_TOLD[one.degree]})" for one in given.causes
    )
    return f"{UNSURE.capitalize()}{told}" if given.is_unsure else told


def invoice_screen(made: Invoice) -> InvoiceScreen:
    """Invoice as a page."""
    rows = [InvoiceRow(line.title, exact_money(line.amount_minor)) for line in made.lines]
    if made.tax is not None:
        rows.append(InvoiceRow("Before tax", exact_money(made.net_minor)))
        rows.append(InvoiceRow(made.tax.title, exact_money(made.tax.amount_minor)))
    return InvoiceScreen(
        call_id=made.call_id,
        shop=made.shop,
        address=tuple(made.address.splitlines()),
        head=f"{made.appliance}, {made.day}",
        rows=tuple(rows),
        total=exact_money(made.total_minor, made.currency),
        guarantee=made.guarantee,
        text=made.text,
        correct_url=_url("closing.correct", made.call_id),
    )


def _url(endpoint: str, call_id: int) -> str:
    """Address of a page if whoever is at work may open it, else empty."""
    return url_for(endpoint, call_id=call_id) if may_open(endpoint) else ""
