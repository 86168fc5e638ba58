"""Claims about machines of others: the same safety questions, no ranking, a recorded referral."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest

from triage.errors import OutOfScopeError, SafetyFirstError, UnknownNetworkError
from triage.network.catalogue import network_names
from triage.services.call_log.events import CallOutcome
from triage.services.calls import calls
from triage.services.calls.board import call_board, call_plan
from triage.services.calls.calls import CallReport, CallStep, Database, Entry, Submission
from triage.services.calls.intake import referral, safety_check, sign_choices
from triage.services.networks.scope import OTHER_KINDS, appliance_title, network_of

AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
KINDS = list(OTHER_KINDS)


def entry(version: int) -> Entry:
    return Entry(submission=Submission(uuid4().hex, version), at=AT, by="dispatcher")


def open_call(database: Database, kind: str, *, is_safe: bool = True) -> int:
    """Open a call, its safety questions all answered "no" if it is safe."""
    report = CallReport(network_id=kind, caller="Blue door", words="It is dead")
    call_id = calls.open_call(database, report, entry(0))
    if is_safe:
        answers = {one.flag.id: False for one in safety_check(database, call_id).questions}
        calls.answer_safety_questions(database, call_id, answers, entry(1))
    return call_id


@pytest.mark.parametrize("kind", KINDS)
def test_other_kind_is_no_network_and_has_the_dangers_of_one(kind: str) -> None:
    assert kind not in network_names()
    assert network_of(kind).id == OTHER_KINDS[kind].dangers_of
    assert network_of(kind).safety_flags


def test_kind_that_nobody_knows_is_refused() -> None:
    assert appliance_title("toaster") == "toaster"
    with pytest.raises(UnknownNetworkError, match="toaster"):
        network_of("toaster")


@pytest.mark.parametrize("kind", KINDS)
def test_call_about_an_other_kind_ends_in_a_referral(database: Database, kind: str) -> None:
    call_id = open_call(database, kind)
    state = calls.find_call(database, call_id)
    assert calls.step_of(database, state) is CallStep.REFER

    calls.end_call(database, call_id, CallOutcome.REFER_OUT, "", entry(state.version))

    ended = calls.find_call(database, call_id)
    assert (ended.network_id, ended.is_open) == (kind, False)
    assert calls.outcomes_allowed(database, state) == (CallOutcome.REFER_OUT, CallOutcome.DECLINED)


@pytest.mark.parametrize("ask", [call_board, call_plan, sign_choices])
def test_nothing_is_asked_or_ranked_for_an_other_kind(database: Database, ask) -> None:
    call_id = open_call(database, "heat_pump_dryer")

    with pytest.raises(OutOfScopeError, match="does not repair this kind of machine: Heat-pump"):
        ask(database, call_id)


def test_visit_to_an_other_kind_is_refused(database: Database) -> None:
    call_id = open_call(database, "heat_pump_dryer")

    with pytest.raises(OutOfScopeError, match="refer the caller"):
        calls.end_call(database, call_id, CallOutcome.VISIT, "", entry(2))


def test_safety_comes_before_the_referral(database: Database) -> None:
    call_id = open_call(database, "coin_operated_dryer", is_safe=False)

    with pytest.raises(SafetyFirstError, match="the safety questions come first"):
        referral(database, call_id)


def test_own_kind_is_not_referred(database: Database) -> None:
    call_id = open_call(database, "gas_dryer")

    assert referral(database, call_id) is None
    assert calls.may_rank(database, calls.find_call(database, call_id))
