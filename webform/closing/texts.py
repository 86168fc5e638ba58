"""English words of the pages that close a job."""

from collections.abc import Mapping

from triage.services.closing.values import CallBackKind, ClosingOutcome, Degree
from triage.services.job.events import Verified

OUTCOMES: Mapping[ClosingOutcome, str] = {
    ClosingOutcome.REPAIRED: "Repaired",
    ClosingOutcome.DECLINED: "Declined: the customer did not want the repair",
    ClosingOutcome.NO_FAULT_FOUND: "No fault found",
    ClosingOutcome.REFERRED_OUT: "Referred to someone else",
    ClosingOutcome.SOLVED_BY_PHONE: "Solved on the phone",
}
OUTCOMES_SHORT: Mapping[ClosingOutcome, str] = {
    **OUTCOMES,
    ClosingOutcome.DECLINED: "Declined",
}
DEGREES: Mapping[Degree, str] = {
    Degree.WORKS_AFTER_REPAIR: "Yes: it works after the repair",
    Degree.SEEN: "Yes: seen broken, or measured",
    Degree.JUDGED: "Yes, as I judge it",
}
DEGREES_TOLD: Mapping[Degree, str] = {
    Degree.WORKS_AFTER_REPAIR: "it worked after the repair",
    Degree.SEEN: "seen broken, or measured",
    Degree.JUDGED: "as judged",
}
NOT_IT = "No"
VERIFIED: Mapping[Verified, str] = {
    Verified.WORKS: "The machine works",
    Verified.STILL_BROKEN: "It still does not work",
    Verified.NOT_RUN: "No check run was made",
}
CALLBACKS: Mapping[CallBackKind, str] = {
    CallBackKind.SAME: "Same complaint as then",
    CallBackKind.NEW: "Another complaint",
}
NO_CALLBACK = "No, this is a job of its own"
NO_OTHER = "No other"
NO_PART = "No part"
NOTHING_KNOWN = "cause not known"
UNSURE = "one of: "


def days(count: int) -> str:
    """How long ago an earlier job was closed."""
    if count == 0:
        return "the same day"
    return "1 day before" if count == 1 else f"{count} days before"
