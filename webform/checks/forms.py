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

ENTRY_MAX = 40  # letters; "100 ft 11.5 in" has 14


class Readable:
    """Demand what the calculator can read: "Length of the duct must be a number from …"."""

    def __init__(self, entry: Input) -> None:
        self.entry = entry

    def __call__(self, form: BaseForm, field: Field) -> None:
        """Stop at what cannot be read."""
        text = field.data or ""
        if len(text) > ENTRY_MAX:
            raise StopValidation(f"{self.entry.label} must be {ENTRY_MAX} characters or fewer")
        try:
            self.entry.read(text)
        except InputValueError:
            raise StopValidation(_sentence(self.entry, text)) from None


class CheckForm(BaseForm):
    """Fields for the inputs of a calculator, filled from the address of the page.

    ``calculation`` is None until something was entered, and where something is wrong.
    """

    def __init__(self, calculator: Calculator, sent: Mapping[str, str]) -> None:
        self.calculator = calculator
        super().__init__({entry.id: _field(entry) for entry in calculator.inputs})
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
        texts = {name: field.data or "" for name, field in self._fields.items()}
        try:
            return calculate(self.calculator.id, texts)
        except InputValueError as error:
            entry = next(one for one in self.calculator.inputs if one.id == error.input_id)
            self[error.input_id].errors = [f"{_entered(entry)}: {error.expected}"]
            return None


def entered_texts(calculator: Calculator, entries: Entries) -> Iterator[tuple[str, str]]:
    """Label and value of what was entered, defaults filled in."""
    for entry in calculator.inputs:
        if isinstance(entry, ChoiceInput):
            yield entry.label, entry.choices[entries.choices[entry.id]]
        elif entry.id in entries.numbers:
            yield entry.label, entry.quantity.text(entries.numbers[entry.id])


def _field(entry: Input) -> Field:
    common = {
        "validators": [Readable(entry)],
        "default": entry.default_text,
        "id": f"in-{entry.id}",
    }
    if isinstance(entry, ChoiceInput):
        choices = [SelectChoice(value, label) for value, label in entry.choices.items()]
        return RadioField(
            entry.label, description=entry.hint, choices=choices, validate_choice=False, **common
        )
    # Digits alone are enough only where there is no unit to choose; else letters are needed.
    keyboard = {True: "numeric", False: "decimal"}[entry.is_whole]
    has_units = len(entry.quantity.units) > 1
    return StringField(
        entry.label
        if entry.is_required or entry.default is not None
        else f"{entry.label}, if known",
        description=f"{entry.hint}. {_first_upper(entry.expected)}.",
        render_kw={"autocomplete": "off", "inputmode": "text" if has_units else keyboard},
        **common,
    )


def _sentence(entry: Input, text: str) -> str:
    if not text.strip():
        return f"{_entered(entry)}: {entry.expected}"
    if isinstance(entry, ChoiceInput):
        return f"Choose {_first_lower(entry.label)}"
    return f"{entry.label} must be {entry.expected}"


def _entered(entry: Input) -> str:
    return f"Enter {_first_lower(entry.label)}"


def _first_upper(text: str) -> str:
    return text[0].upper() + text[1:]


def _first_lower(text: str) -> str:
    return text[0].lower() + text[1:]
