"""The state of a call: a fold over its events.

>>> from datetime import UTC, datetime
>>> from triage.services.call_log.events import FindingMade, FindingUndone
>>> at = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
>>> state = CallState.empty(1, "top_load_washer", 1, "Caller", at)
>>> state = state.after(FindingMade("says_water_left", "yes"), at, "dispatcher")
>>> [str(finding) for finding in state.evidence.findings]
['says_water_left=yes']
>>> state.after(FindingUndone("says_water_left"), at, "dispatcher").given
()
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from triage.inference.evidence import Evidence, Finding, answers_accepted
from triage.network.values import FaultNetwork, Observation
from triage.planning.safety import SafetyState
from triage.services.call_log.events import (
    CallbackJudged,
    CallEvent,
    CallLinked,
    CallOutcome,
    CallReopened,
    ComplaintTaken,
    CustomerLinked,
    FindingMade,
    FindingUndone,
    HelpAsked,
    HelpedAnyway,
    LaterEvent,
    MadeSafeConfirmed,
    NoteTaken,
    OutcomeRecorded,
    QuestionSkipped,
    SafetyAnswered,
    from_stored,
)
from triage.store.calls import StoredCall


@dataclass(frozen=True, slots=True)
class GivenAnswer:
    """An answer that holds, when it was given and by whom it was entered.

    ``from_record`` holds for what was known of the machine before anybody was asked.
    """

    observation: str
    answer: str | float
    at: datetime
    by: str
    from_record: bool = False


@dataclass(frozen=True, slots=True)
class NoteShown:
    """A note that was taken in a call."""

    text: str
    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class RecordedOutcome:
    """How the call ended."""

    outcome: CallOutcome
    note: str
    at: datetime
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CallState:
    """What is true of a call after its events; ``version`` is how many there are.

    ``given`` holds the answers that count, oldest first. ``safety_answers`` are those entered last;
    ``confirmed_by`` is empty again whenever they change. ``customer_id`` and ``machine_id`` are 0
    where none is on record. ``last_at`` and ``last_by`` say who entered something last.
    """

    call_id: int
    network_id: str
    network_version: int
    caller: str
    opened_at: datetime
    version: int = 0
    words: str = ""
    safety_answers: Mapping[str, bool] = field(default_factory=dict)
    confirmed_by: str | None = None
    given: tuple[GivenAnswer, ...] = ()
    skipped: tuple[str, ...] = ()
    outcome: RecordedOutcome | None = None
    help: HelpAsked | None = None
    helped_anyway: str = ""
    customer_id: int = 0
    machine_id: int = 0
    linked: tuple[int, ...] = ()
    callback: CallbackJudged | None = None
    notes: tuple[NoteShown, ...] = ()
    last_at: datetime | None = None
    last_by: str = ""

    @classmethod
    def empty(
        cls, call_id: int, network_id: str, network_version: int, caller: str, at: datetime
    ) -> "CallState":
        """State of a call in which nothing has happened yet."""
        return cls(
            call_id=call_id,
            network_id=network_id,
            network_version=network_version,
            caller=caller,
            opened_at=at,
        )

    @classmethod
    def of(cls, call: StoredCall) -> "CallState":
        """State of a stored call."""
        state = cls.empty(
            call.id, call.network_id, call.network_version, call.caller, call.opened_at
        )
        # What was entered without signal comes later than it was made.
        for event in sorted(call.events, key=lambda one: (one.at, one.sequence)):
            state = state.after(from_stored(event.kind, event.payload), event.at, event.by)
        return state

    @property
    def is_open(self) -> bool:
        """Whether no outcome was recorded."""
        return self.outcome is None

    @property
    def was_stopped(self) -> bool:
        """Whether a danger ended the call; such a call stays ended."""
        return self.outcome is not None and (self.outcome.outcome is CallOutcome.STOPPED_FOR_SAFETY)

    @property
    def evidence(self) -> Evidence:
        """The answers that count, as evidence."""
        return Evidence.of(*(Finding(entry.observation, entry.answer) for entry in self.given))

    def safety(self, network: FaultNetwork) -> SafetyState:
        """Answers to the safety questions of the network."""
        return SafetyState.of(network, self.safety_answers, self.confirmed_by)

    def known_to(self, network: FaultNetwork) -> "CallState":
        """State without the answers that the network, which may have changed, does not have."""
        observations = network.observations
        known = (
            one
            for one in self.given
            if one.observation in observations
            and _accepts(observations[one.observation], one.answer)
        )
        return replace(self, given=tuple(known))

    def answer_to(self, observation: str) -> str | float | None:
        """Answer that counts, or None if the question is open."""
        return next((one.answer for one in self.given if one.observation == observation), None)

    def after(self, event: CallEvent, at: datetime, by: str) -> "CallState":
        """State after one more event."""
        state = replace(self, version=self.version + 1, last_at=at, last_by=by)
        match event:
            case ComplaintTaken(words):
                return replace(state, words=words)
            case SafetyAnswered(answers):
                return replace(state, safety_answers=dict(answers), confirmed_by=None)
            case MadeSafeConfirmed(name):
                return replace(state, confirmed_by=name)
            case FindingMade(observation, answer, from_record):
                given = GivenAnswer(observation, answer, at, by, from_record)
                return replace(
                    state._without(observation), given=(*self._others(observation), given)
                )
            case FindingUndone(observation):
                return state._without(observation)
            case QuestionSkipped(observation):
                others = tuple(entry for entry in self.skipped if entry != observation)
                return replace(state, skipped=(*others, observation))
            case OutcomeRecorded(outcome, note):
                return replace(state, outcome=RecordedOutcome(CallOutcome(outcome), note, at, by))
            case CallReopened():
                return replace(state, outcome=None)
            case LaterEvent():
                return state
            case _:
                return state._after_word_of_caller(event, at, by)

    def _after_word_of_caller(self, event: CallEvent, at: datetime, by: str) -> "CallState":
        """State after what says nothing of the machine's fault: who, where, whether to help."""
        match event:
            case HelpAsked():
                return replace(self, help=event, helped_anyway="")
            case HelpedAnyway(reason):
                return replace(self, helped_anyway=reason)
            case CustomerLinked(customer_id, machine_id):
                return replace(self, customer_id=customer_id, machine_id=machine_id)
            case CallLinked(call_id):
                return replace(self, linked=(*self.linked, call_id))
            case CallbackJudged():
                return replace(self, callback=event)
            case NoteTaken(text):
                return replace(self, notes=(*self.notes, NoteShown(text, at, by)))
            case _:
                return self

    def _others(self, observation: str) -> tuple[GivenAnswer, ...]:
        return tuple(entry for entry in self.given if entry.observation != observation)

    def _without(self, observation: str) -> "CallState":
        skipped = tuple(entry for entry in self.skipped if entry != observation)
        return replace(self, given=self._others(observation), skipped=skipped)


def _accepts(observation: Observation, answer: str | float) -> bool:
    """Whether an observation, which may have changed, still has this answer."""
    if isinstance(answer, str):
        return answer in answers_accepted(observation)
    return observation.reading is not None
