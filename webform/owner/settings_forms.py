"""Forms of the settings: fields for entries, or the whole text."""

from collections.abc import Mapping, Sequence
from typing import Any

from wtforms import (
    Field,
    SelectChoice,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.validators import StopValidation

from triage.services.shop.settings_data import KeyPath, Problem, check_whole, text_with, value_at
from webform.amounts import Between
from webform.forms import AtMost, PageForm
from webform.owner.settings_fields import Entry, Group

REASON_MAX = 500
TEXT_MAX = 60_000
# Problems whose sentence names keys of the file.
SAID_OTHERWISE = {"unrepaired": "Enter either the share or the cost, and clear the other"}
ENTRIES_MAX = 2_000  # letters of a list


class SettingsForm(PageForm):
    """Fields for the entries of some groups; ``for_groups`` makes one."""

    groups: tuple[Group, ...] = ()
    before: Mapping[str, Any] = {}

    reason = StringField(
        "Why",
        description="Stands in the history; may stay empty",
        validators=[AtMost(REASON_MAX, thing="the reason")],
    )

    @classmethod
    def for_groups(cls, groups: Sequence[Group], data: Mapping[str, Any]) -> "SettingsForm":
        """Form filled in with what holds, if it is shown for the first time."""
        entries = [entry for group in groups for entry in group.entries]
        fields = {entry.name: _field(entry) for entry in entries}
        made = type(cls.__name__, (cls,), {**fields, "groups": tuple(groups), "before": data})
        form: SettingsForm = made()
        if not form.is_submitted():
            for entry in entries:
                form[entry.name].data = _shown(entry, value_at(data, entry.path))
        return form

    def entries(self) -> list[Entry]:
        """Entries of every group."""
        return [entry for group in self.groups for entry in group.entries]

    def rows(self) -> list[tuple[Group, list[Field]]]:
        """Groups with their fields."""
        return [(group, [self[entry.name] for entry in group.entries]) for group in self.groups]

    def text(self) -> str:
        """Text of the settings as they would be."""
        changes: dict[KeyPath, Any] = {}
        for entry in self.entries():
            shown = _shown(entry, value_at(self.before, entry.path))
            if self[entry.name].data != shown:
                changes[entry.path] = _read(entry, self[entry.name].data)
        return text_with(self.before, changes)

    def validate(self, extra_validators: Mapping[str, Sequence[object]] | None = None) -> bool:
        """Check each field, then the settings as a whole."""
        if not super().validate(extra_validators):
            return False
        problems = check_whole(self.text()).problems
        for problem in problems:
            field = self[self._field_of(problem)]
            said = SAID_OTHERWISE.get(problem.path, f"{field.label.text}: {problem.sentence}")
            field.errors = [*field.errors, said]
        return not problems

    def _field_of(self, problem: Problem) -> str:
        """Name of the field that a problem is about; the reason's where it is about none."""
        near = [
            entry.name
            for entry in self.entries()
            if problem.path == entry.name
            or problem.path.startswith((f"{entry.name}.", f"{entry.name}["))
            or entry.name.startswith(f"{problem.path}.")
        ]
        return near[0] if problem.path and near else "reason"


class SettingsTextForm(PageForm):
    """The settings as text."""

    text = TextAreaField(
        "Settings",
        description="As a settings file; what is left out takes its default",
        validators=[AtMost(TEXT_MAX, thing="the text")],
    )
    reason = StringField(
        "Why",
        description="Stands in the history; may stay empty",
        validators=[AtMost(REASON_MAX, thing="the reason")],
    )

    def validate_text(self, field: Field) -> None:
        """Demand settings without a problem; every one is told with its line."""
        problems = check_whole(self.plain_text()).problems
        if problems:
            told = [f"Line {one.line}: {_about(one)}{one.sentence}" for one in problems]
            field.errors = told[:-1]
            raise StopValidation(told[-1])

    def plain_text(self) -> str:
        """Text with the line ends of a file; browsers send others."""
        return (self.text.data or "").replace("\r\n", "\n")


def _about(problem: Problem) -> str:
    return f"{problem.path}: " if problem.path else ""


def _field(entry: Entry) -> Field:
    match entry.kind:
        case "choice" | "ticks":
            choices = [SelectChoice(value, text) for value, text in entry.choices]
            kind = SelectField if entry.kind == "choice" else SelectMultipleField
            return kind(entry.label, description=entry.hint, choices=choices, validate_choice=False)
        case "list":
            limit = AtMost(ENTRIES_MAX, thing=entry.label)
            return StringField(entry.label, description=entry.hint, validators=[limit])
        case "text" | "long":
            limit = AtMost(entry.most, thing=entry.label)
            kind = TextAreaField if entry.kind == "long" else StringField
            return kind(entry.label, description=entry.hint, validators=[limit])
        case _:
            between = Between(
                entry.low,
                entry.high,
                thing=entry.label,
                is_needed=False,
                is_whole=entry.kind == "whole",
            )
            return StringField(
                entry.label,
                description=entry.hint,
                validators=[between],
                render_kw={"inputmode": "decimal"},
            )


def _shown(entry: Entry, value: Any) -> Any:
    """Entry of the settings as its field shows it."""
    match entry.kind:
        case "ticks":
            return list(value or ())
        case "list":
            return ", ".join(str(one) for one in value or ())
        case "choice":
            return value or entry.choices[0][0]
        case "number" | "whole" if isinstance(value, list):
            return ""  # a range, which stands in the text only
        case "number" | "whole":
            return "" if value is None else f"{value:g}" if value < 1e6 else str(value)
        case _:
            return "" if value is None else str(value)


def _read(entry: Entry, data: Any) -> Any:
    """Entry of the settings as it was typed; None where it is left empty."""
    match entry.kind:
        case "ticks":
            known = [value for value, _ in entry.choices]
            return [one for one in known if one in (data or ())] or None
        case "choice":
            return data
        case "list":
            found = [one.strip() for one in (data or "").split(",") if one.strip()]
            return found or ([] if entry.path[-1] != "service_area" else None)
        case "whole":
            return int(data) if (data or "").strip() else None
        case "number":
            text = (data or "").strip()
            value = float(text) if text else None
            return int(value) if value is not None and value == int(value) else value
        case _:
            return (data or "").replace("\r\n", "\n").strip() or None
