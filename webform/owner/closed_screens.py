"""Read models of closed jobs: a list, and one in full, the promise beside what happened."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import url_for

from triage.services.closing.closed import ClosedLine, ClosedPage, JobInFull
from triage.services.closing.invoice import exact_money
from triage.services.closing.values import CallBackKind, ClosingOutcome
from triage.services.job.events import RepairDone
from triage.services.networks.labels import title_of
from triage.services.networks.scope import appliance_title
from webform.closing.screens import causes_told
from webform.closing.texts import CALLBACKS, NOTHING_KNOWN, OUTCOMES_SHORT, UNSURE, VERIFIED
from webform.formatting import answer_told, date_and_time, minutes, money_range, percent
from webform.forms import Ticket


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedRow:
    """A closed job in the list."""

    call_id: int
    url: str
    appliance: str
    caller: str
    outcome: str
    cause: str
    total: str
    closed: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedScreen:
    """A page of closed jobs; the addresses of pages beside it are empty where there is none."""

    rows: tuple[ClosedRow, ...]
    count: str
    newer: str
    older: str
    csv_url: str
    json_url: str
    left: str
    ticket: Ticket


@dataclass(frozen=True, slots=True)
class Compared:
    """Something that was promised, beside what happened."""

    what: str
    promised: str
    happened: str


@dataclass(frozen=True, slots=True)
class ToldRow:
    """A finding or repair of a job: when, what, by whom."""

    when: str
    what: str
    result: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobScreen:
    """A closed job in full."""

    call_id: int
    head: str
    facts: tuple[tuple[str, str], ...]
    compared: tuple[Compared, ...]
    told: tuple[ToldRow, ...]
    note: str
    customer_url: str


def closed_screen(
    found: ClosedPage, chosen: Mapping[str, str], left: Sequence[int]
) -> ClosedScreen:
    """Page of the list, with links that keep what was chosen."""
    kept: dict[str, Any] = {name: value for name, value in chosen.items() if value}
    jobs = "1 job" if found.count == 1 else f"{found.count} jobs"
    return ClosedScreen(
        rows=tuple(_row(line) for line in found.lines),
        count=jobs if found.pages == 1 else f"{jobs}, page {found.page} of {found.pages}",
        newer=_page(found.page - 1, kept) if found.page > 1 else "",
        older=_page(found.page + 1, kept) if found.page < found.pages else "",
        csv_url=url_for("owner.closed_csv", **kept),
        json_url=url_for("owner.closed_json", **kept),
        left=_left(len(left)),
        ticket=Ticket.for_page(0),
    )


def _page(page: int, kept: Mapping[str, Any]) -> str:
    return url_for("owner.closed_jobs", page=page, **kept)


def _left(count: int) -> str:
    if count == 0:
        return ""
    calls = "1 call" if count == 1 else f"{count} calls"
    return f"{calls} ended on the phone and not closed yet."


def _row(line: ClosedLine) -> ClosedRow:
    told = "; ".join(line.causes)
    cause = f"{UNSURE}{told}" if line.is_unsure else told
    return ClosedRow(
        call_id=line.call_id,
        url=url_for("owner.closed_job", call_id=line.call_id),
        appliance=appliance_title(line.network_id),
        caller=line.caller,
        outcome=OUTCOMES_SHORT[ClosingOutcome(line.outcome)]
        + (", a call-back" if line.is_callback else ""),
        cause=cause or NOTHING_KNOWN,
        total=exact_money(line.total_minor, line.currency),
        closed=date_and_time(line.closed_at),
        by=line.closed_by,
    )


def job_screen(found: JobInFull) -> JobScreen:
    """Closed job in full."""
    closing = found.closing
    return JobScreen(
        call_id=closing.call_id,
        head=f"{closing.caller}; {appliance_title(closing.network_id)}",
        facts=tuple(_facts(found)),
        compared=tuple(_compared(found)),
        told=tuple(_told(found)),
        note=closing.data.note,
        customer_url=_customer_url(closing.customer_id),
    )


def _customer_url(customer_id: int | None) -> str:
    return url_for("owner.erase_customer", customer_id=customer_id) if customer_id else ""


def _facts(found: JobInFull) -> Iterator[tuple[str, str]]:
    closing, given, titles = found.closing, found.given, dict(found.titles)
    data = closing.data
    yield "Outcome", OUTCOMES_SHORT[given.outcome]
    yield "Cause", causes_told(given, titles) if given.causes else NOTHING_KNOWN
    done = ", then ".join(title_of(titles, name) for name in given.repairs)
    if done:
        yield "Done", f"{done}: {VERIFIED[given.verification].lower()}"
    for part in given.parts:
        aboard = "" if part.was_aboard else ", not on the van"
        number = f" {part.variant}" if part.variant else ""
        price = exact_money(part.pieces * part.price_minor, data.currency)
        yield "Part", f"{part.pieces} × {title_of(titles, part.part)}{number}{aboard}: {price}"
    yield "Visits", str(given.visits) if given.visits else "nobody came"
    yield "Paid", _paid(found)
    yield "Closed", f"{date_and_time(closing.closed_at)} by {closing.closed_by}"
    if given.callback_of:
        kind = CALLBACKS[CallBackKind(given.callback_kind)].lower()
        yield "Call-back", f"of job {given.callback_of}: {kind}"
    if found.followed_by is not None:
        yield "Followed by", f"job {found.followed_by.call_id}, a call-back"


def _paid(found: JobInFull) -> str:
    data = found.closing.data
    told = [
        ("fee", data.fee_minor),
        ("work", data.labour_minor),
        ("parts", sum(part.pieces * part.price_minor for part in data.parts)),
        ("tax", data.tax_minor),
    ]
    sums = ", ".join(f"{name} {exact_money(amount)}" for name, amount in told if amount)
    total = exact_money(data.total_minor, data.currency)
    return f"{total} ({sums})" if sums else total


def _compared(found: JobInFull) -> Iterator[Compared]:
    """What was promised at the booking, beside what happened."""
    promise, given, data = found.promised, found.given, found.closing.data
    if promise is None:
        return
    spent = "not entered" if given.minutes is None else minutes(given.minutes)
    half, eight = minutes(promise.minutes_p50), minutes(promise.minutes_p80)
    yield Compared(
        "Minutes", f"half of such visits up to {half}, eight of ten up to {eight}", spent
    )
    low, high = promise.price_low_minor, promise.price_high_minor
    before_tax = data.total_minor - data.tax_minor
    price = exact_money(before_tax, data.currency)
    yield Compared("Price before tax", money_range(low, high, data.currency), price)
    came = "one visit" if given.visits == 1 else f"{given.visits} visits"
    yield Compared("First visit", f"{percent(promise.first_visit_share)} to be done on it", came)
    parts = ", ".join(found.titles.get(name, name) for name in promise.parts) or "none"
    used = ", ".join(title_of(found.titles, part.part) for part in given.parts) or "none"
    aboard = used if found.was_aboard else f"{used}; not all of them aboard"
    yield Compared("Parts", parts, aboard)
    first = max(promise.causes, key=lambda mode: promise.causes[mode], default="")
    if first:
        chance = percent(promise.causes[first])
        happened = "not known" if not given.causes else _place(found)
        yield Compared("Cause", f"{title_of(found.titles, first)}, {chance}", happened)


def _place(found: JobInFull) -> str:
    causes = "; ".join(title_of(found.titles, one.cause) for one in found.given.causes)
    place = "not among the first" if found.rank is None else f"number {found.rank} of the ranking"
    return f"{causes}: {place}"


def _told(found: JobInFull) -> Iterator[ToldRow]:
    for one in found.story.told:
        event = one.event
        if isinstance(event, RepairDone):
            what, result = title_of(found.titles, event.repair), VERIFIED[event.verified]
        else:
            what = title_of(found.titles, event.observation)
            known = found.observations.get(event.observation)
            result = str(event.answer) if known is None else answer_told(known, event.answer)
        yield ToldRow(date_and_time(one.at), what, result, one.by)
