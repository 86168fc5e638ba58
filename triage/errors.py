"""Errors of the library: one root, one class per thing that can go wrong.

TriageError
├── NetworkError
│   ├── NetworkFileError         a file under ``networks/`` has problems; all of them are listed
│   ├── UnknownNetworkError      no fault network of that name
│   ├── UnknownNodeError         no component, failure mode or sign of that id
│   └── InfeasiblePriorError     no base odds reproduce the stated shares
├── SettingsFileError            a file of shop settings has problems; all of them are listed
├── EvidenceError
│   ├── UnknownObservationError  a finding names an observation the network does not have
│   ├── UnknownAnswerError       a finding carries an answer the observation does not have
│   ├── UnknownModeError         a failure mode the network does not have
│   ├── UnknownRepairError       a repair the network does not have
│   ├── ReadingError             a meter reading that is not a number the observation can take
│   └── ImpossibleEvidenceError  the evidence has probability 0
├── CallError
│   ├── UnknownCallError         no call of that number
│   ├── StaleCallError           the call changed since the page was shown
│   ├── SafetyFirstError         a ranking was asked for before the safety questions were answered
│   └── OutOfScopeError          a ranking was asked for of a machine the shop does not repair
└── CalculationError
    ├── UnknownCalculatorError   no calculator of that name
    ├── UnknownInputError        a calculator does not ask for that
    └── InputValueError          an entry that the calculator cannot work with

Each class builds its own message, so that one class has one wording.
"""

from collections.abc import Iterable, Sequence
from difflib import get_close_matches


def nearest(name: str, known: Iterable[str]) -> str:
    """Sentence that names the nearest known name, or the empty string."""
    matches = get_close_matches(name, list(known), n=1)
    return f' Did you mean "{matches[0]}"?' if matches else ""


def _listed(names: Iterable[str], limit: int = 12) -> str:
    quoted = [f'"{name}"' for name in names]
    more = f" and {len(quoted) - limit} more" if len(quoted) > limit else ""
    return ", ".join(quoted[:limit]) + more


class TriageError(Exception):
    """Root of everything this library raises on purpose."""


class NetworkError(TriageError):
    """Raised when a fault network cannot be used."""


class NetworkFileError(NetworkError):
    """Raised when a network file has problems; ``problems`` holds every one, in line order."""

    def __init__(self, place: str, problems: Sequence[str]) -> None:
        self.place = place
        self.problems = tuple(problems)
        count = len(self.problems)
        heading = f"{place}: {count} problem{'s' if count != 1 else ''}"
        super().__init__("\n".join([heading, *self.problems]))


class UnknownNetworkError(NetworkError):
    """Raised when no fault network of that name is shipped."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown network "{name}"; expected one of {_listed(known)} or a path to a .yaml file.'
            + nearest(name, known)
        )


class UnknownNodeError(NetworkError):
    """Raised when a network has no component, failure mode or sign of that id."""

    def __init__(self, name: str, network: str, known: Sequence[str]) -> None:
        self.name, self.network = name, network
        super().__init__(
            f'Unknown component, failure mode or sign "{name}"; expected one of the {len(known)} '
            f"of {network}, such as {_listed(known, limit=4)}." + nearest(name, known)
        )


class InfeasiblePriorError(NetworkError):
    """Raised when no base odds reproduce the stated shares."""

    def __init__(self, network: str, reason: str) -> None:
        self.network = network
        super().__init__(f"{network}: the prior cannot be solved, {reason}.")


class SettingsFileError(TriageError):
    """Raised when a file of shop settings has problems; ``problems`` holds every one."""

    def __init__(self, place: str, problems: Sequence[str]) -> None:
        self.place = place
        self.problems = tuple(problems)
        count = len(self.problems)
        heading = f"{place}: {count} problem{'s' if count != 1 else ''}"
        super().__init__("\n".join([heading, *self.problems]))


class EvidenceError(TriageError):
    """Raised when findings do not fit the network."""


class UnknownObservationError(EvidenceError):
    """Raised when a finding names an observation the network does not have."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown observation "{name}"; expected one of {_listed(known)}.'
            + nearest(name, known)
        )


