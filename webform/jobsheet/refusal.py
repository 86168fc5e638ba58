"""What was sent and could not be recorded: why, at which field, and what was typed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from triage.errors import (
    PhotoError,
    ReadingError,
    ReadingOutOfSpanError,
    StaleCallError,
    TriageError,
    UnknownAnswerError,
    UnusableEntryError,
)
from triage.services.job.record import Received
from triage.services.job.sheet import JobSheet
from webform.formatting import told_span
from webform.jobsheet import texts

PIECES = "pieces:"  # beginning of the name of a field with pieces of a part
PHOTO = "photo"  # kind of the form that adds a photo
TICKET = ("csrf_token", "client_id", "shown_version", "kind")
SECTIONS: Mapping[str, str] = {
    "job_overruled": "another",
    "job_own_finding": "log",
    "job_second_fault": "log",
    "job_note": "log",
    "finding_undone": "log",
    "job_repair_undone": "log",
    "job_quote": "quote",
    "job_quote_authorised": "quote",
    "job_quote_declined": "quote",
    "job_part_ordered": "order",
    "job_part_arrived": "order",
    PHOTO: "photos",
}
NAMES: Mapping[str, str] = {"amount_minor": "amount"}  # of the page, by those of the library


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """What could not be recorded; everything is empty where nothing was sent.

    ``kind`` is that of the entry, ``section`` the part of the sheet whose form it was, ``name``
    that of the field to be changed, empty if it is the whole entry. ``again`` holds what may be
    sent once more as it is, on top of what came meanwhile, and ``told`` says it in words.
    """

    kind: str = ""
    section: str = ""
    name: str = ""
    message: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)
    again: Sequence[tuple[str, str]] = ()
    told: str = ""

    def at(self, kind: str, name: str) -> bool:
        """Whether this field of the form of a kind is to be changed."""
        return bool(self.message) and (kind, name) == (self.kind, self.name)

    def typed(self, kind: str, name: str, usual: str) -> str:
        """What was typed in a field, or what it usually shows."""
        return self.fields.get(name, usual) if kind == self.kind else usual

    def on_sheet(self, step: str, kinds: Sequence[str], told: str) -> "Refusal":
        """The same for a sheet with the forms of these kinds, that of a step only for ``step``."""
        of_step = self.fields.get("observation") or self.fields.get("repair")
        is_there = self.kind in kinds and (self.section != "" or of_step == step)
        return replace(self, name=self.name if is_there else "", told=told)


NOTHING_REFUSED = Refusal()


def refusal_of(error: TriageError, kind: str, fields: Mapping[str, str]) -> Refusal:
    """Say why the fields of a form of this kind were not recorded."""
    kept = {name: text for name, text in fields.items() if name not in TICKET}
    is_stale = isinstance(error, StaleCallError)
    return Refusal(
        kind=kind,
        section=SECTIONS.get(kind, ""),
        name=_field(error, kept),
        message=_message(error, kept),
        fields=kept,
        again=(("kind", kind), *kept.items()) if is_stale else (),
    )


def kinds_shown(sheet: JobSheet) -> Sequence[str]:
    """Kinds of entries whose forms are on the sheet."""
    if sheet.is_closed:
        return (PHOTO,)
    quote = sheet.state.quote
    of_open_quote = (
        () if quote and quote.is_open else ("job_quote_authorised", "job_quote_declined")
    )
    return [kind for kind in ("finding", "job_repair", *SECTIONS) if kind not in of_open_quote]


def told_to_device(received: Received, kind: str, fields: Mapping[str, str]) -> Mapping[str, str]:
    """What became of an entry of a device, in the words of the page it was made on."""
    if received.error is None:
        return received.as_json()
    refusal = refusal_of(received.error, kind, fields)
    return {**received.as_json(), "message": refusal.message, "field": refusal.name}


def _field(error: TriageError, fields: Mapping[str, str]) -> str:
    if isinstance(error, ReadingError | UnknownAnswerError):
        return "reading" if "reading" in fields else ""
    if isinstance(error, PhotoError):
        return error.field
    if not isinstance(error, UnusableEntryError):
        return ""
    if error.field == "answer" and "reading" in fields:
        return "reading"
    if error.field == "pieces" and "pieces" not in fields:
        return next((name for name in fields if is_no_count(name, fields[name])), "")
    if f"{PIECES}{error.field}" in fields:  # of a stock
        return f"{PIECES}{error.field}"
    return NAMES.get(error.field, error.field)


def is_no_count(name: str, text: str) -> bool:
    """Whether a field for pieces holds what is no number of them."""
    is_number = text.isascii() and text.isdecimal() and len(text) <= 2
    return name.startswith(PIECES) and bool(text.strip()) and not is_number


def _message(error: TriageError, fields: Mapping[str, str]) -> str:
    """Sentence beside the field: what is wrong, and what to enter."""
    if isinstance(error, StaleCallError):
        return texts.STALE
    if isinstance(error, ReadingOutOfSpanError) and "reading" in fields:
        typed = f"{fields['reading']} {fields.get('unit', '')}".strip()
        return texts.reading_out_of_span(typed, told_span(error.span, error.unit), error.label)
    if _field(error, fields) == "reading":
        return texts.no_reading(fields["reading"])
    if isinstance(error, UnusableEntryError) and (PIECES + error.field) in fields:
        return texts.no_pieces(fields[PIECES + error.field], error.expected)
    if isinstance(error, UnusableEntryError):
        what = error.what[:1].upper() + error.what[1:]
        return f"{what}. Enter {error.expected}." if error.field else f"{what}."
    return str(error)
