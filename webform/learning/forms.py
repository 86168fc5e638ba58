"""Forms of the pages of learning."""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from flask_wtf.file import FileField, FileRequired
from wtforms import (
    BooleanField,
    Form,
    RadioField,
    SelectChoice,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.widgets import CheckboxInput, ListWidget

from triage.errors import (
    JobFileError,
    LearningSettingsError,
    NetworkFileError,
    NothingApprovedError,
    TriageError,
    UnknownChangeError,
)
from triage.services.calls.calls import Database
from triage.services.learning.editing import Edit, Number
from triage.services.learning.files import COLUMNS
from triage.services.learning.proposing import default_settings
from triage.services.learning.stock import StockTerms
from triage.services.learning.versions import propose_edit
from triage.services.people.audit import Stamp
from webform.forms import AtMost, Chosen, Entered, PageForm
from webform.learning.texts import SETTING_LABELS, TOGETHER_LABEL

REASON_MAX = 500
SOURCE_MAX = 200
GRADES = [
    SelectChoice("measured", "measured in this shop"),
    SelectChoice("published", "published"),
    SelectChoice("judged", "judged by somebody who knows the trade"),
]
SAME = "same_for_all"


class ReasonForm(PageForm):
    """A decision and why."""

    reason = TextAreaField(
        "Why",
        description="Stays with the version and in the audit trail",
        validators=[Entered(thing="why"), AtMost(REASON_MAX, thing="the reason")],
    )


class RowsForm(ReasonForm):
    """Approve a version, or the rows of its difference table that are ticked."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {NothingApprovedError: "rows"}

    rows = SelectMultipleField(
        validate_choice=False, widget=ListWidget(), option_widget=CheckboxInput()
    )


class ButtonForm(PageForm):
    """A button and nothing else."""


class FileForm(PageForm):
    """A file of closed jobs."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {JobFileError: "file"}

    file = FileField(
        "File of closed jobs",
        description="CSV with a heading and a line for each job; at most 20 MB",
        validators=[FileRequired(message="Choose a file")],
    )


class ColumnsForm(PageForm):
    """Which column of a file is which of ours; made for one file."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {JobFileError: "column_job"}

    @classmethod
    def of(
        cls,
        heading: Sequence[str],
        columns: Mapping[str, str],
        networks: Sequence[tuple[str, str]],
    ) -> "ColumnsForm":
        """Form with a choice for each of our columns, set to what was chosen or guessed."""
        named = (SelectChoice(name, name.replace("_", " ")) for name in heading if name)
        choices = [SelectChoice("", "not in the file"), *named]
        fields: dict[str, Any] = {
            f"column_{own.name}": SelectField(
                own.title,
                choices=choices
                + (
                    [SelectChoice(f"={name}", f"always {title}") for name, title in networks]
                    if own.name == "appliance"
                    else []
                ),
                default=columns.get(own.name, ""),
                validate_choice=False,
            )
            for own in COLUMNS
        }
        made: ColumnsForm = type("ColumnsOfFile", (cls,), fields)()
        return made

    def chosen(self) -> dict[str, str]:
        """Column of the file by ours; empty where it has none."""
        return {own.name: self[f"column_{own.name}"].data or "" for own in COLUMNS}


class ProposeForm(PageForm):
    """What learning assumes."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {LearningSettingsError: "share_jobs"}

    reason = StringField(
        "Why now", description="May stay empty", validators=[AtMost(REASON_MAX, thing="the reason")]
    )
    learns_together = BooleanField(
        TOGETHER_LABEL,
        description="Jobs of other appliance kinds lend to the causes and signs they share",
        default=True,
    )

    def settings(self) -> dict[str, float | None] | None:
        """Settings as numbers; None if one of them is none, and then its field says so."""
        found: dict[str, float | None] = {"learns_together": bool(self.learns_together.data)}
        for name in SETTING_LABELS:
            text = (self[name].data or "").strip()
            if not text and name == "half_life_months":
                found[name] = None
                continue
            value = _number(text)
            if name == "careless_share":
                is_wrong, what = value is None or not 0.0 <= value < 1.0, "of 0 or more, below 1"
            else:
                is_wrong, what = value is None or value <= 0.0, "above 0"
            if is_wrong:
                self[name].errors = [f"{self[name].label.text}: enter a number {what}"]
            else:
                found[name] = value
        if any(self[name].errors for name in SETTING_LABELS):
            return None
        return found


for _name, (_label, _hint) in SETTING_LABELS.items():
    _value = default_settings()[_name]
    setattr(
        ProposeForm,
        _name,
        StringField(
            _label,
            description=_hint,
            default="" if _value is None else f"{_value:g}",
            validators=[AtMost(20, thing="the number")],
        ),
    )


class KindForm(Form):
    """What sort of number is to be set; it stands in the address."""

    number = SelectField("Number", validate_choice=False, validators=[Chosen(thing="a number")])

    @classmethod
    def of(cls, numbers: Sequence[Number], sent: Mapping[str, str] | None = None) -> "KindForm":
        """Form with every number of a kind."""
        form = cls(sent)
        form.number.choices = [
            SelectChoice("", "Choose a number"),
            *(SelectChoice(one.key, one.title, optgroup=one.group) for one in numbers),
        ]
        return form

    def errors_by_field(self) -> Sequence[tuple[str, str]]:
        """Id of the field if it is wrong, and the sentence that says what to do."""
        return [(field.id, error) for field in self for error in field.errors]


class NumberForm(PageForm):
    """A number, why, and where it comes from."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {UnknownChangeError: "value"}

    problems: Sequence[str] = ()
    value = StringField("New number", validators=[Entered(thing="the new number")])
    grade = RadioField(
        "How far it can be trusted",
        choices=GRADES,
        validate_choice=False,
        validators=[Chosen(thing="how far it can be trusted")],
    )
    worth = StringField(
        "Worth, in closed jobs",
        description="Only for a judged number: how many closed jobs the judgement is worth",
        default="20",
    )
    source = StringField(
        "Where it comes from",
        validators=[
            Entered(thing="where it comes from"),
            AtMost(SOURCE_MAX, thing="where it comes from"),
        ],
    )
    reason = TextAreaField(
        "Why", validators=[Entered(thing="why"), AtMost(REASON_MAX, thing="the reason")]
    )

    def propose(self, database: Database, network_id: str, edit: Edit, stamp: Stamp) -> int | None:
        """Propose the number; None if the network would be none any more, and then it says why."""
        try:
            return propose_edit(database, network_id, edit, stamp)
        except NetworkFileError as error:
            self.problems = error.problems
            self.value.errors = ["With this number the network would not hold together; see below"]
            return None

    def edit(self, number: Number) -> Edit | None:
        """Number as it is to be set; None if it is none, and then its field says so."""
        value, worth = (_number(self[name].data) for name in ("value", "worth"))
        low, high = (0.0, 1.0) if number.is_chance else (0.0, 100_000.0)
        if value is None or not low < value < high:
            unit = "a chance between 0 and 1" if number.is_chance else "a number above 0"
            self.value.errors = [f"The new number must be {unit}"]
        if self.grade.data == "judged" and (worth is None or worth <= 0.0):
            self.worth.errors = ["Enter how many closed jobs the judgement is worth"]
        if value is None or self.value.errors or self.worth.errors:
            return None
        return Edit(
            key=number.key,
            value=value,
            reason=self.reason.data.strip(),
            source=self.source.data.strip(),
            grade=self.grade.data,
            equivalent_sample_size=worth if self.grade.data == "judged" else None,
        )


class StockForm(Form):
    """What carrying parts is reckoned with; it stands in the address."""

    holding = StringField(
        "A part aboard costs a year, in percent of its price",
        description="Capital, space, wear; 25 is common practice, no source",
        default="25",
    )
    refill = StringField("The van is refilled every so many days", default="7")
    vans = StringField("Vans that share the jobs", default="1")

    def terms(self) -> StockTerms | None:
        """Terms; None if something is no number, and then its field says so."""
        held, refill, vans = (
            _number(field.data) for field in (self.holding, self.refill, self.vans)
        )
        if held is None or not 0.0 < held <= 500.0:
            self.holding.errors = ["The cost a year must be a number above 0 and at most 500"]
        if refill is None or not 0.0 < refill <= 365.0:
            self.refill.errors = ["The days must be a number above 0 and at most 365"]
        if vans is None or vans != int(vans) or not 1 <= vans <= 100:
            self.vans.errors = ["The vans must be a whole number from 1 to 100"]
        if self.errors_by_field() or held is None or refill is None or vans is None:
            return None
        return StockTerms(holding_share=held / 100.0, refill_days=refill, vans=int(vans))

    def errors_by_field(self) -> Sequence[tuple[str, str]]:
        """Id of each field that is wrong, and the sentence that says what to do."""
        return [(field.id, error) for field in self for error in field.errors]


def _number(text: str | None) -> float | None:
    try:
        value = float((text or "").strip().replace(",", "."))
    except ValueError:
        return None
    return value if value == value and abs(value) != float("inf") else None
