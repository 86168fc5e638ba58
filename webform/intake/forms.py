"""Forms of the intake pages. Each turns itself into domain values; services see no form."""

from collections.abc import Iterable, Mapping, Sequence

from wtforms import (
    HiddenField,
    RadioField,
    SelectChoice,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.validators import Length, Optional, Regexp

from triage.network.values import SafetyClass
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import CallReport
from triage.services.calls.intake import SafetyCheck, SafetyQuestion, SignChoices
from triage.services.customers.calls import CallStart
from triage.services.networks.scope import OTHER_KINDS
from webform.forms import AtMost, Chosen, Entered, PageForm, Ticket
from webform.intake.texts import OUTCOMES

CALLER_MAX = 120
WORDS_MAX = 2000
NAME_MAX = 100
PHONE_MAX = 60
NUMBER = r"^[0-9]{1,9}$"
NOTE_MAX = 500
ID_MAX = 200

FLAG = "flag_"  # before the name of a flag, where it names a field
NOT_CHOSEN = "Choose an appliance"
OURS = "We repair"
OTHERS = "We refer to others"
YES_NO = [SelectChoice("yes", "Yes"), SelectChoice("no", "No")]


class NewCallForm(PageForm):
    """Who calls about which appliance, and what the caller says."""

    caller = StringField(
        "Caller",
        description="Name, number, or a note that tells this call from others",
        validators=[
            Entered(thing="the caller's name or a note"),
            AtMost(CALLER_MAX, thing="the caller's name or note"),
        ],
    )
    network = SelectField(
        "Appliance",
        description="Also on the list, to be referred: heat-pump and condenser dryers, "
        "a washer and dryer in one drum, coin-operated machines",
        validate_choice=False,
        validators=[Chosen(thing="an appliance")],
    )
    words = TextAreaField(
        "What the caller says",
        description="In the caller's own words, as they come",
        validators=[
            Entered(thing="what the caller says"),
            AtMost(WORDS_MAX, thing="what the caller says"),
        ],
    )

    phone = StringField(
        "Phone number",
        description="Puts the caller on record; may stay empty",
        validators=[AtMost(PHONE_MAX, thing="the phone number")],
    )
    customer_id = HiddenField(validators=[Optional(), Regexp(NUMBER)])
    machine_id = HiddenField(validators=[Optional(), Regexp(NUMBER)])
    linked_to = HiddenField(validators=[Optional(), Regexp(NUMBER)])

    @classmethod
    def for_appliances(
        cls, appliances: Sequence[tuple[str, str]], start: CallStart
    ) -> "NewCallForm":
        """Form with the appliances there are, filled with what is known before the call."""
        form = cls().with_ticket(Ticket.for_page(0))
        form.network.choices = [
            SelectChoice("", NOT_CHOSEN),
            *(SelectChoice(name, title, optgroup=OURS) for name, title in appliances),
            *(SelectChoice(kind.id, kind.title, optgroup=OTHERS) for kind in OTHER_KINDS.values()),
        ]
        if not form.is_submitted():
            form.caller.data, form.words.data = start.caller, start.words
            form.network.data = start.network_id
            form.customer_id.data = str(start.customer.id) if start.customer else ""
            form.machine_id.data = str(start.machine_id or "")
            form.linked_to.data = str(start.linked_to or "")
        return form

    def report(self, region: str) -> CallReport:
        """Return what was entered as a domain value; ``region`` is that of the phone number."""
        return CallReport(
            network_id=self.network.data,
            caller=self.caller.data.strip(),
            words=self.words.data.strip(),
            customer_id=int(self.customer_id.data or 0),
            machine_id=int(self.machine_id.data or 0),
            linked_to=int(self.linked_to.data or 0),
            phone=self.phone.data or "",
            region=region,
        )


class NoteForm(PageForm):
    """A note on a call."""

    text = TextAreaField(
        "Note",
        validators=[Entered(thing="the note"), AtMost(NOTE_MAX, thing="the note")],
    )


class AnswerForm(PageForm):
    """An answer to a question; its buttons are the answers."""

    observation = HiddenField(validators=[Length(1, ID_MAX)])
    answer = HiddenField(validators=[Length(1, ID_MAX)])


class QuestionForm(PageForm):
    """A question to skip, or an answer to take back."""

    observation = HiddenField(validators=[Length(1, ID_MAX)])


class ReopenForm(PageForm):
    """Go on with a call that had ended."""


class ConfirmForm(PageForm):
    """Who confirmed that the machine was made safe."""

    name = StringField(
        "Who confirms it",
        description="Name of the person at the machine who did it and says so",
        validators=[
            Entered(thing="the name of the person who confirms it"),
            AtMost(NAME_MAX, thing="the name"),
        ],
    )


class SignsForm(PageForm):
    """Signs that the caller volunteered."""

    observations = SelectMultipleField("Signs", validate_choice=False)

    @classmethod
    def for_choices(cls, choices: SignChoices) -> "SignsForm":
        """Form with the signs of a call; a sign that is not among them is dropped."""
        form = cls()
        offered = [*choices.suggested, *choices.others]
        names = [choice.observation.id for choice in offered]
        form.observations.choices = [SelectChoice(name) for name in names]
        if not form.is_submitted():
            form.observations.data = [one.observation.id for one in offered if one.is_chosen]
        return form

    def chosen(self) -> list[str]:
        """Return the signs that were ticked, in the order of the page."""
        ticked = set(self.observations.data or ())
        return [choice.value for choice in self.observations.choices if choice.value in ticked]


class OutcomeForm(PageForm):
    """How the call ended."""

    outcome = RadioField(
        "How did the call end?",
        validate_choice=False,
        validators=[Chosen(thing="how the call ended")],
    )
    note = TextAreaField(
        "Note",
        description="Appointment, referral, what was agreed; may stay empty",
        validators=[AtMost(NOTE_MAX, thing="the note")],
    )

    @classmethod
    def for_outcomes(cls, outcomes: Iterable[CallOutcome], proposed: str) -> "OutcomeForm":
        """Form with the outcomes that are allowed; ``proposed`` is chosen at first."""
        form = cls()
        form.outcome.choices = [
            SelectChoice(outcome.value, OUTCOMES[outcome]) for outcome in outcomes
        ]
        if not form.is_submitted():
            form.outcome.data = proposed
        return form

    def chosen(self) -> CallOutcome:
        """Return the outcome that was chosen."""
        return CallOutcome(self.outcome.data)


class SafetyForm(PageForm):
    """A yes or no for every danger; made for the questions of one network by ``for_check``."""

    stopping: frozenset[str] = frozenset()

    @classmethod
    def for_check(cls, check: SafetyCheck) -> "SafetyForm":
        """Form with a field for each safety question, filled with what is known."""
        flags = [question.flag for question in check.questions]
        fields = {
            _field_name(flag.id): RadioField(
                flag.wording,
                choices=YES_NO,
                validate_choice=False,
                validators=[Chosen(thing=f"yes or no: {flag.title.lower()}")],
            )
            for flag in flags
        }
        stopping = frozenset(
            _field_name(flag.id)
            for flag in flags
            if flag.safety_class is not SafetyClass.MAKE_SAFE_THEN_BOOK
        )
        form: SafetyForm = type(cls.__name__, (cls,), {**fields, "stopping": stopping})()
        if not form.is_submitted():
            for question in check.questions:
                form[_field_name(question.flag.id)].data = _known(question)
        return form

    def validate(self, extra_validators: Mapping[str, Sequence[object]] | None = None) -> bool:
        """Demand every answer, unless one of them already stops the call."""
        is_complete = super().validate(extra_validators)
        stops = any(self[name].data == "yes" for name in self.stopping)
        has_ticket = not (self.client_id.errors or self.shown_version.errors)
        return bool(is_complete or (stops and has_ticket))

    def answers(self) -> dict[str, bool]:
        """Return the answers that were given, by flag."""
        return {
            name.removeprefix(FLAG): field.data == "yes"
            for name, field in self._fields.items()
            if name.startswith(FLAG) and field.data in ("yes", "no")
        }


def _field_name(flag_id: str) -> str:
    return FLAG + flag_id


def _known(question: SafetyQuestion) -> str | None:
    """Answer to show first: what was answered, else "yes" where the words point to a danger."""
    if question.answer is not None:
        return "yes" if question.answer else "no"
    return "yes" if question.phrase else None
