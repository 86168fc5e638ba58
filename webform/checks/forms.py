"""The form of a check on site, made from what its calculator asks for."""

from collections.abc import Iterator, Mapping, Sequence

from wtforms import Field, RadioField, SelectChoice, StringField
from wtforms.form import BaseForm
from wtforms.validators import StopValidation

from triage.errors import InputValueError
from triage.services.calculations import (
    Calculation,
    Calculator,
    ChoiceInput,
    Entries,
    Input,
    calculate,
)
from triage.services.wording import Units, told_in

ENTRY_MAX = 40  # letters; "100 ft 11.5 in" has 14


class Readable:
    """Demand what the calculator can read: "Length of the duct must be a number from …"."""

    def __init__(self, entry: Input, units: Units) -> None:
        self.entry, self.units = entry, units

    def __call__(self, form: BaseForm, field: Field) -> None:
        """Stop at what cannot be read."""
        text = field.data or ""
        if len(text) > ENTRY_MAX:
            raise StopValidation(f"{self.entry.label} must be {ENTRY_MAX} characters or fewer")
        try:
            self.entry.read(_with_unit(self.entry, text, self.units))
        except InputValueError:
            raise StopValidation(_sentence(self.entry, text, self.units)) from None


class CheckForm(BaseForm):
    """Fields for the inputs of a calculator, filled from the address of the page.

    ``calculation`` is None until something was entered, and where something is wrong.
    """

    def __init__(self, calculator: Calculator, sent: Mapping[str, str], units: Units) -> None:
        self.calculator, self.units = calculator, units
        super().__init__({entry.id: _field(entry, units) for entry in calculator.inputs})
        is_sent = any(entry.id in sent for entry in calculator.inputs)
        self.process(sent if is_sent else None)
        self.calculation = self._calculate() if is_sent and self.validate() else None

    def errors_by_field(self) -> Sequence[tuple[str, str]]:
        """Id of each field that is wrong, and the sentence that says what to do."""
        return [(field.id, error) for field in self for error in field.errors]

    def rows(self) -> Iterator[tuple[Field, ...]]:
        """Fields from top to bottom; whole numbers that follow each other are one row."""
        counts: list[Field] = []
        for entry in self.calculator.inputs:
            if not isinstance(entry, ChoiceInput) and entry.is_whole:
                counts.append(self[entry.id])
                continue
            if counts:
                yield tuple(counts)
                counts = []
            yield (self[entry.id],)
        if counts:
            yield tuple(counts)

    def _calculate(self) -> Calculation | None:
        """Answer; None if one entry asks for another that is missing, which is then said there."""
        texts = {
            entry.id: _with_unit(entry, self[entry.id].data or "", self.units)
            for entry in self.calculator.inputs
        }
        try:
            return calculate(self.calculator.id, texts)
        except InputValueError as error:
            entry = next(one for one in self.calculator.inputs if one.id == error.input_id)
            self[error.input_id].errors = [f"{_entered(entry)}: {error.expected}"]
            return None


def entered_texts(
    calculator: Calculator, entries: Entries, units: Units
) -> Iterator[tuple[str, str]]:
    """Label and value of what was entered, defaults filled in."""
    for entry in calculator.inputs:
        if isinstance(entry, ChoiceInput):
            yield entry.label, entry.choices[entries.choices[entry.id]]
        elif entry.id in entries.numbers:
            value = entries.numbers[entry.id]
            yield (
                told_in(entry.label, units),
                entry.quantity.text(value, in_metric=units is Units.SI),
            )


def _field(entry: Input, units: Units) -> Field:
    common = {"validators": [Readable(entry, units)], "id": f"in-{entry.id}"}
    if isinstance(entry, ChoiceInput):
        choices = [SelectChoice(value, label) for value, label in entry.choices.items()]
        return RadioField(
            entry.label,
            description=entry.hint,
            choices=choices,
            validate_choice=False,
            default=entry.default_text,
            **common,
        )
    label = told_in(entry.label, units)
    # Digits alone are enough only where there is no unit to choose; else letters are needed.
    keyboard = {True: "numeric", False: "decimal"}[entry.is_whole]
    has_units = len(entry.quantity.units) > 1
    return StringField(
        label if entry.is_required or entry.default is not None else f"{label}, if known",
        description=f"{told_in(entry.hint, units)}. {_first_upper(_expected(entry, units))}.",
        default=entry.default_in(in_metric=units is Units.SI),
        render_kw={"autocomplete": "off", "inputmode": "text" if has_units else keyboard},
        **common,
    )


def _with_unit(entry: Input, text: str, units: Units) -> str:
    """What was entered; a number without a unit is in the units of the shop."""
    if units is Units.US or isinstance(entry, ChoiceInput):
        return text
    return entry.quantity.with_metric_unit(text)


def _expected(entry: Input, units: Units) -> str:
    if isinstance(entry, ChoiceInput):
        return entry.expected
    return entry.expected_in(in_metric=units is Units.SI)


def _sentence(entry: Input, text: str, units: Units) -> str:
    if not text.strip():
        return f"{_entered(entry)}: {_expected(entry, units)}"
    if isinstance(entry, ChoiceInput):
        return f"Choose {_first_lower(entry.label)}"
    return f"{entry.label} must be {_expected(entry, units)}"


def _entered(entry: Input) -> str:
    return f"Enter {_first_lower(entry.label)}"


def _first_upper(text: str) -> str:
    return text[0].upper() + text[1:]


def _first_lower(text: str) -> str:
    return text[0].lower() + text[1:]
