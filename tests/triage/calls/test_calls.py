"""Claims about calls: safety first, a fold over events, and harmless doubles and stale pages.

The network is ``call_networks/small_washer.yaml``: two faults, three dangers of three classes.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from triage.errors import (
    SafetyFirstError,
    StaleCallError,
    UnknownAnswerError,
    UnknownNetworkError,
    UnknownObservationError,
)
from triage.services.call_log.events import CallOutcome, as_draft, from_stored
from triage.services.calls.calls import (
    CallReport,
    CallStep,
    Database,
    Entry,
    Submission,
    answer_question,
    answer_safety_questions,
    confirm_made_safe,
    confirm_signs,
    end_call,
    find_call,
    find_calls,
    open_call,
    reopen_call,
    skip_question,
    step_of,
    take_back_answer,
)
from triage.services.networks.engines import engine_for
from triage.store.calls import Draft, add_events

NETWORK = str(Path(__file__).parent / "call_networks" / "small_washer.yaml")
NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SAFE = {"gas": False, "shock": False, "flooding": False}


def entry(client_id: str, shown: int) -> Entry:
    return Entry(submission=Submission(client_id, shown), at=NINE, by="dispatcher")


def opened(database: Database, dangers: Iterable[str] = (), *, asked: bool = True) -> int:
    """A call whose safety questions were answered "no" but for these dangers."""
    report = CallReport(network_id=NETWORK, caller="A caller", words="it won't drain")
    call_id = open_call(database, report, entry("new", 0))
    if asked:
        answers = SAFE | dict.fromkeys(dangers, True)
        answer_safety_questions(database, call_id, answers, entry("safety", 1))
    return call_id


def shown(database: Database, call_id: int) -> int:
    return find_call(database, call_id).version


def answer(
    database: Database, call_id: int, observation: str, said: str, client_id: str = "answer"
) -> None:
    page = entry(client_id, shown(database, call_id))
    answer_question(database, call_id, observation, said, page)


def given(database: Database, call_id: int) -> list[str]:
    return [str(finding) for finding in find_call(database, call_id).evidence.findings]


def test_new_call_keeps_words_network_and_version(database: Database) -> None:
    state = find_call(database, opened(database, asked=False))

    assert (state.words, state.network_id, state.network_version) == ("it won't drain", NETWORK, 3)
    assert step_of(database, state) is CallStep.SAFETY


def test_new_call_sent_twice_is_one_call(database: Database) -> None:
    first = opened(database, asked=False)

    second = opened(database, asked=False)

    assert second == first
    assert shown(database, first) == 1


def test_new_call_about_an_unknown_network_is_refused(database: Database) -> None:
    report = CallReport(network_id="toaster", caller="", words="")

    with pytest.raises(UnknownNetworkError, match='Unknown network "toaster"'):
        open_call(database, report, entry("new", 0))


@pytest.mark.parametrize("dangers", [[], ["flooding"]])
def test_question_before_the_safety_questions_is_refused(
    database: Database, dangers: list[str]
) -> None:
    call_id = opened(database, dangers, asked=bool(dangers))

    with pytest.raises(SafetyFirstError, match="No causes are ranked yet"):
        answer(database, call_id, "says_no_spin", "yes")


@pytest.mark.parametrize("danger", ["gas", "shock"])
def test_stopping_danger_ends_the_call_for_good(database: Database, danger: str) -> None:
    call_id = opened(database, [danger])
    state = find_call(database, call_id)

    assert step_of(database, state) is CallStep.STOPPED
    assert state.outcome is not None
    assert state.outcome.outcome is CallOutcome.STOPPED_FOR_SAFETY
    for attempt in (
        lambda page: confirm_made_safe(database, call_id, "A caller", page),
        lambda page: answer_safety_questions(database, call_id, SAFE, page),
        lambda page: confirm_signs(database, call_id, ["says_no_spin"], page),
        lambda page: answer_question(database, call_id, "says_no_spin", "yes", page),
        lambda page: end_call(database, call_id, CallOutcome.VISIT, "", page),
        lambda page: reopen_call(database, call_id, page),
    ):
        with pytest.raises(SafetyFirstError, match="a danger ended this call"):
            attempt(entry("try", state.version))


def test_danger_that_can_be_made_safe_goes_on_after_a_name(database: Database) -> None:
    call_id = opened(database, ["flooding"])
    assert step_of(database, find_call(database, call_id)) is CallStep.MAKE_SAFE

    confirm_made_safe(database, call_id, "  The caller's son ", entry("confirm", 2))

    state = find_call(database, call_id)
    assert (state.confirmed_by, step_of(database, state)) == ("The caller's son", CallStep.HELP)


def test_confirmation_without_a_name_is_refused(database: Database) -> None:
    call_id = opened(database, ["flooding"])

    with pytest.raises(SafetyFirstError, match="someone has to confirm"):
        confirm_made_safe(database, call_id, "  ", entry("confirm", 2))


def test_confirmation_before_the_safety_questions_is_refused(database: Database) -> None:
    call_id = opened(database, asked=False)

    with pytest.raises(SafetyFirstError, match="safety questions come first"):
        confirm_made_safe(database, call_id, "A caller", entry("confirm", 1))


def test_new_safety_answers_ask_for_a_new_confirmation(database: Database) -> None:
    call_id = opened(database, ["flooding"])
    confirm_made_safe(database, call_id, "A caller", entry("confirm", 2))

    answer_safety_questions(database, call_id, SAFE | {"flooding": True}, entry("again", 3))

    assert step_of(database, find_call(database, call_id)) is CallStep.MAKE_SAFE


def test_answer_left_out_keeps_the_safety_questions_open(database: Database) -> None:
    call_id = opened(database, asked=False)

    answer_safety_questions(database, call_id, {"gas": False}, entry("safety", 1))

    assert step_of(database, find_call(database, call_id)) is CallStep.SAFETY


def test_confirmed_signs_are_volunteered_findings(database: Database) -> None:
    call_id = opened(database)

    confirm_signs(database, call_id, ["says_water_left"], entry("signs", 2))

    assert given(database, call_id) == ["says_water_left=volunteered"]
    assert step_of(database, find_call(database, call_id)) is CallStep.QUESTIONS


def test_sign_no_longer_named_is_taken_back(database: Database) -> None:
    call_id = opened(database)
    confirm_signs(database, call_id, ["says_water_left"], entry("signs", 2))

    confirm_signs(database, call_id, ["says_no_spin"], entry("signs again", 3))

    assert given(database, call_id) == ["says_no_spin=volunteered"]


def test_sign_that_nobody_volunteers_is_refused(database: Database) -> None:
    call_id = opened(database)

    with pytest.raises(UnknownAnswerError, match="volunteered"):
        confirm_signs(database, call_id, ["asks_belt"], entry("signs", 2))


def test_second_answer_replaces_the_first(database: Database) -> None:
    call_id = opened(database)
    answer(database, call_id, "says_no_spin", "yes", "first")

    answer(database, call_id, "says_no_spin", "no", "second")

    assert given(database, call_id) == ["says_no_spin=no"]


def test_answer_taken_back_leaves_the_question_open(database: Database) -> None:
    call_id = opened(database)
    answer(database, call_id, "says_no_spin", "yes", "first")
    answer(database, call_id, "says_water_left", "no", "second")

    take_back_answer(database, call_id, "says_no_spin", entry("undo", 4))

    assert given(database, call_id) == ["says_water_left=no"]


def test_dont_know_is_stored(database: Database) -> None:
    call_id = opened(database)

    answer(database, call_id, "says_no_spin", "dont_know")

    assert given(database, call_id) == ["says_no_spin=dont_know"]


def test_skipped_question_is_remembered_until_it_is_answered(database: Database) -> None:
    call_id = opened(database)

    skip_question(database, call_id, "says_no_spin", entry("skip", 2))
    skipped = find_call(database, call_id).skipped
    answer(database, call_id, "says_no_spin", "yes")

    assert skipped == ("says_no_spin",)
    assert find_call(database, call_id).skipped == ()


@pytest.mark.parametrize(
    ("observation", "said", "error"),
    [
        ("says_nothing", "yes", UnknownObservationError),
        ("says_no_spin", "perhaps", UnknownAnswerError),
    ],
)
def test_answer_the_network_does_not_have_is_not_stored(
    database: Database, observation: str, said: str, error: type[Exception]
) -> None:
    call_id = opened(database)

    with pytest.raises(error):
        answer(database, call_id, observation, said)

    assert given(database, call_id) == []


def test_answer_sent_twice_is_stored_once(database: Database) -> None:
    call_id = opened(database)
    page = entry("answer", shown(database, call_id))
    answer_question(database, call_id, "says_no_spin", "yes", page)

    answer_question(database, call_id, "says_no_spin", "yes", page)

    assert shown(database, call_id) == 3
    assert given(database, call_id) == ["says_no_spin=yes"]


def test_stopping_answer_sent_twice_is_harmless(database: Database) -> None:
    call_id = opened(database, ["gas"])

    answer_safety_questions(database, call_id, SAFE | {"gas": True}, entry("safety", 1))

    assert shown(database, call_id) == 3


def test_other_answer_from_the_same_page_is_stale(database: Database) -> None:
    call_id = opened(database)
    page = entry("answer", shown(database, call_id))
    answer_question(database, call_id, "says_no_spin", "yes", page)

    with pytest.raises(StaleCallError, match="answer again"):
        answer_question(database, call_id, "says_no_spin", "no", page)

    assert given(database, call_id) == ["says_no_spin=yes"]


def test_answer_from_a_stale_page_is_refused(database: Database) -> None:
    call_id = opened(database)
    old_page = entry("old", shown(database, call_id))
    answer(database, call_id, "says_no_spin", "yes", "newer")

    with pytest.raises(StaleCallError):
        answer_question(database, call_id, "says_water_left", "yes", old_page)

    assert given(database, call_id) == ["says_no_spin=yes"]


def test_ended_call_takes_no_answer_until_it_is_opened_again(database: Database) -> None:
    call_id = opened(database)
    end_call(database, call_id, CallOutcome.VISIT, "Tuesday", entry("end", 2))
    assert step_of(database, find_call(database, call_id)) is CallStep.ENDED
    with pytest.raises(StaleCallError):
        answer(database, call_id, "says_no_spin", "yes", "too late")

    reopen_call(database, call_id, entry("reopen", 3))
    answer(database, call_id, "says_no_spin", "yes")

    assert given(database, call_id) == ["says_no_spin=yes"]


@pytest.mark.parametrize(
    ("outcome", "is_allowed"),
    [
        (CallOutcome.DECLINED, True),
        (CallOutcome.REFER_OUT, True),
        (CallOutcome.VISIT, False),
        (CallOutcome.SOLVED_BY_PHONE, False),
    ],
)
def test_before_the_safety_questions_only_some_outcomes_are_allowed(
    database: Database, outcome: CallOutcome, is_allowed: bool
) -> None:
    call_id = opened(database, asked=False)

    if not is_allowed:
        with pytest.raises(SafetyFirstError):
            end_call(database, call_id, outcome, "", entry("end", 1))
        return
    end_call(database, call_id, outcome, "", entry("end", 1))

    assert step_of(database, find_call(database, call_id)) is CallStep.ENDED


def test_list_marks_a_call_open_exactly_when_its_events_say_so(database: Database) -> None:
    call_id = opened(database)
    end_call(database, call_id, CallOutcome.VISIT, "", entry("end", 2))
    tomorrow = NINE + timedelta(days=1)
    ended = find_calls(database, since=tomorrow)

    reopen_call(database, call_id, entry("reopen", 3))

    assert ended == ()
    assert [state.call_id for state in find_calls(database, since=tomorrow)] == [call_id]


def test_answer_that_the_network_no_longer_has_does_not_count(database: Database) -> None:
    call_id = opened(database)
    answer(database, call_id, "says_no_spin", "yes", "first")
    answer(database, call_id, "says_water_left", "no", "second")
    network = engine_for(NETWORK).network
    without = {k: v for k, v in network.observations.items() if k != "says_no_spin"}

    state = find_call(database, call_id).known_to(replace(network, observations=without))

    assert [str(finding) for finding in state.evidence.findings] == ["says_water_left=no"]


def test_event_of_an_unknown_kind_asks_for_a_newer_program() -> None:
    with pytest.raises(ValueError, match="Update the program"):
        from_stored("teleported", {})


def test_events_of_visit_and_job_are_counted_and_findings_on_site_are_evidence(
    database: Database,
) -> None:
    call_id = opened(database)
    drafts = [
        Draft("visit_booked", {"visit_id": 1}),
        Draft("job_begun", {}),
        Draft("finding", {"observation": "says_no_spin", "answer": "yes"}),
    ]
    with database.writing() as session:
        page = Submission("on site", 2)
        add_events(session, call_id, drafts, page, at=NINE, by="technician", is_open=False)

    assert shown(database, call_id) == 5
    assert given(database, call_id) == ["says_no_spin=yes"]


def test_later_event_is_stored_as_it_was() -> None:
    event = from_stored("job_begun", {"van": "1"})

    assert as_draft(event) == Draft("job_begun", {"van": "1"})
