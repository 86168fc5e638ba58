"""The form that closes a job, made for what the job holds."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wtforms import (
    BooleanField,
    Field,
    RadioField,
    SelectChoice,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)

from triage.services.closing.draft import ClosingDraft
from triage.services.closing.keeping import MOST_MINUTES, MOST_PIECES
from triage.services.closing.proposal import EarlierJob
from triage.services.closing.values import (
    CallBackKind,
    CauseClosed,
    ClosingGiven,
    ClosingOutcome,
    Degree,
    PartUsed,
)
from triage.services.job.events import Verified
from triage.services.networks.scope import appliance_title
from webform.amounts import Amount, Between, as_typed, minor_of
from webform.closing.texts import (
    CALLBACKS,
    DEGREES,
    NO_CALLBACK,
    NO_OTHER,
    NO_PART,
    NOT_IT,
    OUTCOMES,
    VERIFIED,
    days,
)
from webform.forms import AtMost, Chosen, Entered, PageForm

NOTE_MAX = 2000
REASON_MAX = 500
NUMBER_MAX = 100
CAUSE, PART = "cause_", "part_"
BLANK_PARTS = 2
NONE = "none"
DEGREE_CHOICES = [SelectChoice(degree.value, text) for degree, text in DEGREES.items()]


@dataclass(frozen=True, slots=True)
class PartRow:
    """Fields of a part that was fitted."""

    part: Field
    number: Field
    pieces: Field
    price: Field
    aboard: Field


class ClosingForm(PageForm):
    """How a job ended; ``for_draft`` adds the fields that depend on the job."""

    draft: ClosingDraft
    part_count: int

    outcome = RadioField(
        "How did the job end?",
        choices=[SelectChoice(outcome.value, text) for outcome, text in OUTCOMES.items()],
        validate_choice=False,
        validators=[Chosen(thing="how the job ended")],
    )
    is_unsure = BooleanField("Not sure: it was one of these, but nobody knows which")
    other_cause = SelectField("Another cause", validate_choice=False)
    other_degree = SelectField("How is it known?", choices=DEGREE_CHOICES, validate_choice=False)
    repairs = SelectMultipleField("Repairs", validate_choice=False)
    other_repair = SelectField("Another repair", validate_choice=False)
    verification = RadioField(
        "What did the check run show?",
        choices=[SelectChoice(shown.value, text) for shown, text in VERIFIED.items()],
        validate_choice=False,
        validators=[Chosen(thing="what the check run showed")],
    )
    minutes = StringField(
        "Minutes on site",
        validators=[Between(1, MOST_MINUTES, thing="the minutes on site", is_needed=False)],
    )
    fee = StringField("Fee", validators=[Amount(thing="the fee")])
    labour = StringField("Work", validators=[Amount(thing="the price of the work")])
    callback_of = SelectField("Is this a call-back to an earlier job?", validate_choice=False)
    callback_kind = RadioField(
        "What did the customer complain of?",
        choices=[SelectChoice(kind.value, text) for kind, text in CALLBACKS.items()],
        validate_choice=False,
    )
    note = TextAreaField(
        "Note",
        description="For the shop; it does not stand on the invoice",
        validators=[AtMost(NOTE_MAX, thing="the note")],
    )

    @classmethod
    def for_draft(cls, draft: ClosingDraft) -> "ClosingForm":
        """Form for a job, filled in as its draft is if it is shown for the first time."""
        given = draft.given
        count = len(given.parts) + BLANK_PARTS
        fields: dict[str, Any] = {
            CAUSE + cause.mode: _cause_field(cause.title) for cause in draft.causes
        }
        for place in range(count):
            fields |= _part_fields(place, draft)
        made = type(cls.__name__, (cls,), {**fields, "draft": draft, "part_count": count})
        form: ClosingForm = made()
        form._offer()
        if not form.is_submitted():
            form._fill(given)
        return form

    def _offer(self) -> None:
        """Offer what this job has to choose from."""
        draft = self.draft
        self.other_cause.choices = [
            SelectChoice("", NO_OTHER),
            *(SelectChoice(name, title) for name, title in draft.other_causes),
        ]
        done = draft.given.repairs
        titles = {repair.id: repair.title for repair in draft.repairs}
        self.repairs.choices = [SelectChoice(name, titles[name]) for name in done if name in titles]
        self.other_repair.choices = [
            SelectChoice("", NO_OTHER),
            *(SelectChoice(name, title) for name, title in titles.items() if name not in done),
        ]
        self.callback_of.choices = [
            SelectChoice(NONE, NO_CALLBACK),
            *(SelectChoice(str(job.call_id), _earlier(job)) for job in draft.earlier),
        ]

    def _fill(self, given: ClosingGiven) -> None:
        self.outcome.data = given.outcome.value
        degrees = {cause.cause: cause.degree.value for cause in given.causes}
        for name, field in self.cause_fields().items():
            field.data = degrees.get(name, "")
        others = [cause for cause in given.causes if CAUSE + cause.cause not in self]
        self.other_cause.data = others[0].cause if others else ""
        self.other_degree.data = others[0].degree.value if others else Degree.SEEN.value
        self.is_unsure.data = given.is_unsure
        self.repairs.data = list(given.repairs)
        self.verification.data = given.verification.value
        for row, part in zip(self.part_rows(), given.parts, strict=False):
            row.part.data, row.number.data = part.part, part.variant
            row.pieces.data, row.price.data = str(part.pieces), as_typed(part.price_minor)
            row.aboard.data = part.was_aboard
        self.minutes.data = "" if given.minutes is None else f"{given.minutes:g}"
        self.fee.data, self.labour.data = as_typed(given.fee_minor), as_typed(given.labour_minor)
        self.callback_of.data = str(given.callback_of) if given.callback_of else NONE
        self.callback_kind.data = given.callback_kind.value
        self.note.data = given.note

    def cause_fields(self) -> dict[str, Field]:
        """Fields of the causes that are shown, by cause."""
        return {cause.mode: self[CAUSE + cause.mode] for cause in self.draft.causes}

    def has_more_parts(self) -> bool:
        """Whether one of the rows that are offered beside those filled in was used."""
        rows = list(self.part_rows())[len(self.draft.given.parts) :]
        used = ((row.part.data, row.price.data, row.part.errors, row.price.errors) for row in rows)
        return any(any(row) for row in used)

    def part_rows(self) -> Iterator[PartRow]:
        """Fields of the parts, row by row."""
        for place in range(self.part_count):
            names = ("part", "number", "pieces", "price", "aboard")
            yield PartRow(*(self[f"{PART}{place}_{name}"] for name in names))

    def validate(self, extra_validators: Mapping[str, Sequence[object]] | None = None) -> bool:
        """Demand what belongs together."""
        is_valid = bool(super().validate(extra_validators))
        problems = [
            *self._part_problems(),
            *self._call_back_problem(),
            *self._unsure_problem(),
        ]
        for field, message in problems:
            field.errors = [*field.errors, message]
        return is_valid and not problems

    def _part_problems(self) -> Iterator[tuple[Field, str]]:
        for row in self.part_rows():
            known = {choice.value for choice in row.part.choices}
            if row.part.data not in known:
                yield row.part, "Choose a part"
            elif not row.part.data and (row.price.data or "").strip():
                yield row.part, "Choose the part that has this price, or clear the price"
            elif row.part.data and not (row.price.data or "").strip():
                yield row.price, "Enter the price of one piece"

    def _call_back_problem(self) -> Iterator[tuple[Field, str]]:
        known = {choice.value for choice in self.callback_of.choices}
        if self.callback_of.data not in known:
            yield self.callback_of, "Choose an earlier job, or none"
        elif self.callback_of.data != NONE and self.callback_kind.data not in tuple(
            kind.value for kind in CALLBACKS
        ):
            yield self.callback_kind, "Choose whether the complaint is the same"

    def _unsure_problem(self) -> Iterator[tuple[Field, str]]:
        if self.is_unsure.data and len(self._causes()) < 2:
            yield self.is_unsure, "Choose at least two causes of which it may have been one"

    def given(self) -> ClosingGiven:
        """Return what was entered as a domain value."""
        callback_of = 0 if self.callback_of.data == NONE else int(self.callback_of.data)
        kind = CallBackKind(self.callback_kind.data) if callback_of else CallBackKind.NONE
        minutes = (self.minutes.data or "").strip()
        return ClosingGiven(
            outcome=ClosingOutcome(self.outcome.data),
            causes=self._causes(),
            is_unsure=bool(self.is_unsure.data),
            repairs=self._repairs(),
            verification=Verified(self.verification.data),
            parts=tuple(self._parts()),
            minutes=float(minutes) if minutes else None,
            visits=self.draft.given.visits,
            fee_minor=minor_of(self.fee.data),
            labour_minor=minor_of(self.labour.data),
            callback_of=callback_of,
            callback_kind=kind,
            note=(self.note.data or "").strip(),
        )

    def _causes(self) -> tuple[CauseClosed, ...]:
        known = {degree.value for degree in Degree}
        found = [
            CauseClosed(name, Degree(field.data))
            for name, field in self.cause_fields().items()
            if field.data in known
        ]
        offered = {choice.value for choice in self.other_cause.choices} - {""}
        if self.other_cause.data in offered and self.other_degree.data in known:
            found.append(CauseClosed(self.other_cause.data, Degree(self.other_degree.data)))
        return tuple(found)

    def _repairs(self) -> tuple[str, ...]:
        ticked = set(self.repairs.data or ())
        done = [choice.value for choice in self.repairs.choices if choice.value in ticked]
        offered = {choice.value for choice in self.other_repair.choices} - {""}
        other = [self.other_repair.data] if self.other_repair.data in offered else []
        return (*done, *other)

    def _parts(self) -> Iterator[PartUsed]:
        for row in self.part_rows():
            if row.part.data:
                yield PartUsed(
                    part=row.part.data,
                    variant=(row.number.data or "").strip(),
                    pieces=int(row.pieces.data or 1),
                    price_minor=minor_of(row.price.data),
                    was_aboard=bool(row.aboard.data),
                )


class CorrectionForm(ClosingForm):
    """The same for a job that is closed, with the reason."""

    reason = StringField(
        "Why is it corrected?",
        description="It stands in the audit trail",
        validators=[
            Entered(thing="why it is corrected"),
            AtMost(REASON_MAX, thing="the reason"),
        ],
    )


def _cause_field(title: str) -> Field:
    choices = [SelectChoice("", NOT_IT), *DEGREE_CHOICES]
    return SelectField(title, choices=choices, validate_choice=False, default="")


def _part_fields(place: int, draft: ClosingDraft) -> dict[str, Field]:
    number = place + 1
    parts = sorted(draft.parts, key=lambda part: part.title)
    choices = [SelectChoice("", NO_PART), *(SelectChoice(part.id, part.title) for part in parts)]
    named = f"of part {number}"
    return {
        f"{PART}{place}_part": SelectField(
            f"Part {number}", choices=choices, validate_choice=False, default=""
        ),
        f"{PART}{place}_number": StringField(
            "Number",
            validators=[AtMost(NUMBER_MAX, thing=f"the number {named}")],
        ),
        f"{PART}{place}_pieces": StringField(
            "Pieces",
            validators=[
                Between(1, MOST_PIECES, thing=f"pieces {named}", is_needed=False, is_whole=True)
            ],
            default="1",
        ),
        f"{PART}{place}_price": StringField(
            "Price of one",
            validators=[Amount(thing=f"the price {named}", is_needed=False)],
        ),
        f"{PART}{place}_aboard": BooleanField("Was on the van", default=True),
    }


def _earlier(job: EarlierJob) -> str:
    machine = "this machine" if job.is_same_machine else appliance_title(job.network_id)
    return f"Job {job.call_id}, {days(job.days)}: {machine}"
