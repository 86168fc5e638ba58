"""Errors of the calculators."""

from collections.abc import Sequence

from triage.errors.root import TriageError, listed, nearest


class CalculationError(TriageError):
    """Raised when a calculator cannot be used as asked."""


class UnknownCalculatorError(CalculationError):
    """Raised when there is no calculator of that name."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown calculator "{name}"; expected one of {listed(known)}.' + nearest(name, known)
        )


class UnknownInputError(CalculationError):
    """Raised when a calculator does not ask for what was entered."""

    def __init__(self, calculator: str, name: str, known: Sequence[str]) -> None:
        self.calculator, self.name = calculator, name
        super().__init__(
            f'Unknown input "{name}" of calculator "{calculator}"; expected one of '
            f"{listed(known)}." + nearest(name, known)
        )


class InputValueError(CalculationError):
    """Raised when a calculator cannot work with an entry; ``input_id`` names the input."""

    def __init__(self, input_id: str, got: str, expected: str) -> None:
        self.input_id, self.got, self.expected = input_id, got, expected
        super().__init__(f'Input "{input_id}": got {got}; expected {expected}.')
