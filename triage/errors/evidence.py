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


class ImpossibleEvidenceError(EvidenceError):
    """Raised when the findings cannot all be true; ``findings`` names the ones in conflict."""

    def __init__(self, findings: Sequence[str]) -> None:
        self.findings = tuple(findings)
        super().__init__(
            "These findings cannot all be true in this network: "
            f"{listed(self.findings)}. Change or remove one of them."
        )
