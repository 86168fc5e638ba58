"""The form that chooses which closed jobs are shown; it stands in the address."""

import re
from collections.abc import Sequence
from datetime import datetime, tzinfo

from wtforms import Form, SelectChoice, SelectField, StringField
from wtforms.validators import ValidationError

from triage.services.closing.closed import ClosingFilter
from triage.services.closing.values import ClosingOutcome
from triage.services.networks.engines import network_choices
from triage.services.networks.scope import OTHER_KINDS
from webform.closing.texts import OUTCOMES_SHORT

MONTH = re.compile(r"(20\d\d)-(0[1-9]|1[0-2])")


class ClosedForm(Form):
    """Appliance, outcome, month and person; what is left open lets every job through."""

    appliance = SelectField("Appliance", validate_choice=False)
    outcome = SelectField(
        "Outcome",
        choices=[
            SelectChoice("", "Every outcome"),
            *(SelectChoice(outcome.value, text) for outcome, text in OUTCOMES_SHORT.items()),
        ],
        validate_choice=False,
    )
    month = StringField("Month", description="Year and month, such as 2026-03")
    person = SelectField("Closed by", validate_choice=False)

    def validate_month(self, field: StringField) -> None:
        """Demand a month that there is, or nothing."""
        if field.data and MONTH.fullmatch(field.data.strip()) is None:
            raise ValidationError("Month must be written as year and month, such as 2026-03")

    def offer(self, people: Sequence[str]) -> None:
        """Offer every appliance, and everybody who closed a job."""
        kinds = [*network_choices(), *((kind.id, kind.title) for kind in OTHER_KINDS.values())]
        self.appliance.choices = [
            SelectChoice("", "Every appliance"),
            *(SelectChoice(name, title) for name, title in kinds),
        ]
        self.person.choices = [
            SelectChoice("", "Everybody"),
            *(SelectChoice(name, name) for name in people if name),
        ]

    def wanted(self, time_zone: tzinfo) -> ClosingFilter:
        """Return what was chosen as a filter; what cannot be read counts as nothing."""
        since, before = self._bounds(time_zone)
        outcomes = {outcome.value for outcome in ClosingOutcome}
        chosen = self.outcome.data or ""
        return ClosingFilter(
            network_id=self.appliance.data or "",
            outcome=chosen if chosen in outcomes else "",
            closed_by=self.person.data or "",
            since=since,
            before=before,
        )

    def errors_by_field(self) -> Sequence[tuple[str, str]]:
        """Id of the field if it is wrong, and the sentence that says what to do."""
        return [(field.id, error) for field in self for error in field.errors]

    def _bounds(self, time_zone: tzinfo) -> tuple[datetime | None, datetime | None]:
        found = MONTH.fullmatch((self.month.data or "").strip())
        if found is None:
            return None, None
        year, month = int(found[1]), int(found[2])
        first = datetime(year, month, 1, tzinfo=time_zone)
        return first, datetime(year + month // 12, month % 12 + 1, 1, tzinfo=time_zone)
