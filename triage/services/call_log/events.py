"""What can happen in a call, as values; and how they are kept in the store.

An event says what happened and nothing of what followed from it, so that the state of a call is a
fold over its events (``triage.services.call_log.state``) and old calls stay readable when the
program learns to conclude more.

The events of the work that follows stand in the same stream: those of a visit's slot begin with
``visit_`` (``triage.services.booking``), those of the job itself with ``job_``
(``triage.services.job``). To the phone they are ``LaterEvent``; a finding on site is a
``FindingMade`` like any other.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any, ClassVar

from triage.store.calls import Draft


class CallOutcome(StrEnum):
    """How a call ended."""

    SOLVED_BY_PHONE = "solved_by_phone"
    NORMAL_EXPLAINED = "normal_explained"
    VISIT = "visit"
    VISIT_NOT_WORTH_REPAIRING = "visit_not_worth_repairing"
    REFER_OUT = "refer_out"
    DECLINED = "declined"
    STOPPED_FOR_SAFETY = "stopped_for_safety"


@dataclass(frozen=True, slots=True)
class ComplaintTaken:
    """What the caller says, in the caller's own words."""

    kind: ClassVar[str] = "complaint"
    words: str


@dataclass(frozen=True, slots=True)
class SafetyAnswered:
    """Answers to all safety questions, by flag id; they replace earlier ones."""

    kind: ClassVar[str] = "safety"
    answers: Mapping[str, bool]


@dataclass(frozen=True, slots=True)
class MadeSafeConfirmed:
    """A named person confirmed that the machine was made safe."""

    kind: ClassVar[str] = "made_safe"
    name: str


@dataclass(frozen=True, slots=True)
class FindingMade:
    """An answer to a question; it replaces an earlier answer to the same question.

    ``answer`` is a number where a meter was read.
    """

    kind: ClassVar[str] = "finding"
    observation: str
    answer: str | float
    from_record: bool = False  # known of the machine from before, so nobody was asked


@dataclass(frozen=True, slots=True)
class FindingUndone:
    """An answer was taken back; the question is open again."""

    kind: ClassVar[str] = "finding_undone"
    observation: str


@dataclass(frozen=True, slots=True)
class QuestionSkipped:
    """A question was passed over; it is not proposed again by itself."""

    kind: ClassVar[str] = "skipped"
    observation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HelpAsked:
    """Answers to "can we help"; each is empty where it was not asked or not known.

    ``warranty`` and ``in_area`` are ``yes`` or ``no``, ``holder`` is ``owner`` or ``tenant``;
    ``in_area`` was judged with the service area of that day. ``access`` holds ids of
    ``triage.services.calls.help.ACCESS``. A later event replaces an earlier one.
    """

    kind: ClassVar[str] = "help"
    place: str = ""
    in_area: str = ""
    warranty: str = ""
    holder: str = ""
    pays: str = ""
    lets_in: str = ""
    access: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class HelpedAnyway:
    """The shop helps although an answer speaks against it; ``reason`` in the dispatcher's words."""

    kind: ClassVar[str] = "help_anyway"
    reason: str


@dataclass(frozen=True, slots=True)
class CustomerLinked:
    """The caller is this customer, the call about this machine; 0 is none on record."""

    kind: ClassVar[str] = "customer"
    customer_id: int
    machine_id: int = 0


@dataclass(frozen=True, slots=True)
class CallLinked:
    """Another call of the same caller: a second machine or a second complaint."""

    kind: ClassVar[str] = "linked"
    call_id: int


@dataclass(frozen=True, slots=True)
class CallbackJudged:
    """Whether this is the complaint of an earlier job again: ``same`` or ``new``."""

    kind: ClassVar[str] = "callback"
    call_id: int
    verdict: str


@dataclass(frozen=True, slots=True)
class NoteTaken:
    """A note, in the words of whoever took it."""

    kind: ClassVar[str] = "note"
    text: str


@dataclass(frozen=True, slots=True)
class OutcomeRecorded:
    """The call ended; ``note`` in the dispatcher's words."""

    kind: ClassVar[str] = "outcome"
    outcome: str
    note: str


@dataclass(frozen=True, slots=True)
class CallReopened:
    """The call goes on after its outcome was recorded."""

    kind: ClassVar[str] = "reopened"


@dataclass(frozen=True, slots=True)
class LaterEvent:
    """Something of the booking or of the job; the phone only counts it."""

    kind: str
    payload: Mapping[str, Any]


CallEvent = (
    ComplaintTaken
    | SafetyAnswered
    | MadeSafeConfirmed
    | FindingMade
    | FindingUndone
    | QuestionSkipped
    | HelpAsked
    | HelpedAnyway
    | CustomerLinked
    | CallLinked
    | CallbackJudged
    | NoteTaken
    | OutcomeRecorded
    | CallReopened
    | LaterEvent
)

LATER_KINDS = ("visit_", "job_")  # beginnings of the kinds that others fold

_BY_KIND: Mapping[str, type[Any]] = {
    entry.kind: entry
    for entry in (
        ComplaintTaken,
        SafetyAnswered,
        MadeSafeConfirmed,
        FindingMade,
        FindingUndone,
        QuestionSkipped,
        HelpAsked,
        HelpedAnyway,
        CustomerLinked,
        CallLinked,
        CallbackJudged,
        NoteTaken,
        OutcomeRecorded,
        CallReopened,
    )
}


def as_draft(event: CallEvent) -> Draft:
    """Event as the store keeps it."""
    if isinstance(event, LaterEvent):
        return Draft(event.kind, event.payload)
    return Draft(event.kind, asdict(event))


def from_stored(kind: str, payload: Mapping[str, Any]) -> CallEvent:
    """Event as it was before it was stored.

    Raises
    ------
    ValueError
        The kind is unknown: a newer program wrote it.
    """
    if kind.startswith(LATER_KINDS):
        return LaterEvent(kind, payload)
    if kind not in _BY_KIND:
        known = ", ".join(_BY_KIND)
        raise ValueError(f'event of kind "{kind}"; expected one of {known}. Update the program.')
    event: CallEvent = _BY_KIND[kind](**payload)
    return event
