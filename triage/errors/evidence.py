"""Errors of findings."""

from collections.abc import Sequence

from triage.errors.root import TriageError, listed, nearest


class EvidenceError(TriageError):
    """Raised when findings do not fit the network."""


class UnknownObservationError(EvidenceError):
    """Raised when a finding names an observation the network does not have."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown observation "{name}"; expected one of {listed(known)}.' + nearest(name, known)
        )


class UnknownAnswerError(EvidenceError):
    """Raised when a finding carries an answer the observation does not have."""

    def __init__(self, observation: str, answer: str, known: Sequence[str]) -> None:
        self.observation, self.answer = observation, answer
        super().__init__(
            f'Unknown answer "{answer}" for observation "{observation}"; expected one of '
            f"{listed(known)}." + nearest(answer, known)
        )


class UnknownModeError(EvidenceError):
    """Raised when a failure mode is named that the network does not have."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown failure mode "{name}"; expected one of {listed(known)}.'
            + nearest(name, known)
        )


class UnknownRepairError(EvidenceError):
    """Raised when a repair is named that the network does not have."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown repair "{name}"; expected one of {listed(known)}.' + nearest(name, known)
        )


class ReadingError(EvidenceError):
    """Raised when a meter reading cannot be taken by the observation."""

    def __init__(self, observation: str, reading: object, expected: str) -> None:
        self.observation, self.reading = observation, reading
        super().__init__(
            f'Reading "{reading}" for observation "{observation}"; expected {expected}.'
        )


class ReadingOutOfSpanError(ReadingError):
    """Raised when a meter reading lies where the network says none can be.

    ``span`` holds what can be, in ``unit``; ``instead`` is the answer that says the same where a
    meter really shows more than that, ``label`` its words, both empty where it cannot.
    """

    def __init__(
        self,
        observation: str,
        reading: object,
        *,
        span: tuple[float, float],
        unit: str,
        instead: str,
        label: str,
    ) -> None:
        self.span, self.unit, self.instead, self.label = span, unit, instead, label
        way_out = "Check the number, its sign and its unit" + (
            f'; if the meter does show that, or an overload, answer "{instead}".'
            if instead
            else ", and measure again."
        )
        expected = f"{span[0]:g} to {span[1]:g} {unit}. {way_out}"
        super().__init__(observation, reading, expected.removesuffix("."))


class ImpossibleEvidenceError(EvidenceError):
    """Raised when the findings cannot all be true; ``findings`` names the ones in conflict."""

    def __init__(self, findings: Sequence[str]) -> None:
        self.findings = tuple(findings)
        super().__init__(
            "These findings cannot all be true in this network: "
            f"{listed(self.findings)}. Change or remove one of them."
        )
