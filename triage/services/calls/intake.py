"""What the first pages of a call show: safety questions, signs the words suggest, referral."""

from dataclasses import dataclass

from triage.network.values import VOLUNTEERED, Observation, SafetyFlag
from triage.planning.safety import SafetyState
from triage.services.call_log.state import CallState
from triage.services.calls.calls import CallStep, Database, find_call, go_on_or_refuse, step_of
from triage.services.networks.in_use import network_of_call
from triage.services.networks.scope import OTHER_KINDS, OtherKind
from triage.trade.words import Suggestion, match_words


@dataclass(frozen=True, slots=True)
class SafetyQuestion:
    """A safety question; ``answer`` is None if it is open, ``phrase`` what raised it, or empty."""

    flag: SafetyFlag
    answer: bool | None
    phrase: str


@dataclass(frozen=True, slots=True)
class SafetyCheck:
    """All safety questions of a call, and where they leave it."""

    state: CallState
    questions: tuple[SafetyQuestion, ...]
    safety: SafetyState


@dataclass(frozen=True, slots=True)
class SignChoice:
    """A sign the caller may have volunteered; ``suggestion`` is None if no word points to it."""

    observation: Observation
    suggestion: Suggestion | None
    is_chosen: bool

    @property
    def example(self) -> str:
        """Words with which a caller says it: those that match, else the first of its phrases."""
        if self.suggestion is not None:
            return self.suggestion.phrase
        return next(iter(self.observation.phrases), "")


@dataclass(frozen=True, slots=True)
class SignChoices:
    """Signs the words suggest, best first, and all others in the order of the network.

    A sign that was answered as a question is not among them; its answer is changed there.
    """

    state: CallState
    suggested: tuple[SignChoice, ...]
    others: tuple[SignChoice, ...]


@dataclass(frozen=True, slots=True)
class Referral:
    """A call about a machine of others, and who takes over."""

    state: CallState
    kind: OtherKind


def safety_check(database: Database, call_id: int) -> SafetyCheck:
    """Safety questions of a call with their answers; a danger in the caller's words raises its own.

    Raises
    ------
    UnknownCallError
        No call of that number is stored.
    """
    state = find_call(database, call_id)
    network = network_of_call(database, state.network_id, state.network_version)
    raised = {found.id: found.phrase for found in match_words(network, state.words)}
    questions = tuple(
        SafetyQuestion(flag, state.safety_answers.get(flag.id), raised.get(flag.id, ""))
        for flag in network.safety_flags.values()
    )
    return SafetyCheck(state, questions, state.safety(network))


def sign_choices(database: Database, call_id: int) -> SignChoices:
    """Signs that the caller may have volunteered, those that the words suggest first.

    Raises
    ------
    UnknownCallError
        No call of that number is stored.
    SafetyFirstError
        The safety questions do not allow going on.
    """
    state = find_call(database, call_id)
    network = network_of_call(database, state.network_id, state.network_version)
    go_on_or_refuse(state, network)
    found = match_words(network, state.words)
    suggestions = {entry.id: entry for entry in found if not entry.is_danger}
    offered = {
        entry.id: SignChoice(
            entry, suggestions.get(entry.id), state.answer_to(entry.id) == VOLUNTEERED
        )
        for entry in network.observations.values()
        if entry.volunteered is not None and state.answer_to(entry.id) in (None, VOLUNTEERED)
    }
    return SignChoices(
        state,
        tuple(offered[name] for name in suggestions if name in offered),
        tuple(choice for name, choice in offered.items() if name not in suggestions),
    )


def referral(database: Database, call_id: int) -> Referral | None:
    """Who takes over a call about a machine of others; None if the shop repairs such machines.

    Raises
    ------
    UnknownCallError
        No call of that number is stored.
    SafetyFirstError
        The call is open, and its safety questions do not allow going on.
    """
    state = find_call(database, call_id)
    kind = OTHER_KINDS.get(state.network_id)
    if kind is None:
        return None
    if step_of(database, state) not in (CallStep.REFER, CallStep.ENDED):
        network = network_of_call(database, state.network_id, state.network_version)
        go_on_or_refuse(state, network)
    return Referral(state, kind)
