"""``triage calculate``: checks on site as calculators, each with its source."""

from collections.abc import Sequence
from typing import Any

import click

from triage.cli.mistakes import UserMistake
from triage.cli.output import heading, json_option, table, wrapped, write_json
from triage.services import calculations
from triage.services.calculations import (
    Calculation,
    Calculator,
    ChoiceInput,
    Input,
    Judgement,
)

JUDGEMENT_WORDS = {
    Judgement.INSIDE: "Good",
    Judgement.BORDERLINE: "Borderline",
    Judgement.OUTSIDE: "Not good",
}  # nothing is said where nothing is judged


@click.command()
@click.argument("name", required=False, metavar="[CALCULATOR]")
@click.argument("entries", nargs=-1, metavar="[INPUT=VALUE]...")
@json_option
def calculate(name: str | None, entries: tuple[str, ...], as_json: bool) -> None:
    """Work out a check on site: duct, drain, supply, resistance.

    Without CALCULATOR it lists the calculators; with CALCULATOR alone, what that one asks for. A
    number may carry its unit: length=18.5, length=18ft6in, length=5.6m. What is left out takes its
    default.
    """
    if name is None:
        _list(calculations.calculators(), as_json)
        return
    # People type a hyphen where ids have an underscore.
    chosen = calculations.calculator(name.replace("-", "_"))
    if not entries:
        _list([chosen], as_json)
        return
    calculation = calculations.calculate(chosen.id, _read(entries))
    if as_json:
        write_json(calculation_as_json(calculation))
    else:
        click.echo("\n".join(_calculation_lines(calculation)))


def calculation_as_json(calculation: Calculation) -> dict[str, Any]:
    """Stable data of an answer."""
    chosen, outcome = calculation.calculator, calculation.outcome
    return {
        "calculator": chosen.id,
        "title": chosen.title,
        "inputs": [_entry_as_json(entry, calculation) for entry in chosen.inputs],
        "results": [
            {
                "id": line.id,
                "label": line.label,
                "measures": [
                    {"value": measure.value, "unit": measure.unit} for measure in line.measures
                ],
            }
            for line in outcome.lines
        ],
        "judgement": outcome.judgement.value,
        "sentence": outcome.sentence,
        "notes": list(outcome.notes),
        "source": chosen.source,
    }


def calculator_as_json(chosen: Calculator) -> dict[str, Any]:
    """Stable data of a calculator."""
    return {
        "id": chosen.id,
        "title": chosen.title,
        "purpose": chosen.purpose,
        "inputs": [_input_as_json(entry) for entry in chosen.inputs],
        "source": chosen.source,
    }


def _entry_as_json(entry: Input, calculation: Calculation) -> dict[str, Any]:
    return {
        "id": entry.id,
        "choice": calculation.entries.choices.get(entry.id),
        "value": calculation.entries.numbers.get(entry.id),
        "unit": None if isinstance(entry, ChoiceInput) else entry.quantity.unit,
    }


def _input_as_json(entry: Input) -> dict[str, Any]:
    number = None if isinstance(entry, ChoiceInput) else entry
    return {
        "id": entry.id,
        "kind": entry.kind,
        "label": entry.label,
        "hint": entry.hint,
        "choices": list(entry.choices) if isinstance(entry, ChoiceInput) else None,
        "units": number and [unit.symbol for unit in number.quantity.units],
        "limits": number and [number.limits.low, number.limits.high],
        "is_whole": number and number.is_whole,
        "default": entry.default,
        "is_required": entry.is_required,
    }


def _read(entries: Sequence[str]) -> dict[str, str]:
    """Entries by input, as they were typed."""
    texts: dict[str, str] = {}
    for entry in entries:
        name, equals, text = entry.partition("=")
        key = name.strip().replace("-", "_")
        if not equals or not key:
            raise UserMistake(f'"{entry}" is no entry; expected INPUT=VALUE, such as length=18.5.')
        if key in texts:
            raise UserMistake(f'input "{key}" is entered twice; enter it once.')
        texts[key] = text
    return texts


def _list(listed: Sequence[Calculator], as_json: bool) -> None:
    if as_json:
        write_json({"calculators": [calculator_as_json(entry) for entry in listed]})
    elif len(listed) == 1:
        click.echo("\n".join(_calculator_lines(listed[0])))
    else:
        click.echo("\n".join(table([(entry.id, entry.purpose) for entry in listed], indent=0)))
        click.echo('\n"triage calculate CALCULATOR" says what a calculator asks for.')


def _calculator_lines(chosen: Calculator) -> list[str]:
    lines = [chosen.title, wrapped(chosen.purpose, 2), heading("Inputs")]
    for entry in chosen.inputs:
        lines += [
            f"  {entry.id}  [{_need(entry)}]",
            wrapped(f"{entry.label}. {entry.hint}.", 4),
        ]
        if isinstance(entry, ChoiceInput):
            lines += table(list(entry.choices.items()), indent=6)
        else:
            lines.append(wrapped(f"{entry.expected[0].upper()}{entry.expected[1:]}.", 4))
    return [*lines, "", wrapped(f"Source: {chosen.source}.", 0, 8)]


def _need(entry: Input) -> str:
    if entry.is_required:
        return "required"
    return f"default {entry.default_text}" if entry.default is not None else "optional"


def _calculation_lines(calculation: Calculation) -> list[str]:
    outcome = calculation.outcome
    word = JUDGEMENT_WORDS.get(outcome.judgement)
    return [
        calculation.calculator.title,
        *table([(line.label, line.text) for line in outcome.lines]),
        "",
        wrapped(f"{word}: {outcome.sentence}" if word else outcome.sentence),
        *(wrapped(f"- {note}", 0, 2) for note in outcome.notes),
        "",
        wrapped(f"Source: {calculation.calculator.source}.", 0, 8),
    ]
