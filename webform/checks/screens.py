"""Read model of the page of a check on site."""

from dataclasses import dataclass, replace

from wtforms import Field

from triage.services.calculations import Calculation, Judgement, ResultLine
from triage.services.wording import Units, told_in
from webform.checks.forms import CheckForm, entered_texts

# Mark and word: neither needs a colour. Nothing is said where no source gives a limit.
JUDGEMENTS = {
    Judgement.INSIDE: ("✓", "Good."),
    Judgement.BORDERLINE: ("!", "Borderline."),
    Judgement.OUTSIDE: ("✗", "Not good."),
    Judgement.NOT_JUDGED: ("", ""),
}


@dataclass(frozen=True, slots=True)
class Labelled:
    """A value with its label."""

    label: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultShown:
    """The answer: what it means first, then the numbers, then what was entered."""

    kind: str
    mark: str
    word: str
    sentence: str
    lines: tuple[Labelled, ...]
    notes: tuple[str, ...]
    entered: tuple[Labelled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckScreen:
    """Everything the page of a check shows."""

    title: str
    purpose: str
    source: str
    rows: tuple[tuple[Field, ...], ...]
    result: ResultShown | None


def check_screen(form: CheckForm) -> CheckScreen:
    """Put the page of a check together; results are told in the units of the form first."""
    calculator, units = form.calculator, form.units
    return CheckScreen(
        title=calculator.title,
        purpose=told_in(calculator.purpose, units),
        source=calculator.source,
        rows=tuple(form.rows()),
        result=None if form.calculation is None else _result(form.calculation, units),
    )


def _result(calculation: Calculation, units: Units) -> ResultShown:
    outcome = calculation.outcome
    mark, word = JUDGEMENTS[outcome.judgement]
    entered = entered_texts(calculation.calculator, calculation.entries, units)
    return ResultShown(
        kind=outcome.judgement.value.replace("_", "-"),
        mark=mark,
        word=word,
        sentence=told_in(outcome.sentence, units),
        lines=tuple(Labelled(line.label, _in_units(line, units)) for line in outcome.lines),
        notes=tuple(told_in(note, units) for note in outcome.notes),
        entered=tuple(Labelled(label, text) for label, text in entered),
    )


def _in_units(line: ResultLine, units: Units) -> str:
    """Number in the units of the shop first, in the others after it."""
    is_turned = units is Units.SI and len(line.measures) > 1
    return replace(line, measures=line.measures[::-1]).text if is_turned else line.text
