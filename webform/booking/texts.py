"""English words of the booking pages that depend on what was booked."""

from collections.abc import Sequence
from datetime import date, datetime

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
STATES = {
    "booked": "Booked",
    "under_way": "Under way",
    "done": "Done",
    "cancelled": "Cancelled",
    "no_show": "Nobody was there",
}
NO_ADDRESS = "Address not on record"
CLOSED = "Closed on this day"


def day_in_words(day: date) -> str:
    """Day as it is said to a customer.

    >>> day_in_words(date(2026, 3, 3))
    'Tuesday 3 March 2026'
    """
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def short_day(day: date) -> str:
    """Day in a heading of a narrow column.

    >>> short_day(date(2026, 3, 3))
    'Tue 3 Mar'
    """
    return f"{WEEKDAYS[day.weekday()][:3]} {day.day} {MONTHS[day.month - 1][:3]}"


def times(begins: datetime, ends: datetime) -> str:
    """From when until when, both by the clock of the shop."""
    return f"{begins:%H:%M} to {ends:%H:%M}"


def between(begins: datetime, ends: datetime) -> str:
    """Window as it is said: "between 10:00 and 12:00"."""
    return f"between {begins:%H:%M} and {ends:%H:%M}"


def cancel_by(day: str, clock: str, *, is_past: bool) -> str:
    """Until when a visit is cancelled without a fee; at once if that has gone by."""
    if is_past:
        return "To cancel or move it, call us at once."
    return f"To cancel or move it without a fee, call by {day}, {clock}."


def confirmation(
    *,
    shop: str,
    appliance: str,
    day: str,
    window: str,
    minutes: str,
    price: str,
    preparation: Sequence[str],
    cancel: str,
) -> str:
    """Text for the customer, to be copied into a message."""
    lines = [
        f"Your repair visit by {shop}." if shop else "Your repair visit.",
        f"{appliance}. {day}, arrival {window}. The work takes about {minutes}.",
    ]
    if price:
        lines += ["", price]
    if preparation:
        lines += ["", "Before we come:", *(f"- {one}" for one in preparation)]
    return "\n".join([*lines, "", cancel])


def late_text(window: str) -> str:
    """What to tell the customer of a technician who runs late."""
    return (
        f"Our technician is running late and now arrives {window}. "
        "We are sorry for the wait. Does that still suit you?"
    )
