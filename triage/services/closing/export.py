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

from triage.services.call_log.events import FindingMade
from triage.services.calls.calls import Database
from triage.services.closing import columns
from triage.services.closing.story import story_of
from triage.store.calls import read_call
from triage.store.closings import (
    ClosingFilter,
    StoredClosing,
    StoredPart,
    count_closings,
    list_closings,
    walk_closings,
)
from triage.store.imports import minutes_told

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
GUARD = "'"
PAGE_LENGTH = 50  # jobs
BETWEEN = "; "  # between entries of one field; no id holds it
COLUMNS: Mapping[str, str] = {column.name: column.holds for column in columns.COLUMNS}


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
    story = story_of(read_call(session, closing.call_id))
    minutes = {**story.minutes, **minutes_told(session, closing.call_id)}
    findings = [
        f"{one.event.observation}={one.event.answer}"
        for one in story.before_first_repair
        if isinstance(one.event, FindingMade)
    ]
    return _entry(closing, findings, [f"{step}={value:g}" for step, value in minutes.items()])


def _entry(closing: StoredClosing, findings: list[str], minutes: list[str]) -> dict[str, Any]:
    data = closing.data
    return {
        "job": closing.call_id,
        "source": closing.source,
        "appliance": closing.network_id,
        "network_version": data.network_version,
        "opened_at": closing.opened_at.isoformat(),
        "closed_at": closing.closed_at.isoformat(),
        "taken_by": closing.opened_by,
        "closed_by": closing.closed_by,
        "outcome": data.outcome,
        "findings": findings,
        "causes": [f"{one['cause']}={one['degree']}{_weight(one)}" for one in data.causes],
        "is_unsure": data.is_unsure,
        "chosen_by": [
            f"{one['cause']}={'+'.join(one['chosen_by'])}"
            for one in data.causes
            if one.get("chosen_by")
        ],
        "repairs": list(data.repairs),
        "verification": data.verification,
        "parts": [f"{_named(part)}*{part.pieces}@{part.price_minor}" for part in data.parts],
        "parts_not_aboard": [_named(part) for part in data.parts if not part.was_aboard],
        "minutes": data.minutes,
        "step_minutes": minutes,
        "visits": data.visits,
        "callback_of": data.callback_of_id,
        "callback_kind": data.callback_kind,
        "fee_minor": data.fee_minor,
        "labour_minor": data.labour_minor,
        "tax_minor": data.tax_minor,
        "total_minor": data.total_minor,
        "currency": data.currency,
        **_promised(data.promised),
    }


def _promised(promise: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "promised_minutes_p50": promise.get("minutes_p50"),
        "promised_minutes_p80": promise.get("minutes_p80"),
        "promised_price_low_minor": promise.get("price_low_minor"),
        "promised_price_high_minor": promise.get("price_high_minor"),
        "promised_first_visit": promise.get("first_visit_share"),
        "promised_parts": list(promise.get("parts", [])),
        "promised_causes": [
            f"{cause}={chance}" for cause, chance in promise.get("causes", {}).items()
        ],
    }


def _weight(cause: Mapping[str, Any]) -> str:
    return "" if cause["weight"] == 1.0 else f"@{cause['weight']}"


def _named(part: StoredPart) -> str:
    return f"{part.part_id}/{part.variant}" if part.variant else part.part_id


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
