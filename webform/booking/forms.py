"""Forms of the booking pages."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import ClassVar, Self

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

from triage.errors import OutsideHoursError, SlotTakenError, SlotTimeError, TriageError
from triage.services.booking.days import day_of
from triage.services.booking.offer import BookingOffer, SlotSearch
from triage.services.booking.slots import FreeSlot
from triage.services.booking.vans import StoredVan, VanEntered
from triage.services.booking.visits import (
    LATEST_MINUTES,
    LONGEST_MINUTES,
    BookingWanted,
    SlotWanted,
)
from webform.desk import desk
from webform.forms import AtMost, Chosen, Entered, PageForm

NOTE_MAX = 300
REASON_MAX = 300
NAME_MAX = 60
DIGITS_MAX = 6
AHEAD = timedelta(days=366)


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


class DayAhead:
    """Demand a day for a visit, from today to a year ahead, as far as calendars of vans show."""

    def __call__(self, form: Form, field: Field) -> None:
        """Stop at what is no such day."""
        day = day_in(field.data)
        if day is None:
            raise StopValidation("Enter the day, such as 2026-03-31")
        today = day_of(desk().clock(), desk().time_zone)
        if not today <= day <= today + AHEAD:
            raise StopValidation("The day must be from today to a year ahead")


class TimeOfDay:
    """Demand a time of the clock."""

    def __call__(self, form: Form, field: Field) -> None:
        """Stop at what is none."""
        if clock_in(field.data) is None:
            raise StopValidation("Enter when it begins, such as 18:30")


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


def note_field() -> TextAreaField:
    """Field for what the technician should know on the way."""
    return TextAreaField(
        "Note for the visit",
        description="Gate code, dog, parking; may stay empty",
        validators=[AtMost(NOTE_MAX, thing="the note")],
    )


def booking_wanted(offer: BookingOffer, slot: SlotWanted, note: str | None) -> BookingWanted:
    """Booking of a time for the call of an offer, with what was promised."""
    return BookingWanted(
        call_id=offer.booking.state.call_id,
        slot=slot,
        note=(note or "").strip(),
        promised=offer.promised,
        figures=offer.figures,
    )


def clock_in(text: str | None) -> time | None:
    """Time of the clock, or None if the text is none."""
    try:
        return datetime.strptime((text or "").strip(), "%H:%M").time()
    except ValueError:
        return None


class SlotForm(PageForm):
    """One of the free times."""

    slot = RadioField(
        "Free times", validate_choice=False, validators=[Chosen(thing="one of the free times")]
    )
    note = note_field()

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
        return booking_wanted(offer, self.slot_wanted(offer.minutes), self.note.data)


class TimeForm(PageForm):
    """A time that is not on the list; outside opening hours it is to be confirmed."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {
        OutsideHoursError: "outside_hours",
        SlotTakenError: "start",
        SlotTimeError: "start",
    }

    van = SelectField("Van", validate_choice=False, validators=[Chosen(thing="a van")])
    day = StringField("Day", validators=[DayAhead()])
    start = StringField("Begins at", validators=[TimeOfDay()])
    minutes = StringField("Minutes", validators=[WholeNumber(1, LONGEST_MINUTES, thing="minutes")])
    outside_hours = BooleanField("Yes, the visit is to be outside opening hours")

    @classmethod
    def for_vans(cls, vans: Sequence[StoredVan]) -> Self:
        """Form with the vans that are in use."""
        form = cls()
        form.van.choices = [SelectChoice(str(van.id), van.name) for van in vans]
        return form

    def proposing(self, day: date, minutes: int, van_id: int = 0) -> Self:
        """Fill in what is usual, on a form that is about to be shown for the first time."""
        if not self.is_submitted():
            self.day.data, self.minutes.data = day.isoformat(), str(minutes)
            self.van.data = str(van_id)
        return self

    @property
    def asks_to_confirm(self) -> bool:
        """Whether the time was refused as outside opening hours, or confirmed as such."""
        return bool(self.outside_hours.errors or self.outside_hours.data)

    def search(self) -> SlotSearch:
        """Return the length that was typed; the proposed one if it is none."""
        is_length = bool(self.minutes.data) and self.minutes.validate(self)
        return SlotSearch(minutes=int(self.minutes.data) if is_length else 0)

    def slot_wanted(self) -> SlotWanted:
        """Return the time that was typed, by the clock of the shop."""
        day, clock = day_in(self.day.data), clock_in(self.start.data)
        assert day is not None, "the form was checked before"
        assert clock is not None, "the form was checked before"
        return SlotWanted(
            van_id=int(self.van.data),
            starts_at=datetime.combine(day, clock, desk().time_zone),
            minutes=int(self.minutes.data),
            outside_hours=bool(self.outside_hours.data),
        )


class BookTimeForm(TimeForm):
    """A time that is not on the list, for a call."""

    note = note_field()

    def wanted(self, offer: BookingOffer) -> BookingWanted:
        """Return the booking, with what was promised."""
        return booking_wanted(offer, self.slot_wanted(), self.note.data)


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
