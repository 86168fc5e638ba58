"""A call in whole, for a program: where it stands, what may be done, what is ranked if it may be.

What the pages show one after the other is here in one value. Safety first holds: ``board`` is None
until the safety questions allow a ranking.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from triage.network.values import SafetyFlag
from triage.planning.shop.settings import ShopSettings
from triage.services.call_log.events import CallOutcome
from triage.services.call_log.state import CallState
from triage.services.calls.board import CallBoard, call_board
from triage.services.calls.calls import CallStep, Database, may_rank, outcomes_allowed, step_of
from triage.services.calls.help import Refusal, refusals
from triage.services.calls.intake import SafetyCheck, SignChoice, safety_check, sign_choices
from triage.services.plan.ranking import ranking_as_json


def ranked_by_phone(database: Database, call_id: int, settings: ShopSettings) -> CallBoard:
    """Board of a call by what the phone knows."""
    return call_board(database, call_id, settings=settings)


@dataclass(frozen=True, slots=True, kw_only=True)
class CallWhole:
    """A call in whole; ``signs`` are those that the caller's words suggest, best first."""

    state: CallState
    step: CallStep
    check: SafetyCheck
    refusals: tuple[Refusal, ...]
    outcomes: tuple[CallOutcome, ...]
    signs: tuple[SignChoice, ...]
    board: CallBoard | None


def call_whole(
    database: Database,
    call_id: int,
    settings: ShopSettings,
    *,
    ranked: Callable[[Database, int, ShopSettings], CallBoard] = ranked_by_phone,
) -> CallWhole:
    """Put a call together; ``ranked`` gives the board, such as the one that knows of repairs.

    Raises
    ------
    UnknownCallError
    """
    check = safety_check(database, call_id)
    state = check.state
    is_ranked = may_rank(database, state)
    return CallWhole(
        state=state,
        step=step_of(database, state),
        check=check,
        refusals=refusals(state),
        outcomes=outcomes_allowed(database, state) if state.is_open else (),
        signs=sign_choices(database, call_id).suggested if is_ranked else (),
        board=ranked(database, call_id, settings) if is_ranked else None,
    )


def call_as_json(whole: CallWhole) -> Mapping[str, Any]:
    """Call as plain values; keys are stable (docs/api.md)."""
    state, board = whole.state, whole.board
    return {
        **call_head_as_json(state),
        "step": whole.step.value,
        "words": state.words,
        "safety": _safety(whole.check),
        "help": None if state.help is None else _help(state),
        "refusals": [
            {"title": one.title, "script": one.script, "referral": one.referral}
            for one in whole.refusals
        ],
        "signs_suggested": [_sign(one) for one in whole.signs],
        "answers": _answers(state, board),
        "skipped": list(state.skipped),
        "outcomes_allowed": [one.value for one in whole.outcomes],
        "linked": list(state.linked),
        "notes": [{"text": one.text, "at": one.at, "by": one.by} for one in state.notes],
        "ranking": None if board is None else ranking_as_json(board.ranking),
        "question": _question(board),
    }


def call_head_as_json(state: CallState) -> dict[str, Any]:
    """What a list says of a call, as plain values."""
    ended = state.outcome
    return {
        "call": state.call_id,
        "version": state.version,
        "network": state.network_id,
        "network_version": state.network_version,
        "caller": state.caller,
        "opened_at": state.opened_at,
        "is_open": state.is_open,
        "customer": state.customer_id or None,
        "machine": state.machine_id or None,
        "outcome": None if ended is None else _outcome(ended.outcome, ended.note, ended.at),
    }


def _outcome(outcome: CallOutcome, note: str, at: datetime) -> dict[str, Any]:
    return {"outcome": outcome.value, "note": note, "at": at}


def safety_question_as_json(flag: SafetyFlag) -> dict[str, Any]:
    """Safety question as plain values."""
    return {
        "flag": flag.id,
        "title": flag.title,
        "wording": flag.wording,
        "class": flag.safety_class.value,
    }


def _safety(check: SafetyCheck) -> dict[str, Any]:
    return {
        "verdict": check.safety.verdict.value,
        "questions": [
            {
                **safety_question_as_json(one.flag),
                "answer": one.answer,
                "suggested_by": one.phrase,
            }
            for one in check.questions
        ],
        "raised": [
            {
                "flag": flag.id,
                "title": flag.title,
                "class": flag.safety_class.value,
                "script": flag.script,
                "referral": flag.referral,
            }
            for flag in check.safety.raised
        ],
        "confirmed_by": check.safety.confirmed_by,
    }


def _help(state: CallState) -> dict[str, Any]:
    assert state.help is not None
    told = state.help
    return {
        "place": told.place,
        "in_area": told.in_area,
        "warranty": told.warranty,
        "holder": told.holder,
        "pays": told.pays,
        "lets_in": told.lets_in,
        "access": list(told.access),
        "helped_anyway": state.helped_anyway,
    }


def _sign(choice: SignChoice) -> dict[str, Any]:
    return {
        "observation": choice.observation.id,
        "title": choice.observation.title,
        "phrase": choice.example,
        "is_chosen": choice.is_chosen,
    }


def _answers(state: CallState, board: CallBoard | None) -> list[dict[str, Any]]:
    labels = {one.observation.id: one.label for one in board.answers} if board else {}
    return [
        {
            "observation": one.observation,
            "answer": one.answer,
            "label": labels.get(one.observation, ""),
            "at": one.at,
            "by": one.by,
            "from_record": one.from_record,
        }
        for one in state.given
    ]


def _question(board: CallBoard | None) -> dict[str, Any] | None:
    if board is None or board.question is None:
        return None
    asked = board.question.observation
    return {
        "observation": asked.id,
        "title": asked.title,
        "wording": asked.wording,
        "answers": dict(asked.answers),
        "minutes": asked.minutes,
        "reason": board.question.reason,
    }
