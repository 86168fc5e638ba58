"""Models of the phone call."""

from typing import Annotated, Any, Literal

from pydantic import Field

from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import CallStep
from webform.api.models.appliances import Appliance, SafetyQuestion
from webform.api.models.base import (
    ClientId,
    Id,
    Moment,
    Number,
    Paged,
    Sent,
    Shown,
    Submitted,
    text,
)
from webform.api.models.plans import RankingTold

CALLER_MAX, WORDS_MAX, NAME_MAX, NOTE_MAX, PHONE_MAX = 120, 2000, 100, 500, 60
# What a dispatcher enters as an outcome; a danger ends a call by itself.
OutcomeGiven = Literal[
    "solved_by_phone",
    "normal_explained",
    "visit",
    "visit_not_worth_repairing",
    "refer_out",
    "declined",
]


class CallsAsked(Paged):
    """Calls that wait for something, and those opened since a moment: today if left out."""

    since: Moment | None = None


class CallGiven(Sent):
    """A call to open; 0 stands for none on record. ``linked_to`` is the first of two calls."""

    client_id: ClientId
    network: Appliance
    caller: Annotated[str, text(CALLER_MAX, is_needed=True)]
    words: Annotated[str, text(WORDS_MAX)] = ""
    phone: Annotated[str, text(PHONE_MAX)] = ""
    customer: Number = 0
    machine: Number = 0
    linked_to: Number = 0


class SafetyAnswersGiven(Submitted):
    """Answers to all safety questions, by flag; they replace earlier ones."""

    answers: Annotated[dict[str, bool], Field(max_length=50)]


class MadeSafeGiven(Submitted):
    """Who confirmed that the machine was made safe."""

    name: Annotated[str, text(NAME_MAX, is_needed=True)]


class HelpGiven(Submitted):
    """Can we help: each is left empty where it was not asked or not known."""

    place: Annotated[str, text(100)] = ""
    warranty: Literal["", "yes", "no"] = ""
    holder: Literal["", "owner", "tenant"] = ""
    pays: Annotated[str, text(100)] = ""
    lets_in: Annotated[str, text(100)] = ""
    access: list[Literal["stacked", "closet", "stairs", "shut_off_far"]] = Field(
        default_factory=list, max_length=4
    )


class ReasonGiven(Submitted):
    """Something done with a reason."""

    reason: Annotated[str, text(300, is_needed=True)]


class SignsGiven(Submitted):
    """Signs that the caller named unasked; one that is left out is taken back."""

    observations: Annotated[list[Id], Field(max_length=100)]


class AnswerGiven(Submitted):
    """Answer to a question; ``dont_know`` is always one. It replaces an earlier answer."""

    observation: Id
    answer: Id


class QuestionGiven(Submitted):
    """A question that is passed over, or whose answer is taken back."""

    observation: Id


class EndGiven(Submitted):
    """How the call ended."""

    outcome: OutcomeGiven
    note: Annotated[str, text(NOTE_MAX)] = ""


class NoteGiven(Submitted):
    """A note."""

    text: Annotated[str, text(NOTE_MAX, is_needed=True)]


class CallerGiven(Submitted):
    """Whose call it is, about which machine; 0 is none on record."""

    customer: Annotated[int, Field(ge=1, le=999_999_999)]
    machine: Number = 0


class OutcomeShown(Shown):
    """How a call ended."""

    outcome: CallOutcome
    note: str
    at: Moment


class CallHead(Shown):
    """What a list says of a call."""

    call: int
    version: int
    network: str
    network_version: int
    caller: str
    opened_at: Moment
    is_open: bool
    customer: int | None
    machine: int | None
    outcome: OutcomeShown | None


class CallListed(CallHead):
    """A call in the list; ``place`` is what has to be done next."""

    place: Literal["open", "to_book", "part_awaited", "booked", "ended"]


class Calls(Shown):
    """A page of calls, newest first."""

    calls: list[CallListed]
    count: int
    page: int
    pages: int


class SafetyQuestionShown(SafetyQuestion):
    """A safety question with its answer, and the caller's words that speak for the danger."""

    answer: bool | None
    suggested_by: str


class DangerShown(Shown):
    """A danger: what to say, and who takes over."""

    flag: str
    title: str
    safety_class: str = Field(alias="class")
    script: str
    referral: str


class SafetyShown(Shown):
    """Where the safety questions leave the call: only ``go_on`` allows a ranking."""

    verdict: Literal["ask", "stop", "confirm", "go_on"]
    questions: list[SafetyQuestionShown]
    raised: list[DangerShown]
    confirmed_by: str | None


class SignShown(Shown):
    """A sign that the caller's words suggest."""

    observation: str
    title: str
    phrase: str
    is_chosen: bool


class AnswerShown(Shown):
    """An answer that counts."""

    observation: str
    answer: str | float
    label: str
    at: Moment
    by: str
    from_record: bool


class NoteShown(Shown):
    """A note."""

    text: str
    at: Moment
    by: str


class RefusalShown(Shown):
    """Why the shop does not help."""

    title: str
    script: str
    referral: str


class QuestionShown(Shown):
    """The question to ask next."""

    observation: str
    title: str
    wording: str
    answers: dict[str, str]
    minutes: float
    reason: str


class CallShown(CallHead):
    """A call in whole; ``ranking`` and ``question`` are null until safety allows them."""

    step: CallStep
    words: str
    safety: SafetyShown
    help: dict[str, Any] | None
    refusals: list[RefusalShown]
    signs_suggested: list[SignShown]
    answers: list[AnswerShown]
    skipped: list[str]
    outcomes_allowed: list[str]
    linked: list[int]
    notes: list[NoteShown]
    ranking: RankingTold | None
    question: QuestionShown | None
