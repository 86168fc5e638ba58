"""What a calculator asks for and what it answers, in values that a page or a command can show.

An **input** is a number with a unit or a choice from a list. An **outcome** is a list of result
lines, a **judgement** and the sentence that goes with it. A calculator judges only where a source
or the trade gives a limit; else it says that it does not.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from triage.errors import InputValueError
from triage.trade.calculators.quantities import Limits, Measure, Quantity, shown


class Judgement(StrEnum):
    """How a measured value stands to its limits."""

    INSIDE = "inside"
    BORDERLINE = "borderline"
    OUTSIDE = "outside"
    NOT_JUDGED = "not_judged"


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberInput:
    """A number to enter; without a default it is required unless it ``is_optional``."""

    id: str
    label: str
    hint: str
    quantity: Quantity
    limits: Limits
    default: float | None = None
    is_optional: bool = False
    is_whole: bool = False
    kind: Literal["number"] = "number"

    @property
    def is_required(self) -> bool:
        """Whether something has to be entered."""
        return self.default is None and not self.is_optional

    @property
    def default_text(self) -> str:
        """What a form shows before anything is entered."""
        return self.default_in()

    def default_in(self, *, in_metric: bool = False) -> str:
        """What a form shows before anything is entered, in the first unit or the metric one."""
        if self.default is None:
            return ""
        return self.quantity.text(self.default, in_metric=in_metric)

    def expected_in(self, *, in_metric: bool = False) -> str:
        """What may be entered, in words; the limits in the first unit or the metric one."""
        if not in_metric or len(self.quantity.measures(0.0)) == 1:
            return self.expected
        number = "a whole number" if self.is_whole else "a number"
        low, high = (self.quantity.measures(end)[-1] for end in (self.limits.low, self.limits.high))
        others = [unit.symbol for unit in self.quantity.units if unit.symbol != low.unit]
        return f"{number} from {shown(low.value)} to {high.text} (or in {', '.join(others)})"

    @property
    def expected(self) -> str:
        """What may be entered, in words."""
        number = "a whole number" if self.is_whole else "a number"
        others = [unit.symbol for unit in self.quantity.units[1:]]
        with_units = f" (or in {', '.join(others)})" if others else ""
        return f"{number} from {self.limits.text}{with_units}"

    def read(self, text: str) -> float | None:
        """Value of what was entered, in the unit of the quantity; None if there is none.

        Raises
        ------
        InputValueError
            Nothing was entered though something has to be, or what was entered is no such number.
        """
        if not text.strip():
            if self.is_required:
                raise InputValueError(self.id, "nothing", self.expected)
            return self.default
        value = self.quantity.read(text)
        if value is None or (self.is_whole and value != int(value)):
            raise InputValueError(self.id, f'"{text.strip()}"', self.expected)
        self.limits.check(self.id, value)
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceInput:
    """A choice to make; ``choices`` holds the label of each."""

    id: str
    label: str
    hint: str
    choices: Mapping[str, str]
    default: str
    kind: Literal["choice"] = "choice"
    is_required: Literal[False] = False

    @property
    def default_text(self) -> str:
        """What a form shows before anything is chosen."""
        return self.default

    @property
    def expected(self) -> str:
        """What may be chosen, in words."""
        return f"one of {', '.join(self.choices)}"

    def read(self, text: str) -> str:
        """Choice that was entered, or the default.

        Raises
        ------
        InputValueError
            What was entered is none of the choices.
        """
        choice = text.strip().casefold().replace("-", "_") or self.default
        if choice not in self.choices:
            raise InputValueError(self.id, f'"{text.strip()}"', self.expected)
        return choice


Input = NumberInput | ChoiceInput


@dataclass(frozen=True, slots=True, kw_only=True)
class Entries:
    """What was entered, by input: numbers in the unit of their quantity, and choices.

    A number that was left out and has no default is not among the ``numbers``.
    """

    numbers: Mapping[str, float]
    choices: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultLine:
    """A result: the same value in each unit that is shown, the first unit first."""

    id: str
    label: str
    measures: tuple[Measure, ...]

    @property
    def text(self) -> str:
        """Value as people read it: "22.5 ft (6.858 m)"."""
        first, *others = [measure.text for measure in self.measures]
        return f"{first} ({', '.join(others)})" if others else first


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Results, what they mean, and what to mind."""

    lines: tuple[ResultLine, ...]
    judgement: Judgement
    sentence: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculator:
    """A calculator: what it asks for, how it works the answer out, and where its numbers are from.

    ``source_keys`` are entries of ``docs/sources.md``.
    """

    id: str
    title: str
    purpose: str
    inputs: tuple[Input, ...]
    work: Callable[[Entries], Outcome]
    source: str
    source_keys: tuple[str, ...] = ()


def result_line(id: str, label: str, quantity: Quantity, value: float) -> ResultLine:
    """Line of one value, in the units of its quantity."""
    return ResultLine(id=id, label=label, measures=quantity.measures(value))
