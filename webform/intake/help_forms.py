"""Forms of "can we help": nothing in them has to be answered."""

from wtforms import Field, Form, RadioField, SelectChoice, SelectMultipleField, StringField
from wtforms.validators import Length

from triage.services.call_log.events import CallbackJudged, HelpAsked
from triage.services.calls.help import (
    ACCESS,
    NEW,
    NO,
    OWNER,
    QUESTIONS,
    SAME,
    TENANT,
    YES,
    HelpOfCall,
)
from webform.forms import AtMost, Entered, PageForm

PLACE_MAX = 100
PERSON_MAX = 100
REASON_MAX = 300
NOTE_MAX = 500
WARRANTY = [SelectChoice(YES, "Yes"), SelectChoice(NO, "No")]
CALLBACK = [SelectChoice(SAME, "Same complaint"), SelectChoice(NEW, "Something new")]
HOLDERS = [SelectChoice(OWNER, "Own machine"), SelectChoice(TENANT, "The landlord's")]


def _or_nothing(form: Form, field: Field) -> None:
    """Take what is not on the list as not answered."""
    if field.data not in [choice.value for choice in field.choices]:
        field.data = None


class CanHelpForm(PageForm):
    """Where the machine is, whose it is, how to get to it."""

    place = StringField(
        QUESTIONS["place"], validators=[AtMost(PLACE_MAX, thing="the postcode or town")]
    )
    warranty = RadioField(
        QUESTIONS["warranty"], choices=WARRANTY, validate_choice=False, validators=[_or_nothing]
    )
    holder = RadioField(
        QUESTIONS["holder"], choices=HOLDERS, validate_choice=False, validators=[_or_nothing]
    )
    callback = RadioField(
        QUESTIONS["callback"], choices=CALLBACK, validate_choice=False, validators=[_or_nothing]
    )
    pays = StringField(QUESTIONS["pays"], validators=[AtMost(PERSON_MAX, thing="who pays")])
    lets_in = StringField(
        QUESTIONS["lets_in"], validators=[AtMost(PERSON_MAX, thing="who lets the technician in")]
    )
    access = SelectMultipleField(
        QUESTIONS["access"],
        choices=[SelectChoice(note.id, note.title) for note in ACCESS.values()],
        validate_choice=False,
        validators=[Length(max=len(ACCESS))],
    )

    @classmethod
    def for_call(cls, asked: HelpOfCall) -> "CanHelpForm":
        """Form filled with what was answered, or with the place of the customer on record."""
        form = cls()
        known = asked.state.help or HelpAsked(place=asked.place)
        if not form.is_submitted():
            form.place.data = known.place
            form.warranty.data, form.holder.data = known.warranty, known.holder
            form.pays.data, form.lets_in.data = known.pays, known.lets_in
            form.access.data = list(known.access)
            form.callback.data = asked.state.callback.verdict if asked.state.callback else None
        return form

    def callback_judged(self, asked: HelpOfCall) -> CallbackJudged | None:
        """Return whether it is an earlier complaint again, or None if that was not answered."""
        earlier = asked.history.callback_of
        if earlier is None or not self.callback.data:
            return None
        return CallbackJudged(earlier.call_id, self.callback.data)

    def answers(self) -> HelpAsked:
        """Return what was answered."""
        return HelpAsked(
            place=(self.place.data or "").strip(),
            warranty=self.warranty.data or "",
            holder=self.holder.data or "",
            pays=(self.pays.data or "").strip(),
            lets_in=(self.lets_in.data or "").strip(),
            access=list(self.access.data or ()),
        )


class HelpAnywayForm(PageForm):
    """Why the shop helps although an answer speaks against it."""

    reason = StringField(
        "Why we help all the same",
        description="Such as: the maker's service has declined in writing",
        validators=[
            Entered(thing="why we help all the same"),
            AtMost(REASON_MAX, thing="the reason"),
        ],
    )
