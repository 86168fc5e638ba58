"""Closed jobs as CSV and JSON, one job after the other, so that no number of jobs fills the memory.

CSV is that of [RFC4180]_ in UTF-8: one row a job, the columns of docs/closed-jobs.md in that order,
CRLF at the end of lines. A field that a spreadsheet would take for a formula gets an apostrophe
before it, as [OWASPCsv]_ advises; ``without_guard`` takes it off again. The JSON is one object a
job. Neither holds names, numbers, addresses or notes: who the customer is stays in the store.
"""

import csv
import io
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from triage.services.call_events import FindingMade
from triage.services.calls import Database
from triage.services.closing.story import story_of
from triage.store.calls import read_call
from triage.store.closings import (
    ClosingFilter,
    StoredClosing,
    count_closings,
    list_closings,
    walk_closings,
)

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
GUARD = "'"
PAGE_LENGTH = 50  # jobs
BETWEEN = "; "  # between entries of one field; no id holds it
COLUMNS: Mapping[str, str] = {
    "job": "number of the job",
    "appliance": "id of the network",
    "network_version": "version of the network when the job was closed",
    "opened_at": "when the call was opened, UTC",
    "closed_at": "when the job was closed, UTC",
    "taken_by": "who took the call",
    "closed_by": "who closed the job",
    "outcome": "repaired, declined, solved_by_phone, referred_out or no_fault_found",
    "findings": "observation=answer before the first repair, in their order",
    "causes": "cause=degree; degrees are works_after_repair, seen and judged",
    "is_unsure": "yes if it was one of the causes and nobody knows which",
    "repairs": "ids of the repairs that were done",
    "verification": "what the check run showed: works, still_broken or not_run",
    "parts": "part*pieces@price of one, in minor units; /number after the part where it has one",
    "minutes": "minutes on site",
    "visits": "how often somebody came",
    "callback_of": "number of the earlier job that this one follows up",
    "callback_kind": "same or new complaint",
    "fee_minor": "fee, in minor units of the currency",
    "labour_minor": "labour",
    "tax_minor": "tax",
    "total_minor": "what the customer paid",
    "currency": "ISO 4217 code",
    "promised_minutes_p50": "minutes that half of such visits take, as said at the booking",
    "promised_minutes_p80": "minutes that eight of ten take",
    "promised_price_low_minor": "lower end of the price range that was said",
    "promised_price_high_minor": "upper end",
    "promised_first_visit": "chance to finish on the first visit",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobsPage:
    """A page of closed jobs; pages count from 1."""

    entries: tuple[Mapping[str, Any], ...]
    count: int
    page: int
    pages: int


def jobs_as_csv(database: Database, wanted: ClosingFilter | None = None) -> Iterator[str]:
    """Rows of the CSV, its heading first."""
    yield _row(list(COLUMNS))
    for entry in _entries(database, wanted):
        yield _row([guarded(_field(entry[name])) for name in COLUMNS])


def jobs_as_json(database: Database, wanted: ClosingFilter | None = None) -> Iterator[str]:
    """Pieces of a JSON array with an object for each job; keys are those of the columns."""
    yield "["
    for place, entry in enumerate(_entries(database, wanted)):
        yield ("," if place else "") + "\n" + json.dumps(entry, ensure_ascii=False)
    yield "\n]\n"


def jobs_page(database: Database, wanted: ClosingFilter, *, page: int = 1) -> JobsPage:
    """Page of the closed jobs that pass a filter, newest first, with the keys of the columns.

    A page that is not there gives the nearest.
    """
    with database.reading() as session:
        count = count_closings(session, wanted)
        pages = max(1, -(-count // PAGE_LENGTH))
        page = min(max(page, 1), pages)
        offset = (page - 1) * PAGE_LENGTH
        found = list_closings(session, wanted, offset=offset, limit=PAGE_LENGTH)
        entries = tuple(_told(session, one) for one in found)
    return JobsPage(entries=entries, count=count, page=page, pages=pages)


def guarded(text: str) -> str:
    """Field that no spreadsheet takes for a formula.

    >>> guarded("=1+1"), guarded("replace_pump")
    ("'=1+1", 'replace_pump')
    """
    return f"{GUARD}{text}" if text.startswith((*FORMULA_STARTS, GUARD)) else text


def without_guard(text: str) -> str:
    """Field as it was before ``guarded``.

    >>> [without_guard(guarded(text)) for text in ("=1+1", "'tis", "pump", "")]
    ['=1+1', "'tis", 'pump', '']
    """
    is_guarded = text.startswith(GUARD) and text[1:].startswith((*FORMULA_STARTS, GUARD))
    return text[1:] if is_guarded else text


def _entries(database: Database, wanted: ClosingFilter | None) -> Iterator[dict[str, Any]]:
    with database.reading() as session:
        for closing in walk_closings(session, wanted or ClosingFilter()):
            yield _told(session, closing)


def _told(session: "Session", closing: StoredClosing) -> dict[str, Any]:
    told = story_of(read_call(session, closing.call_id)).before_first_repair
    findings = [
        f"{one.event.observation}={one.event.answer}"
        for one in told
        if isinstance(one.event, FindingMade)
    ]
    return _entry(closing, findings)


def _entry(closing: StoredClosing, findings: list[str]) -> dict[str, Any]:
    data = closing.data
    promise = data.promised
    return {
        "job": closing.call_id,
        "appliance": closing.network_id,
        "network_version": data.network_version,
        "opened_at": closing.opened_at.isoformat(),
        "closed_at": closing.closed_at.isoformat(),
        "taken_by": closing.opened_by,
        "closed_by": closing.closed_by,
        "outcome": data.outcome,
        "findings": findings,
        "causes": [f"{one['cause']}={one['degree']}" for one in data.causes],
        "is_unsure": data.is_unsure,
        "repairs": list(data.repairs),
        "verification": data.verification,
        "parts": [
            f"{part.part_id}{'/' if part.variant else ''}{part.variant}"
            f"*{part.pieces}@{part.price_minor}"
            for part in data.parts
        ],
        "minutes": data.minutes,
        "visits": data.visits,
        "callback_of": data.callback_of_id,
        "callback_kind": data.callback_kind,
        "fee_minor": data.fee_minor,
        "labour_minor": data.labour_minor,
        "tax_minor": data.tax_minor,
        "total_minor": data.total_minor,
        "currency": data.currency,
        "promised_minutes_p50": promise.get("minutes_p50"),
        "promised_minutes_p80": promise.get("minutes_p80"),
        "promised_price_low_minor": promise.get("price_low_minor"),
        "promised_price_high_minor": promise.get("price_high_minor"),
        "promised_first_visit": promise.get("first_visit_share"),
    }


def _field(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return BETWEEN.join(value)
    return str(value)


def _row(fields: list[str]) -> str:
    line = io.StringIO()
    csv.writer(line).writerow(fields)  # its default dialect is that of the RFC: commas, CRLF
    return line.getvalue()
