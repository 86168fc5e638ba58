"""The form that chooses what of the audit trail is shown; it stands in the address."""

from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo

from wtforms import Form, SelectChoice, SelectField, StringField
from wtforms.validators import ValidationError

from triage.services.people.audit import ActFilter, Action
from triage.services.people.roles import written
from webform.owner.people_texts import NOBODY, action_text

NOT_SIGNED_IN = "nobody"  # no name begins so: the value of a choice, never shown
NAME = "name:"  # before a name where it is the value of a choice
DAY = "%Y-%m-%d"
DAY_MAX = 10


class AuditForm(Form):
    """Person, act and day; what is left open lets everything through."""

    person = SelectField("Person", validate_choice=False)
    action = SelectField("What was done", validate_choice=False)
    day = StringField("Day", description="Year, month, day, such as 2026-03-02")

    def validate_day(self, field: StringField) -> None:
        """Demand a day that there is, or nothing."""
        if field.data and self._midnight(None) is None:
            raise ValidationError("Day must be written as year, month, day, such as 2026-03-02")

    def wanted(self, time_zone: tzinfo) -> ActFilter:
        """Return what was chosen as a filter; a day that cannot be read counts as none."""
        person = self.person.data or ""
        name = person.removeprefix(NAME) if person.startswith(NAME) else None
        action = self.action.data or ""
        midnight = self._midnight(time_zone)
        return ActFilter(
            by="" if person == NOT_SIGNED_IN else name and written(name),
            action=action if action in list(Action) else "",
            since=midnight,
            before=None if midnight is None else midnight + timedelta(days=1),
        )

    def offer(self, names: Sequence[str]) -> None:
        """Offer everybody who stands in the trail."""
        self.person.choices = [
            SelectChoice("", "Everybody"),
            *(SelectChoice(f"{NAME}{name}", name) for name in names if name),
            SelectChoice(NOT_SIGNED_IN, NOBODY.capitalize()),
        ]
        texts = sorted((action_text(action.value), action.value) for action in Action)
        self.action.choices = [
            SelectChoice("", "Everything"),
            *(SelectChoice(action, text.capitalize()) for text, action in texts),
        ]

    def errors_by_field(self) -> Sequence[tuple[str, str]]:
        """Id of the field if it is wrong, and the sentence that says what to do."""
        return [(field.id, error) for field in self for error in field.errors]

    def _midnight(self, time_zone: tzinfo | None) -> datetime | None:
        """Start of the day; adding a day is right over a change of the clock, too."""
        try:
            day = datetime.strptime((self.day.data or "").strip()[:DAY_MAX], DAY)
            return None if day.year < 2000 else day.replace(tzinfo=time_zone)
        except ValueError:
            return None
