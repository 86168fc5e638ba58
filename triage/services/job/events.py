"""What can happen on a visit, as values; and how they are kept in the store.

The events of a visit follow those of the phone in the log of the call. On site a finding is the
same event as on the phone (``FindingMade``, ``FindingUndone``); what is new stands here. Their
kinds begin with ``job_``: the state of the *call* counts them and needs to know no more of them;
what they mean is folded by ``triage.services.job.state``.

An event is also what a page or a device without signal sends: ``event_from_sent`` makes a value of
it, and ``triage.services.job.record`` checks it against the job before it goes into the log.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from enum import StrEnum
from typing import Any, ClassVar

from pydantic import TypeAdapter, ValidationError

from triage.errors import UnusableEntryError
from triage.services.call_log.events import FindingMade, FindingUndone
from triage.store.calls import Draft


class Verified(StrEnum):
    """What the check run after a repair showed."""

    WORKS = "works"
    STILL_BROKEN = "still_broken"
    NOT_RUN = "not_run"


@dataclass(frozen=True, slots=True)
class PieceUsed:
    """Pieces of a part that were fitted; ``variant`` is the shop's own number, or empty."""

    part: str
    variant: str = ""
    pieces: int = 1


@dataclass(frozen=True, slots=True)
class Arrived:
    """The technician is at the machine; the visit is under way."""

    kind: ClassVar[str] = "job_arrived"


@dataclass(frozen=True, slots=True)
class Left:
    """The technician leaves; the visit is over, whatever became of the job."""

    kind: ClassVar[str] = "job_left"


@dataclass(frozen=True, slots=True)
class RepairDone:
    """A repair was carried out, with these pieces, and this is what the check run showed."""

    kind: ClassVar[str] = "job_repair"
    repair: str
    pieces: tuple[PieceUsed, ...] = ()
    verified: Verified = Verified.NOT_RUN


@dataclass(frozen=True, slots=True)
class RepairUndone:
    """A repair was entered by mistake; its pieces go back on the van."""

    kind: ClassVar[str] = "job_repair_undone"
    repair: str


@dataclass(frozen=True, slots=True)
class StepOverruled:
    """The technician takes another step than the one proposed, and says why.

    Both are ids of observations or repairs; ``proposed`` is empty where nothing was proposed.
    """

    kind: ClassVar[str] = "job_overruled"
    proposed: str
    taken: str
    reason: str


@dataclass(frozen=True, slots=True)
class OwnFinding:
    """Something seen that no observation of the network asks about; ``component`` may be empty."""

    kind: ClassVar[str] = "job_own_finding"
    text: str
    component: str = ""


@dataclass(frozen=True, slots=True)
class SecondFault:
    """The machine has something else wrong as well; what is found of it follows as findings."""

    kind: ClassVar[str] = "job_second_fault"
    text: str


@dataclass(frozen=True, slots=True)
class QuoteGiven:
    """The customer was told what the repair would cost; it replaces an earlier quote."""

    kind: ClassVar[str] = "job_quote"
    amount_minor: int
    what_for: str


@dataclass(frozen=True, slots=True)
class QuoteAuthorised:
    """The customer said yes: who, and how (in person, by phone, in writing)."""

    kind: ClassVar[str] = "job_quote_authorised"
    by_whom: str
    how: str


@dataclass(frozen=True, slots=True)
class QuoteDeclined:
    """The customer said no; the visit costs the fee alone."""

    kind: ClassVar[str] = "job_quote_declined"
    reason: str


@dataclass(frozen=True, slots=True)
class PartOrdered:
    """A part was ordered and the job waits for it."""

    kind: ClassVar[str] = "job_part_ordered"
    part: str
    expected_on: date
    pieces: int = 1


@dataclass(frozen=True, slots=True)
class PartArrived:
    """A part that was ordered is there."""

    kind: ClassVar[str] = "job_part_arrived"
    part: str


@dataclass(frozen=True, slots=True)
class VisitNote:
    """A note about the visit."""

    kind: ClassVar[str] = "job_note"
    text: str


@dataclass(frozen=True, slots=True)
class AnsweredTwice:
    """A finding made without signal met another answer that was given meanwhile.

    Both stay in the log; ``counts`` is the answer that counts, the one made later.
    """

    kind: ClassVar[str] = "job_answered_twice"
    observation: str
    sent: str | float
    found: str | float
    counts: str | float


VisitEvent = (
    Arrived
    | Left
    | RepairDone
    | RepairUndone
    | StepOverruled
    | OwnFinding
    | SecondFault
    | QuoteGiven
    | QuoteAuthorised
    | QuoteDeclined
    | PartOrdered
    | PartArrived
    | VisitNote
    | AnsweredTwice
)
JobEvent = VisitEvent | FindingMade | FindingUndone

_OF_JOB: tuple[Any, ...] = (
    FindingMade,
    FindingUndone,
    Arrived,
    Left,
    RepairDone,
    RepairUndone,
    StepOverruled,
    OwnFinding,
    SecondFault,
    QuoteGiven,
    QuoteAuthorised,
    QuoteDeclined,
    PartOrdered,
    PartArrived,
    VisitNote,
    AnsweredTwice,
)
_ADAPTERS: Mapping[str, TypeAdapter[Any]] = {
    str(entry.kind): TypeAdapter(entry) for entry in _OF_JOB
}
# What people read where a field cannot be used, and what was expected.
FIELD_WORDS: Mapping[str, tuple[str, str]] = {
    "amount_minor": ("the amount is none", "one such as 148.50"),
    "expected_on": ("the day is none", "one such as 2026-03-09"),
    "pieces": ("the number of pieces is none", "a whole number from 1 to 99"),
    "text": ("the text is missing", "what you want to record"),
    "reason": ("the reason is missing", "a few words"),
    "answer": ("the answer is missing", "one of the answers, or a number"),
    "verified": ("what the check run showed is missing", "one of the buttons below the repair"),
}
# What a device may send by itself; that an answer was given twice is found by the server.
SENT_KINDS = tuple(kind for kind in _ADAPTERS if kind != AnsweredTwice.kind)


def as_draft(event: JobEvent) -> Draft:
    """Event as the store keeps it: plain values, the same after they were stored and read."""
    plain = json.loads(json.dumps(asdict(event), default=str))
    return Draft(event.kind, plain)


def is_of_job(kind: str) -> bool:
    """Whether an event of the log is folded by the state of the job."""
    return kind in _ADAPTERS


def from_stored(kind: str, payload: Mapping[str, Any]) -> JobEvent:
    """Event as it was before it was stored."""
    event: JobEvent = _ADAPTERS[kind].validate_python(dict(payload))
    return event


def event_from_sent(kind: str, payload: Mapping[str, Any]) -> JobEvent:
    """Event that a page or a device sent, not yet checked against the job.

    Raises
    ------
    UnusableEntryError
        There is no such kind, or what it holds is not what that kind holds.
    """
    if kind not in SENT_KINDS:
        raise UnusableEntryError(f'there is no kind of entry "{kind}"', "one that a visit has")
    try:
        return from_stored(kind, payload)
    except ValidationError as error:
        first = error.errors()[0]
        name = str(first["loc"][-1]) if first["loc"] else ""
        what, expected = FIELD_WORDS.get(name, (f'"{name}" does not fit', first["msg"]))
        raise UnusableEntryError(what, expected, name) from None
