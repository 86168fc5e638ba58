"""Forms of the booking pages."""

from collections.abc import Sequence
from datetime import date, datetime

from flask import request
from flask_wtf import FlaskForm
from wtforms import (
    BooleanField,
    Field,
    Form,
    RadioField,
    SelectChoice,
    SelectField,
    StringField,
    TextAreaField,
)
from wtforms.validators import StopValidation

from triage.services.booking.offer import BookingOffer, SlotSearch
from triage.services.booking.slots import FreeSlot
from triage.services.booking.vans import StoredVan, VanEntered
from triage.services.booking.visits import (
    LATEST_MINUTES,
    LONGEST_MINUTES,
    BookingWanted,
    SlotWanted,
)
from webform.forms import AtMost, Chosen, Entered, PageForm

NOTE_MAX = 300
REASON_MAX = 300
NAME_MAX = 60
DIGITS_MAX = 6


class WholeNumber:
    """Demand a whole number in a range: "Minutes must be 0 to 480"."""

    def __init__(self, low: int, high: int, *, thing: str) -> None:
        self.low, self.high = low, high
        self.message = f"{thing[0].upper()}{thing[1:]} must be a whole number, {low} to {high}"

    def __call__(self, form: Form, field: Field) -> None:
        """Stop at what is no such number."""
        text = (field.data or "").strip()
        is_whole = text.isdecimal() and len(text) <= DIGITS_MAX
        if not is_whole or not self.low <= int(text) <= self.high:
            raise StopValidation(self.message)


def slot_value(slot: FreeSlot) -> str:
    """Slot as a form sends it."""
    return f"{slot.van_id} {slot.time.begins.isoformat()}"


class SearchForm(FlaskForm):
    """Which times to look for; sent as an address, so it carries no ticket."""

    class Meta:
        """It changes nothing."""

        csrf = False

    minutes = StringField("Minutes", validators=[WholeNumber(1, LONGEST_MINUTES, thing="minutes")])
    day = StringField("From day", description="Such as 2026-03-31; empty for today")
    van = SelectField("Van", validate_choice=False)

    @classmethod
    def for_vans(cls, vans: Sequence[StoredVan]) -> "SearchForm":
        """Form filled from the address."""
        form = cls(request.args)
        form.van.choices = [
            SelectChoice("", "Any van"),
            *(SelectChoice(str(van.id), van.name) for van in vans),
        ]
        return form

    def wanted(self, except_visit: int = 0, usual_minutes: int = 0) -> SlotSearch:
        """Return what is looked for; what cannot be read is left out."""
        is_length = bool(self.minutes.data) and self.minutes.validate(self)
        vans = {choice.value for choice in self.van.choices}
        return SlotSearch(
            minutes=int(self.minutes.data) if is_length else usual_minutes,
            from_day=day_in(self.day.data),
            van_id=int(self.van.data) if self.van.data and self.van.data in vans else 0,
            except_visit=except_visit,
        )


def day_in(text: str | None) -> date | None:
    """Day of an ISO date, or None if the text is none."""
    try:
        return date.fromisoformat((text or "").strip())
    except ValueError:
        return None


class SlotForm(PageForm):
    """One of the free times."""

    slot = RadioField(
        "Free times", validate_choice=False, validators=[Chosen(thing="one of the free times")]
    )
    note = TextAreaField(
        "Note for the visit",
        description="Gate code, dog, parking; may stay empty",
        validators=[AtMost(NOTE_MAX, thing="the note")],
    )

    @classmethod
    def for_offer(cls, offer: BookingOffer) -> "SlotForm":
        """Form with the free times of an offer."""
        form = cls()
        form.slot.choices = [
            SelectChoice(slot_value(slot), slot.van) for free in offer.days for slot in free.slots
        ]
        if form.slot.choices and not form.is_submitted():
            form.slot.data = form.slot.choices[0].value  # the earliest is proposed
        return form

    def slot_wanted(self, minutes: int) -> SlotWanted:
        """Return the time that was chosen."""
        van, _, start = self.slot.data.partition(" ")
        return SlotWanted(van_id=int(van), starts_at=datetime.fromisoformat(start), minutes=minutes)

    def wanted(self, offer: BookingOffer) -> BookingWanted:
        """Return the booking that was chosen, with what was promised."""
        return BookingWanted(
            call_id=offer.booking.state.call_id,
            slot=self.slot_wanted(offer.minutes),
            note=(self.note.data or "").strip(),
            promised=offer.promised,
            figures=offer.figures,
        )


class CancelForm(PageForm):
    """Why a visit is cancelled."""

    reason = StringField(
        "Why it is cancelled",
        validators=[
            Entered(thing="why it is cancelled"),
            AtMost(REASON_MAX, thing="the reason"),
        ],
    )


class LateForm(PageForm):
    """By how much the technician comes later than planned."""

    minutes = StringField(
        "Minutes later than planned",
        description="Counted from the time that was booked; 0 is on time again",
        validators=[WholeNumber(0, LATEST_MINUTES, thing="minutes later than planned")],
    )


class MissedForm(PageForm):
    """Nobody was there."""


class VanForm(PageForm):
    """A van, who drives it, and whether it is in use."""

    name = StringField(
        "Name of the van",
        validators=[Entered(thing="the name of the van"), AtMost(NAME_MAX, thing="the name")],
    )
    technician = SelectField("Technician", validate_choice=False)
    is_active = BooleanField("In use", default=True)

    @classmethod
    def for_people(cls, people: Sequence[tuple[int, str]], van: StoredVan | None) -> "VanForm":
        """Form with the technicians there are, filled with a van."""
        form = cls()
        form.technician.choices = [
            SelectChoice("0", "Nobody yet"),
            *(SelectChoice(str(number), name) for number, name in people),
        ]
        if van is not None and not form.is_submitted():
            form.name.data, form.is_active.data = van.name, van.is_active
            form.technician.data = str(van.technician_id)
        return form

    def entered(self) -> VanEntered:
        """Return what was entered; a technician who is not on the list is nobody."""
        known = {choice.value for choice in self.technician.choices}
        technician = self.technician.data if self.technician.data in known else "0"
        return VanEntered(
            name=self.name.data.strip(),
            technician_id=int(technician),
            is_active=bool(self.is_active.data),
        )


class RenewForm(PageForm):
    """Give a calendar a new address."""