class UnknownAnswerError(EvidenceError):
    """Raised when a finding carries an answer the observation does not have."""

    def __init__(self, observation: str, answer: str, known: Sequence[str]) -> None:
        self.observation, self.answer = observation, answer
        super().__init__(
            f'Unknown answer "{answer}" for observation "{observation}"; expected one of '
            f"{_listed(known)}." + nearest(answer, known)
        )


class UnknownModeError(EvidenceError):
    """Raised when a failure mode is named that the network does not have."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown failure mode "{name}"; expected one of {_listed(known)}.'
            + nearest(name, known)
        )


class UnknownRepairError(EvidenceError):
    """Raised when a repair is named that the network does not have."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown repair "{name}"; expected one of {_listed(known)}.' + nearest(name, known)
        )


class ReadingError(EvidenceError):
    """Raised when a meter reading cannot be taken by the observation."""

    def __init__(self, observation: str, reading: object, expected: str) -> None:
        self.observation, self.reading = observation, reading
        super().__init__(
            f'Reading "{reading}" for observation "{observation}"; expected {expected}.'
        )


class ImpossibleEvidenceError(EvidenceError):
    """Raised when the findings cannot all be true; ``findings`` names the ones in conflict."""

    def __init__(self, findings: Sequence[str]) -> None:
        self.findings = tuple(findings)
        super().__init__(
            "These findings cannot all be true in this network: "
            f"{_listed(self.findings)}. Change or remove one of them."
        )


class CallError(TriageError):
    """Raised when a stored call cannot be used as asked."""


class UnknownCallError(CallError):
    """Raised when no call of that number is stored."""

    def __init__(self, call_id: str) -> None:
        self.call_id = call_id
        super().__init__(f'No call "{call_id}" is stored. Choose one from the list of calls.')


class StaleCallError(CallError):
    """Raised when the call changed since the page was shown."""

    def __init__(self, call_id: str, shown: int, current: int) -> None:
        self.call_id, self.shown, self.current = call_id, shown, current
        super().__init__(
            "This call was changed in another window since this page was shown. "
            "Nothing was overwritten; look at the call as it is now and answer again."
        )


class SafetyFirstError(CallError):
    """Raised when a ranking is asked for before the safety questions allow one."""

    def __init__(self, call_id: str, reason: str) -> None:
        self.call_id = call_id
        super().__init__(f"No causes are ranked yet: {reason}.")


class OutOfScopeError(CallError):
    """Raised when a ranking is asked for of a machine that the shop does not repair."""

    def __init__(self, call_id: str, kind: str) -> None:
        self.call_id, self.kind = call_id, kind
        super().__init__(
            f"The shop does not repair this kind of machine: {kind}. "
            "Nothing is ranked; refer the caller and record it."
        )


class CalculationError(TriageError):
    """Raised when a calculator cannot be used as asked."""


class UnknownCalculatorError(CalculationError):
    """Raised when there is no calculator of that name."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown calculator "{name}"; expected one of {_listed(known)}.' + nearest(name, known)
        )


class UnknownInputError(CalculationError):
    """Raised when a calculator does not ask for what was entered."""

    def __init__(self, calculator: str, name: str, known: Sequence[str]) -> None:
        self.calculator, self.name = calculator, name
        super().__init__(
            f'Unknown input "{name}" of calculator "{calculator}"; expected one of '
            f"{_listed(known)}." + nearest(name, known)
        )


class InputValueError(CalculationError):
    """Raised when a calculator cannot work with an entry; ``input_id`` names the input."""

    def __init__(self, input_id: str, got: str, expected: str) -> None:
        self.input_id, self.got, self.expected = input_id, got, expected
        super().__init__(f'Input "{input_id}": got {got}; expected {expected}.')
