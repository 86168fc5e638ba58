"""What the call page shows: causes ranked, the question to ask now, the answers given so far."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

from triage.inference.engine import Cause, Engine
from triage.inference.evidence import Evidence
from triage.network.values import FaultNetwork, Observation
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.call_log.state import CallState
from triage.services.calls.calls import Database, find_call, go_on_or_refuse
from triage.services.networks.engines import engine_for, network_choices
from triage.services.networks.in_use import engine_of_call
from triage.services.plan.branching import BranchingPlan, branching_plan
from triage.services.plan.offer import VisitOffer, visit_offer
from triage.services.plan.ranking import NextObservation, Ranking, rank
from triage.services.plan.vans import loaded_van
from triage.services.plan.visit import VisitPlan, plan_with_causes
from triage.services.wording import answer_label
from triage.store.jobs import plate_of_call

QUESTIONS_SHOWN = 8
CAUSES_SHOWN = 8
RANKINGS_KEPT = 256
TURN_TO_RANK = Lock()


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """The question to ask now; ``answer`` is the present one if it is to be changed."""

    observation: Observation
    reason: str
    answer: str | float | None
    is_proposed: bool


@dataclass(frozen=True, slots=True)
class AnswerShown:
    """An answer that counts, as people read it."""

    observation: Observation
    answer: str | float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CallBoard:
    """Everything the call page shows.

    ``ranking`` is None if the answers exclude each other; ``excluding`` then names them.
    ``question`` is None if no question is left that would move the ranking.
    """

    state: CallState
    network: FaultNetwork
    ranking: Ranking
    question: AskedQuestion | None
    worth_asking: tuple[NextObservation, ...]
    open_questions: tuple[Observation, ...]
    answers: tuple[AnswerShown, ...]
    lost_answers: int


@dataclass(frozen=True, slots=True)
class CallPlan:
    """A call, its first visit plan, what to offer the caller, and the causes it rests on."""

    state: CallState
    network: FaultNetwork
    plan: VisitPlan
    offer: VisitOffer
    causes: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class CallBranches:
    """A call, and the plan of its visit with branches."""

    state: CallState
    network: FaultNetwork
    plan: BranchingPlan


def call_board(
    database: Database,
    call_id: int,
    *,
    ask: str | None = None,
    settings: ShopSettings = DEFAULT_SETTINGS,
) -> CallBoard:
    """Causes, next question and answers of a call by what the phone knows; else as ``board_of``.

    Raises
    ------
    UnknownCallError
    """
    return board_of(database, find_call(database, call_id), ask=ask, settings=settings)


def board_of(
    database: Database,
    stored: CallState,
    *,
    ask: str | None = None,
    settings: ShopSettings = DEFAULT_SETTINGS,
    evidence: Evidence | None = None,
) -> CallBoard:
    """Causes, next question and answers of a call that was read already.

    Parameters
    ----------
    database : Database
    stored : CallState
    ask : str, optional
        Observation the dispatcher chose to ask, or to answer anew, instead of the proposed one.
    settings : ShopSettings
        Their costs decide whether further questions pay.
    evidence : Evidence, optional
        What the causes are ranked by where more is known than the phone knows, such as repairs
        on site; else the answers of the call.

    Raises
    ------
    UnknownObservationError
    SafetyFirstError, OutOfScopeError
        Nothing may be ranked in this call.
    """
    engine = engine_of_call(database, stored.network_id, stored.network_version, settings)
    go_on_or_refuse(stored, engine.network)
    state = stored.known_to(engine.network)
    chosen = None if ask is None else engine.compiled.index.observation(ask)
    known = state.evidence if evidence is None else evidence
    ranking = _ranking(engine, known, settings)
    worth_asking = ranking.next_questions
    return CallBoard(
        state=state,
        network=engine.network,
        ranking=ranking,
        question=_question(state, worth_asking, chosen),
        worth_asking=worth_asking,
        open_questions=_open_questions(engine.network, state),
        lost_answers=len(stored.given) - len(state.given),
        answers=_shown(engine, (one.observation for one in state.given), state),
    )


def call_plan(
    database: Database,
    call_id: int,
    *,
    plate: str = "",
    settings: ShopSettings = DEFAULT_SETTINGS,
) -> CallPlan:
    """First visit plan of a call by what the phone knows; else as ``plan_of``.

    Raises
    ------
    UnknownCallError
    """
    return plan_of(database, find_call(database, call_id), plate=plate, settings=settings)


def plan_of(
    database: Database,
    state: CallState,
    *,
    plate: str = "",
    settings: ShopSettings = DEFAULT_SETTINGS,
    evidence: Evidence | None = None,
) -> CallPlan:
    """Visit plan of a call that was read already, and what to offer the caller.

    ``plate`` is what the machine's plate says, if it was read out; else that of the machine on
    record. ``evidence`` is as for ``board_of``.

    Raises
    ------
    SafetyFirstError, OutOfScopeError
        Nothing may be ranked in this call.
    """
    engine = engine_of_call(database, state.network_id, state.network_version, settings)
    go_on_or_refuse(state, engine.network)
    known = state.known_to(engine.network).evidence if evidence is None else evidence
    plate = plate or _plate(database, state.call_id)
    plan, causes = plan_with_causes(engine, known, settings, plate)
    return CallPlan(state, engine.network, plan, visit_offer(plan), causes)


def branches_of(
    database: Database,
    state: CallState,
    *,
    settings: ShopSettings = DEFAULT_SETTINGS,
    evidence: Evidence | None = None,
) -> CallBranches:
    """Plan of the visit of a call that was read already, with what every result leads to.

    ``evidence`` is as for ``board_of``.

    Raises
    ------
    SafetyFirstError, OutOfScopeError
        Nothing may be ranked in this call.
    """
    engine = engine_of_call(database, state.network_id, state.network_version, settings)
    go_on_or_refuse(state, engine.network)
    known = state.known_to(engine.network).evidence if evidence is None else evidence
    van = loaded_van(engine, known, settings, _plate(database, state.call_id))
    costs = settings.costs_for(engine.network.id)
    plan = branching_plan(engine, known, costs, van=van)
    return CallBranches(state, engine.network, plan)


def _plate(database: Database, call_id: int) -> str:
    with database.reading() as session:
        return plate_of_call(session, call_id)


def warm_up(settings: ShopSettings = DEFAULT_SETTINGS) -> None:
    """Rank once in every shipped network, so that the first call does not wait for it."""
    for name, _ in network_choices():
        _ranking(engine_for(name, settings), Evidence(), settings)


def _ranking(engine: Engine, evidence: Evidence, settings: ShopSettings) -> Ranking:
    """Ranking as the page of a call shows it, one at a time.

    Threads that compute at once take the interpreter from each other at every step and become
    several times slower; those that wait for their turn lose next to nothing.
    """
    with TURN_TO_RANK:
        return _ranked(engine, evidence, settings)


@lru_cache(maxsize=RANKINGS_KEPT)
def _ranked(engine: Engine, evidence: Evidence, settings: ShopSettings) -> Ranking:
    """Ranking, kept: choosing another question asks for the same again."""
    return rank(
        engine,
        evidence,
        causes_limit=CAUSES_SHOWN,
        next_limit=QUESTIONS_SHOWN,
        at_the_phone=True,
        settings=settings,
    )


def _question(
    state: CallState, worth_asking: tuple[NextObservation, ...], chosen: Observation | None
) -> AskedQuestion | None:
    if chosen is not None:
        reasons = {entry.observation.id: entry.reason for entry in worth_asking}
        reason = reasons.get(chosen.id, "")
        return AskedQuestion(chosen, reason, state.answer_to(chosen.id), is_proposed=False)
    for entry in worth_asking:
        if entry.observation.id not in state.skipped:
            return AskedQuestion(entry.observation, entry.reason, None, is_proposed=True)
    return None


def _open_questions(network: FaultNetwork, state: CallState) -> tuple[Observation, ...]:
    """Every question of the phone without an answer, in the order of the network."""
    answered = {one.observation for one in state.given}
    return tuple(
        entry
        for entry in network.observations.values()
        if not entry.channel.is_on_site and entry.id not in answered
    )


def _shown(engine: Engine, names: Iterable[str], state: CallState) -> tuple[AnswerShown, ...]:
    shown = []
    for name in names:
        observation = engine.compiled.index.observation(name)
        answer = state.answer_to(name) or ""
        shown.append(AnswerShown(observation, answer, answer_label(observation, answer)))
    return tuple(shown)
