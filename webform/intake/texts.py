"""English words of the intake pages that depend on what happened.

Fixed words stand in the templates, labels and rules of fields in the forms.
"""

from collections.abc import Mapping

from triage.network.values import SafetyClass
from triage.services.call_lists import CallPlace
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import CallStep
from triage.services.job.events import Verified

STEP_NAMES: Mapping[CallStep, str] = {
    CallStep.SAFETY: "Safety",
    CallStep.HELP: "Can we help",
    CallStep.SIGNS: "What the caller said",
    CallStep.QUESTIONS: "Questions and causes",
    CallStep.ENDED: "Visit plan",
    CallStep.REFER: "Referral",
}

STATUS: Mapping[CallStep, str] = {
    CallStep.SAFETY: "Safety questions open",
    CallStep.MAKE_SAFE: "Waiting until it is made safe",
    CallStep.REFER: "To be referred",
    CallStep.HELP: "Can we help: open",
    CallStep.REFUSE: "To be referred",
    CallStep.SIGNS: "Signs not chosen yet",
    CallStep.QUESTIONS: "Questions",
    CallStep.ENDED: "Ended",
    CallStep.STOPPED: "Stopped: danger",
}

PLACES: Mapping[CallPlace, tuple[str, str]] = {
    CallPlace.OPEN: ("Open", "No call is open."),
    CallPlace.TO_BOOK: ("To be booked", ""),
    CallPlace.PART_AWAITED: ("Waiting for a part", ""),
    CallPlace.BOOKED: ("Visit booked", ""),
    CallPlace.ENDED: ("Ended today", "No call has ended today."),
}
WAITING: Mapping[CallPlace, str] = {
    CallPlace.TO_BOOK: "Visit to be booked",
    CallPlace.PART_AWAITED: "Part ordered",
}
VISIT_AT = "{when}, {van}"
OTHER_AT_IT = "{name} made the last entry of this call, {when}."
NOT_FOUND = "No call matches “{search}”."

OUTCOMES: Mapping[CallOutcome, str] = {
    CallOutcome.VISIT: "Visit",
    CallOutcome.SOLVED_BY_PHONE: "Solved on the phone",
    CallOutcome.NORMAL_EXPLAINED: "Caller told that it is normal",
    CallOutcome.VISIT_NOT_WORTH_REPAIRING: "Not worth repairing, caller told so",
    CallOutcome.REFER_OUT: "Referred to someone else",
    CallOutcome.DECLINED: "Caller does not want to go on",
    CallOutcome.STOPPED_FOR_SAFETY: "Stopped: danger",
}

DANGER_HEADINGS: Mapping[SafetyClass, str] = {
    SafetyClass.LEAVE_AND_CALL: "Everyone out, and call for help",
    SafetyClass.MAKE_SAFE_AND_STOP: "Make it safe, and stop here",
    SafetyClass.MAKE_SAFE_THEN_BOOK: "Make it safe first, then go on",
}
NO_DANGER_HEADING = "No danger was reported"

DONT_KNOW = "Don't know"
SAID_UNASKED = "said unasked"
UNCHANGED = "as before"
CHANGE_WORTH_TELLING = 0.005  # less is the same whole percent

CHOSEN_QUESTION = "You chose this question."
CHANGE_ANSWER = "Answered before with “{answer}”. A new answer replaces it."
VAN_AS_IT_IS = "the van as it is"
DECIDE_ON_SITE = "not planned ahead: decide with what is seen there"
NOTHING_LEFT = (
    "No open question would change the picture by much. Look at the visit plan, or ask one of the "
    "other questions."
)
ANNOUNCED = "Most probable: {cause}, {percent}, {word}."
ANNOUNCED_QUESTION = " Next question: {wording}"
OTHER_VERSION = (
    "This call was begun with version {then} of the network; "
    "the causes are ranked with version {now}."
)

LOST_ANSWERS = " Answers that do not count any more, since the network has changed: {count}."


ON_SITE = "The causes are ranked with what was found and repaired there: {facts}."
VERIFIED: Mapping[Verified, str] = {
    Verified.WORKS: "it works",
    Verified.STILL_BROKEN: "still not right",
    Verified.NOT_RUN: "check run not made yet",
}


def found_calls(count: int, page: int, pages: int) -> str:
    """How many calls were found, and which page of them this is."""
    calls = "1 call" if count == 1 else f"{count} calls"
    return f"Found: {calls}" if pages == 1 else f"Found: {calls}, page {page} of {pages}"


def findings_on_site(count: int) -> str:
    """How much was found at the machine."""
    return "1 finding" if count == 1 else f"{count} findings"


def repaired(title: str, verified: Verified) -> str:
    """A repair with what its check run showed."""
    return f"{title} ({VERIFIED[verified]})"


def changed(before: float | None, now: float, before_text: str) -> str:
    """What the last answer did to a cause."""
    if before is None:
        return ""
    if abs(now - before) < CHANGE_WORTH_TELLING:
        return UNCHANGED
    return f"up from {before_text}" if now > before else f"down from {before_text}"


def call_title(number: int, caller: str) -> str:
    """Call as pages name it."""
    return f"Call {number}: {caller}"
