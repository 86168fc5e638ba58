"""What the technician's pages send: every entry is one kind with its fields.

A page sends an entry as a form; a device without signal keeps the same fields and sends them later
as JSON. Both are read by ``payload_of``. It leaves alone what it cannot read, so that the service,
which knows the job, says what was expected.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Annotated, Any

from flask import request, url_for
from flask_wtf.file import FileField
from pydantic import AfterValidator, AwareDatetime, BaseModel, Field, TypeAdapter, ValidationError
from werkzeug.datastructures import MultiDict
from wtforms import HiddenField, StringField

from triage.services.calls.calls import Entry
from triage.services.job.events import JobEvent, event_from_sent
from triage.services.job.photos import SentPhoto
from triage.services.job.record import SentEntry
from webform.errors import IncompletePageError
from webform.forms import PageForm
from webform.jobsheet.refusal import PIECES
from webform.texts_sent import without_nul

ENTRIES_MAX = 300
FIELDS_MAX = 60
TEXT_MAX = 4000
VAN_MAX_DIGITS = 9
MOMENT: TypeAdapter[datetime] = TypeAdapter(AwareDatetime)
Fields = Mapping[str, str]
Text = Annotated[str, AfterValidator(without_nul)]


class EntryForm(PageForm):
    """An entry of a visit."""

    kind = HiddenField()

    def event(self) -> JobEvent:
        """Entry as the library knows it.

        Raises
        ------
        UnusableEntryError
            The page sent no such entry.
        """
        return event_from_sent(self.kind.data or "", payload_of(self.kind.data or "", _fields()))


class PhotoForm(PageForm):
    """A photo with a note."""

    photo = FileField("Photo")
    note = StringField("What it shows")

    def sent_photo(self) -> SentPhoto:
        """Photo as the library knows it; an empty file where none was chosen."""
        file = self.photo.data
        return SentPhoto(file.read() if file else b"", self.note.data or "")


class KeptPhotoForm(PhotoForm):
    """A photo that a device kept, with the times of its clock: when it was taken, and sent."""

    made_at = HiddenField()
    sent_at = HiddenField()

    def entry(self) -> Entry:
        """Ticket of the photo, with the time at which it was taken by our clock."""
        entry = super().entry()
        try:
            taken = MOMENT.validate_strings(self.made_at.data or "")
            sent_at = MOMENT.validate_strings(self.sent_at.data or "")
        except ValidationError:
            raise IncompletePageError from None
        return replace(entry, at=min(entry.at, taken + (entry.at - sent_at)))


class StockForm(PageForm):
    """Numbers of pieces by the name of the piece; an empty field says nothing."""

    from_day = HiddenField()

    def page_to_go_on_with(self, van_id: int) -> str:
        """Address of the page that the form was on: the day, or the stock."""
        if self.from_day.data:
            return url_for("jobsheet.day", van=van_id)
        return url_for("jobsheet.van_stock", van_id=van_id)

    def numbers(self) -> Mapping[str, int]:
        """Numbers that were entered; what is no whole number is -1, which no stock is."""
        return {
            name.removeprefix(PIECES): int(text) if text.isdecimal() else -1
            for name, text in _fields().items()
            if name.startswith(PIECES) and text
        }


class KeptEntry(BaseModel):
    """An entry as a device keeps it."""

    id: str = Field(pattern=r"^[0-9a-f]{32}$")
    kind: str = Field(max_length=40)
    fields: dict[Text, Text] = Field(max_length=FIELDS_MAX)
    made_at: AwareDatetime
    shown_version: int = Field(ge=0, le=999_999_999)


class KeptEntries(BaseModel):
    """Entries of a device, with the time of its clock when it sends them."""

    sent_at: AwareDatetime
    entries: list[KeptEntry] = Field(max_length=ENTRIES_MAX)

    def on_our_clock(self, now: datetime) -> Sequence[SentEntry]:
        """Entries with their times moved by how far the clock of the device is off."""
        off: timedelta = now - self.sent_at
        return [
            SentEntry(
                id=one.id,
                kind=one.kind,
                payload=payload_of(one.kind, one.fields),
                made_at=one.made_at + off,
                shown_version=one.shown_version,
            )
            for one in self.entries
        ]


def kept_entries() -> KeptEntries:
    """Entries that a device sends.

    Raises
    ------
    IncompletePageError
        What was sent is not a list of entries.
    """
    try:
        return KeptEntries.model_validate_json(request.get_data())
    except ValidationError:
        raise IncompletePageError from None


def van_asked_for() -> int:
    """Number of the van in the address; 0 for one's own."""
    text = request.args.get("van", "")
    return int(text) if text.isdecimal() and len(text) <= VAN_MAX_DIGITS else 0


def payload_of(kind: str, fields: Fields) -> dict[str, Any]:
    """What an entry of a kind holds, from the fields of its form."""
    plain: dict[str, Any] = {
        name: text.strip() for name, text in fields.items() if not name.startswith(PIECES)
    }
    if kind == "finding" and plain.get("reading"):
        plain["answer"] = f"{plain['reading'].replace(',', '.')} {plain.get('unit', '')}".strip()
    if kind == "job_repair":
        plain["pieces"] = _pieces(fields)
    if kind == "job_quote":
        plain["amount_minor"] = _minor(plain.get("amount", ""))
    return plain


def _fields() -> Fields:
    form: MultiDict[str, str] = request.form
    return {name: form.get(name, "")[:TEXT_MAX] for name in form}


def _pieces(fields: Fields) -> list[dict[str, Any]]:
    """Pieces used: fields named after the part and the shop's own number of it."""
    found = []
    for name, text in fields.items():
        if name.startswith(PIECES) and text.strip() not in ("", "0"):
            part, _, variant = name.removeprefix(PIECES).partition(":")
            found.append({"part": part, "variant": variant, "pieces": text.strip()})
    return found


def _minor(text: str) -> int | str:
    """Amount in cents; the text itself where it is none."""
    whole, _, cents = text.replace(",", ".").partition(".")
    cents = cents.ljust(2, "0")
    if whole.isdecimal() and cents.isdecimal() and len(cents) == 2 and text.isascii():
        return int(whole) * 100 + int(cents)
    return text
