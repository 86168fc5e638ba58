"""Errors of calls."""

from triage.errors.root import TriageError


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
