"""Calls: open one, answer its safety questions, record answers, end it.

Every function that writes reads the call inside the same transaction, checks what may happen next
(**safety first**: nothing is asked or ranked before the safety questions allow it), checks that the
page showed the call as it is now, and adds events. It returns nothing; the page is built anew from
what is stored.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum

from triage.errors import OutOfScopeError, SafetyFirstError, UnknownAnswerError
from triage.inference.evidence import answers_accepted
from triage.network.values import VOLUNTEERED, FaultNetwork, NetworkIndex
from triage.planning.safety import SafetyVerdict
from triage.services.call_log.change import REASONS, Entry, change_call, network_of_state
from triage.services.call_log.events import (
    CallEvent,
    CallOutcome,
    CallReopened,
    FindingMade,
    FindingUndone,
    MadeSafeConfirmed,
    OutcomeRecorded,
    QuestionSkipped,
    SafetyAnswered,
)
from triage.services.call_log.state import CallState
from triage.services.calls.help import refusals
from triage.services.calls.opening import CallReport, open_call
from triage.services.networks.scope import OTHER_KINDS
from triage.store.calls import Submission, list_calls, read_call
from triage.store.database import Database

__all__ = [
    "CallReport",
    "CallStep",
    "Database",
    "Entry",
    "Submission",
    "answer_question",
    "answer_safety_questions",
    "confirm_made_safe",
    "confirm_signs",
    "end_call",
    "find_call",
    "find_calls",
    "go_on_or_refuse",
    "may_rank",
    "open_call",
    "outcomes_allowed",
    "reopen_call",
    "skip_question",
    "step_of",
    "take_back_answer",
]

# Outcomes that say nothing about the machine, so they need no ranking and no safety questions.
ALWAYS_ALLOWED = (CallOutcome.DECLINED, CallOutcome.REFER_OUT)


class CallStep(StrEnum):
    """Where a call stands: what the dispatcher does next."""

    SAFETY = "safety"
    MAKE_SAFE = "make_safe"
    REFER = "refer"
    HELP = "help"
    REFUSE = "refuse"
    SIGNS = "signs"
    QUESTIONS = "questions"
    ENDED = "ended"
    STOPPED = "stopped"


def find_call(database: Database, call_id: int) -> CallState:
    """State of a call, or ``UnknownCallError``."""
    with database.reading() as session:
        return CallState.of(read_call(session, call_id))


def find_calls(database: Database, *, since: datetime) -> tuple[CallState, ...]:
    """Calls that are open or were opened since a moment, newest first."""
    with database.reading() as session:
        return tuple(CallState.of(call) for call in list_calls(session, since=since))


def step_of(database: Database, state: CallState) -> CallStep:
    """What the dispatcher does next in this call."""
    if state.was_stopped:
        return CallStep.STOPPED
    if not state.is_open:
        return CallStep.ENDED
    verdict = state.safety(network_of_state(database, state)).verdict
    if verdict is SafetyVerdict.STOP:
        return CallStep.STOPPED
    if verdict is SafetyVerdict.ASK:
        return CallStep.SAFETY
    if verdict is SafetyVerdict.CONFIRM:
        return CallStep.MAKE_SAFE
    if state.network_id in OTHER_KINDS:
        return CallStep.REFER
    is_begun = bool(state.skipped) or any(not one.from_record for one in state.given)
    if state.help is None and not is_begun:
        return CallStep.HELP
    if refusals(state):
        return CallStep.REFUSE
    return CallStep.QUESTIONS if is_begun else CallStep.SIGNS


def go_on_or_refuse(state: CallState, network: FaultNetwork) -> None:
    """Raise unless asking and ranking are allowed.

    Raises
    ------
    SafetyFirstError
        The safety questions do not allow it.
    OutOfScopeError
        The shop does not repair such machines.
    """
    verdict = SafetyVerdict.STOP if state.was_stopped else state.safety(network).verdict
    if verdict is not SafetyVerdict.GO_ON:
        raise SafetyFirstError(str(state.call_id), REASONS[verdict])
    if state.network_id in OTHER_KINDS:
        raise OutOfScopeError(str(state.call_id), OTHER_KINDS[state.network_id].title)


def may_rank(database: Database, state: CallState) -> bool:
    """Whether causes may be ranked in a call, open or ended."""
    try:
        go_on_or_refuse(state, network_of_state(database, state))
    except (SafetyFirstError, OutOfScopeError):
        return False
    return True


def answer_safety_questions(
    database: Database, call_id: int, answers: Mapping[str, bool], entry: Entry
) -> None:
    """Record the answers to the safety questions; a danger that stops the call ends it at once."""

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        known = {flag: bool(answers[flag]) for flag in network.safety_flags if flag in answers}
        answered = SafetyAnswered(known)
        safety = state.after(answered, entry.at, entry.by).safety(network)
        if safety.verdict is not SafetyVerdict.STOP:
            return [answered]
        dangers = ", ".join(flag.title for flag in safety.raised)
        return [answered, OutcomeRecorded(CallOutcome.STOPPED_FOR_SAFETY, dangers)]

    change_call(database, call_id, entry, decide)


def confirm_made_safe(database: Database, call_id: int, name: str, entry: Entry) -> None:
    """Record who confirmed that the machine was made safe, where the danger allows going on."""

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        verdict = state.safety(network).verdict
        if verdict is SafetyVerdict.ASK or verdict is SafetyVerdict.STOP or not name.strip():
            raise SafetyFirstError(
                str(call_id), REASONS.get(verdict, REASONS[SafetyVerdict.CONFIRM])
            )
        return [MadeSafeConfirmed(name.strip())]

    change_call(database, call_id, entry, decide)


def confirm_signs(
    database: Database, call_id: int, observations: Iterable[str], entry: Entry
) -> None:
    """Record the signs that the caller volunteered; one that is no longer named is taken back."""
    named = list(dict.fromkeys(observations))

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        go_on_or_refuse(state, network)
        for name in named:
            _check_answer(network, name, VOLUNTEERED)
        volunteered = [one.observation for one in state.given if one.answer == VOLUNTEERED]
        taken_back = [FindingUndone(name) for name in volunteered if name not in named]
        new = [FindingMade(name, VOLUNTEERED) for name in named if state.answer_to(name) is None]
        return [*taken_back, *new]

    change_call(database, call_id, entry, decide)


def answer_question(
    database: Database, call_id: int, observation: str, answer: str, entry: Entry
) -> None:
    """Record the answer to a question; it replaces an earlier one.

    Raises
    ------
    SafetyFirstError, StaleCallError, UnknownCallError
    UnknownObservationError, UnknownAnswerError, ReadingError
        The network has no such question, or the question no such answer.
    """

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        go_on_or_refuse(state, network)
        _check_answer(network, observation, answer)
        return [FindingMade(observation, answer)]

    change_call(database, call_id, entry, decide)


def take_back_answer(database: Database, call_id: int, observation: str, entry: Entry) -> None:
    """Take an answer back; the question is open again."""

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        go_on_or_refuse(state, network)
        return [FindingUndone(observation)] if state.answer_to(observation) is not None else []

    change_call(database, call_id, entry, decide)


def skip_question(database: Database, call_id: int, observation: str, entry: Entry) -> None:
    """Pass a question over; it stays in the list of other questions."""

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        go_on_or_refuse(state, network)
        NetworkIndex(network).observation(observation)
        return [QuestionSkipped(observation)]

    change_call(database, call_id, entry, decide)


def end_call(
    database: Database, call_id: int, outcome: CallOutcome, note: str, entry: Entry
) -> None:
    """Record how the call ended; what speaks of the machine needs the safety questions first."""

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        if outcome not in outcomes_allowed(database, state):
            go_on_or_refuse(state, network)
        return [OutcomeRecorded(outcome, note)]

    change_call(database, call_id, entry, decide)


def outcomes_allowed(database: Database, state: CallState) -> tuple[CallOutcome, ...]:
    """Outcomes with which the call may be ended as it stands now."""
    is_safe = state.safety(network_of_state(database, state)).verdict is SafetyVerdict.GO_ON
    can_speak = is_safe and state.network_id not in OTHER_KINDS
    return tuple(
        outcome
        for outcome in CallOutcome
        if outcome is not CallOutcome.STOPPED_FOR_SAFETY
        and (can_speak or outcome in ALWAYS_ALLOWED)
    )


def reopen_call(database: Database, call_id: int, entry: Entry) -> None:
    """Go on with a call that had ended; one that a danger stopped stays ended."""

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        return [CallReopened()] if not state.is_open else []

    change_call(database, call_id, entry, decide, only_open=False)


def _check_answer(network: FaultNetwork, observation: str, answer: str) -> None:
    entry = NetworkIndex(network).observation(observation)
    if answer not in answers_accepted(entry):
        raise UnknownAnswerError(observation, answer, answers_accepted(entry))
