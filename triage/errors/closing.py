"""Errors of closing a job."""

from triage.errors.root import TriageError


class ClosingError(TriageError):
    """Root of what can go wrong when a job is closed."""


class NotClosedError(ClosingError):
    """Raised when a closed job is asked for and the job is not closed."""

    def __init__(self, call_id: int) -> None:
        self.call_id = call_id
        super().__init__(f"Job {call_id} is not closed. Close it first, or choose another one.")


class AlreadyClosedError(ClosingError):
    """Raised when a job is closed that somebody else has closed meanwhile."""

    def __init__(self, call_id: int, by: str) -> None:
        self.call_id, self.by = call_id, by
        super().__init__(
            f"Job {call_id} was closed by {by} meanwhile. Nothing was recorded; look at how it was "
            "closed, and ask the owner to correct what is wrong."
        )


class NotClosableError(ClosingError):
    """Raised when a job is closed without what its outcome needs."""

    def __init__(self, call_id: int, reason: str) -> None:
        self.call_id = call_id
        super().__init__(f"Job {call_id} was not closed: {reason}.")
