"""Calculators for checks on site: the list of them, and the answer to what was entered.

Entries are texts, as a form or a command line has them: a number may carry a unit, a choice is
the name of one of its choices. An entry that is missing or blank takes its default. What a page
needs to draw a form is in the inputs of a calculator: ``kind`` (number or choice), ``label``,
``hint``, ``default_text``, ``is_required``, and ``choices`` or ``quantity`` and ``limits``.

>>> entries = {"elbows_4in_90": "2", "elbows_4in_45": "1", "length": "18 ft 6 in"}
>>> calculation = calculate("dryer_duct", entries)
>>> calculation.outcome.lines[0].text, calculation.outcome.judgement.value
('22.5 ft (6.858 m)', 'inside')
"""

from collections.abc import Mapping
from dataclasses import dataclass

from triage.errors import UnknownCalculatorError, UnknownInputError
from triage.trade.calculators import (
    capacitor,
    duct,
    element,
    fill,
    standpipe,
    supply,
    thermistor,
)
from triage.trade.calculators.catalogue import (
    Calculator,
    ChoiceInput,
    Entries,
    Input,
    Judgement,
    NumberInput,
    Outcome,
    ResultLine,
)

__all__ = [
    "Calculation",
    "Calculator",
    "ChoiceInput",
    "Entries",
    "Input",
    "Judgement",
    "NumberInput",
    "Outcome",
    "ResultLine",
    "calculate",
    "calculator",
    "calculators",
]

_CALCULATORS: Mapping[str, Calculator] = {
    entry.CALCULATOR.id: entry.CALCULATOR
    for entry in (duct, standpipe, fill, supply, element, thermistor, capacitor)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculation:
    """A calculator, what it was given with defaults filled in, and its outcome."""

    calculator: Calculator
    entries: Entries
    outcome: Outcome


def calculators() -> tuple[Calculator, ...]:
    """All calculators: those of the house first, then those of the machine."""
    return tuple(_CALCULATORS.values())


def calculator(name: str) -> Calculator:
    """Calculator of that name.

    Raises
    ------
    UnknownCalculatorError
        There is none.
    """
    if name not in _CALCULATORS:
        raise UnknownCalculatorError(name, list(_CALCULATORS))
    return _CALCULATORS[name]


def calculate(name: str, texts: Mapping[str, str]) -> Calculation:
    """Work out the answer to what was entered.

    Parameters
    ----------
    name : str
        Id of a calculator.
    texts : mapping of str to str
        What was entered, by input. Numbers without a unit are in the first unit of their quantity.

    Returns
    -------
    Calculation
        Entries with their defaults, and the outcome.

    Raises
    ------
    UnknownCalculatorError
        There is no calculator of that name.
    UnknownInputError
        The calculator does not ask for one of the entries.
    InputValueError
        An entry is missing, is no number with a known unit, or is outside its limits.
    """
    chosen = calculator(name)
    known = [entry.id for entry in chosen.inputs]
    for unknown in texts:
        if unknown not in known:
            raise UnknownInputError(name, unknown, known)
    entries = _read(chosen, texts)
    return Calculation(calculator=chosen, entries=entries, outcome=chosen.work(entries))


def _read(chosen: Calculator, texts: Mapping[str, str]) -> Entries:
    numbers: dict[str, float] = {}
    choices: dict[str, str] = {}
    for entry in chosen.inputs:
        text = texts.get(entry.id, "")
        if isinstance(entry, ChoiceInput):
            choices[entry.id] = entry.read(text)
        elif (value := entry.read(text)) is not None:
            numbers[entry.id] = value
    return Entries(numbers=numbers, choices=choices)
