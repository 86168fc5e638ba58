"""Errors of vans and visits."""

from triage.errors.root import TriageError


class BookingError(TriageError):
    """Root of what can go wrong with vans and visits."""


class UnknownVisitError(BookingError):
    """Raised when no visit of that number is booked."""

    def __init__(self, visit_id: int) -> None:
        self.visit_id = visit_id
        super().__init__(f"No visit {visit_id} is booked. Choose one from the day's visits.")


class UnknownFeedError(BookingError):
    """Raised when a calendar's address is not, or no longer, in use."""

    def __init__(self) -> None:
        super().__init__("This calendar address is not in use. Ask the shop for the new one.")


class SlotTakenError(BookingError):
    """Raised when a van has another visit at that time, the way to it included."""

    def __init__(self, van: str, times: str, travel_minutes: int) -> None:
        self.van, self.times = van, times
        super().__init__(
            f"{van} has a visit from {times}, and {travel_minutes} minutes are kept for the way. "
            "Nothing was booked; choose another time or another van."
        )


class SlotTimeError(BookingError):
    """Raised when a visit is to be booked at a time that cannot be."""

    def __init__(self, reason: str) -> None:
        super().__init__(f"Nothing was booked: {reason}. Choose another time.")


class OutsideHoursError(BookingError):
    """Raised when a visit would lie outside opening hours and nobody confirmed that it may.

    ``when`` tells the day and the times.
    """

    def __init__(self, when: str) -> None:
        self.when = when
        super().__init__(
            f"Nothing was booked: {when} is outside opening hours. Choose another time, or confirm "
            "that it is to be outside opening hours."
        )


class VisitStateError(BookingError):
    """Raised when a visit is past what was asked for: a done one is not moved or cancelled."""

    def __init__(self, visit_id: int, state: str) -> None:
        self.visit_id, self.state = visit_id, state
        super().__init__(
            f"This visit is {state}; it was left as it is. Book a new visit for the call instead."
        )


class VanNameTakenError(BookingError):
    """Raised when another van has that name."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(f'There is a van "{name}" already. Choose another name.')
