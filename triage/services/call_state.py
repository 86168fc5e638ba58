"""The state of a call: a fold over its events.

>>> from datetime import UTC, datetime
>>> from triage.services.call_events import FindingMade, FindingUndone
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
from triage.network.values import FaultNetwork
from triage.planning.safety import SafetyState
from triage.services.call_events import (
    CallEvent,
    CallOutcome,
    CallReopened,
    ComplaintTaken,
    FindingMade,
    FindingUndone,
    LaterEvent,
    MadeSafeConfirmed,
    OutcomeRecorded,
    QuestionSkipped,
    SafetyAnswered,
    from_stored,
)
from triage.store.calls import StoredCall


@dataclass(frozen=True, slots=True)
class GivenAnswer:
    """An answer that holds, when it was given and by whom it was entered."""

    observation: str
    answer: str
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
    ``confirmed_by`` is empty again whenever they change.
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
        for event in call.events:
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
            and one.answer in answers_accepted(observations[one.observation])
        )
        return replace(self, given=tuple(known))

    def answer_to(self, observation: str) -> str | None:
        """Answer that counts, or None if the question is open."""
        return next((one.answer for one in self.given if one.observation == observation), None)

    def after(self, event: CallEvent, at: datetime, by: str) -> "CallState":
        """State after one more event."""
        state = replace(self, version=self.version + 1)
        match event:
            case ComplaintTaken(words):
                return replace(state, words=words)
            case SafetyAnswered(answers):
                return replace(state, safety_answers=dict(answers), confirmed_by=None)
            case MadeSafeConfirmed(name):
                return replace(state, confirmed_by=name)
            case FindingMade(observation, answer):
                given = GivenAnswer(observation, answer, at, by)
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

    def _others(self, observation: str) -> tuple[GivenAnswer, ...]:
        return tuple(entry for entry in self.given if entry.observation != observation)

    def _without(self, observation: str) -> "CallState":
        skipped = tuple(entry for entry in self.skipped if entry != observation)
        return replace(self, given=self._others(observation), skipped=skipped)
