"""Read model of the page of a check on site."""

from dataclasses import dataclass

from wtforms import Field

from triage.services.calculations import Calculation, Judgement
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
    """Put the page of a check together."""
    calculator = form.calculator
    return CheckScreen(
        title=calculator.title,
        purpose=calculator.purpose,
        source=calculator.source,
        rows=tuple(form.rows()),
        result=None if form.calculation is None else _result(form.calculation),
    )


def _result(calculation: Calculation) -> ResultShown:
    outcome = calculation.outcome
    mark, word = JUDGEMENTS[outcome.judgement]
    entered = entered_texts(calculation.calculator, calculation.entries)
    return ResultShown(
        kind=outcome.judgement.value.replace("_", "-"),
        mark=mark,
        word=word,
        sentence=outcome.sentence,
        lines=tuple(Labelled(line.label, line.text) for line in outcome.lines),
        notes=outcome.notes,
        entered=tuple(Labelled(label, text) for label, text in entered),
    )
