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


class JobFileError(LearningError):
    """Raised when a file of closed jobs cannot be read at all."""

    def __init__(self, got: str, expected: str, advice: str) -> None:
        self.got, self.expected = got, expected
        super().__init__(f"File of closed jobs: got {got}; expected {expected}. {advice}".strip())


class JobLinesError(LearningError):
    """Raised when lines of a file of closed jobs are wrong; nothing of it was taken in."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        count = len(self.problems)
        heading = f"{count} problem{'s' if count != 1 else ''}; no job of the file was taken in"
        super().__init__("\n".join([heading, *self.problems]))


class NothingApprovedError(LearningError):
    """Raised when a version is approved without any of its rows."""

    def __init__(self) -> None:
        super().__init__("Tick at least one row to approve, or reject the version.")


class UnknownJobFileError(LearningError):
    """Raised when a file of closed jobs is asked for that was never sent in."""

    def __init__(self, number: int) -> None:
        super().__init__(f"No file {number} was sent in. Send the file in once more.")


class UnknownRunError(LearningError):
    """Raised when work is asked for that nobody began."""

    def __init__(self, number: int) -> None:
        super().__init__(f"There is no work {number}. Begin it from the page of learning.")


class NoJobsError(LearningError):
    """Raised when there is no closed job to learn from."""

    def __init__(self, network: str) -> None:
        super().__init__(
            f'Network "{network}": got no closed job; expected at least one. Close jobs in the '
            "program, or take in a file of closed jobs."
        )
