"""Errors of learning from closed jobs."""

from collections.abc import Sequence

from triage.errors.root import TriageError, listed, nearest


class LearningError(TriageError):
    """Raised when nothing can be learned from what was handed in."""


class ClosedJobError(LearningError):
    """Raised when a closed job contradicts itself."""

    def __init__(self, job: str, got: str, expected: str) -> None:
        self.job = job
        super().__init__(f'Closed job "{job}": got {got}; expected {expected}.')


class LearningSettingsError(LearningError):
    """Raised when a setting of learning is out of its range."""

    def __init__(self, name: str, got: object, expected: str) -> None:
        self.name = name
        super().__init__(f"Learning setting {name}: got {got}; expected {expected}.")


class UnknownChangeError(LearningError):
    """Raised when a proposed version has no change of that key."""

    def __init__(self, key: str, known: Sequence[str]) -> None:
        self.key = key
        super().__init__(
            f'Unknown change "{key}"; expected one of {listed(known)}.' + nearest(key, known)
        )
