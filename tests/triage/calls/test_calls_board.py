"""Claims about what the pages of a call show: board, plan, safety check, signs."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from triage.errors import SafetyFirstError
from triage.services.calls.board import call_board, call_plan
from triage.services.calls.calls import (
    CallReport,
    Database,
    Entry,
    Submission,
    answer_question,
    answer_safety_questions,
    confirm_signs,
    find_call,
    open_call,
    skip_question,
)
from triage.services.calls.intake import safety_check, sign_choices

NETWORK = str(Path(__file__).parent / "call_networks" / "small_washer.yaml")
NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SAFE = {"gas": False, "shock": False, "flooding": False}


def entry(database: Database, call_id: int, client_id: str) -> Entry:
    version = find_call(database, call_id).version
    return Entry(submission=Submission(client_id, version), at=NINE, by="dispatcher")


def opened(database: Database, words: str = "it won't drain", *, asked: bool = True) -> int:
    report = CallReport(network_id=NETWORK, caller="A caller", words=words)
    first = Entry(submission=Submission("new", 0), at=NINE, by="dispatcher")
    call_id = open_call(database, report, first)
    if asked:
        answer_safety_questions(database, call_id, SAFE, entry(database, call_id, "safety"))
    return call_id


def test_words_that_name_a_danger_raise_its_question(database: Database) -> None:
    check = safety_check(database, opened(database, "I got a shock, it won't drain", asked=False))

    raised = {question.flag.id: question.phrase for question in check.questions}
    assert raised == {"gas": "", "shock": "got a shock", "flooding": ""}


def test_suggested_signs_come_first_and_nothing_is_chosen(database: Database) -> None:
    choices = sign_choices(database, opened(database))

    assert [choice.observation.id for choice in choices.suggested] == ["says_water_left"]
    assert [choice.observation.id for choice in choices.others] == ["says_no_spin"]
    assert not any(choice.is_chosen for choice in (*choices.suggested, *choices.others))


def test_sign_answered_as_a_question_is_not_offered(database: Database) -> None:
    call_id = opened(database)
    answer_question(database, call_id, "says_no_spin", "no", entry(database, call_id, "answer"))

    choices = sign_choices(database, call_id)

    assert choices.others == ()


@pytest.mark.parametrize("page", [call_board, call_plan, sign_choices])
def test_nothing_is_shown_before_the_safety_questions(database: Database, page) -> None:
    call_id = opened(database, asked=False)

    with pytest.raises(SafetyFirstError, match="safety questions come first"):
        page(database, call_id)


def test_volunteered_sign_raises_its_cause(database: Database) -> None:
    call_id = opened(database)
    before = call_board(database, call_id)

    confirm_signs(database, call_id, ["says_water_left"], entry(database, call_id, "signs"))
    after = call_board(database, call_id)

    pump = {cause.mode: cause.probability for cause in before.ranking.causes}["pump.burnt"]
    assert after.ranking.causes[0].mode == "pump.burnt"
    assert after.ranking.causes[0].before == pytest.approx(pump)
    assert after.ranking.causes[0].probability > pump


def test_skipped_question_gives_way_to_the_next(database: Database) -> None:
    call_id = opened(database)
    first = call_board(database, call_id).question
    assert first is not None

    skipped = entry(database, call_id, "skip")
    skip_question(database, call_id, first.observation.id, skipped)
    second = call_board(database, call_id).question

    assert second is not None
    assert second.observation.id != first.observation.id


def test_chosen_question_is_asked_with_its_present_answer(database: Database) -> None:
    call_id = opened(database)
    answer_question(database, call_id, "says_no_spin", "yes", entry(database, call_id, "answer"))

    question = call_board(database, call_id, ask="says_no_spin").question

    assert question is not None
    assert (question.answer, question.is_proposed) == ("yes", False)


def test_answered_question_is_not_among_the_open_ones(database: Database) -> None:
    call_id = opened(database)
    answer_question(
        database, call_id, "says_no_spin", "dont_know", entry(database, call_id, "answer")
    )

    board = call_board(database, call_id)

    assert [shown.label for shown in board.answers] == ["don't know"]
    assert "says_no_spin" not in {observation.id for observation in board.open_questions}


def test_plan_follows_the_answers(database: Database) -> None:
    call_id = opened(database)
    confirm_signs(database, call_id, ["says_water_left"], entry(database, call_id, "signs"))

    planned = call_plan(database, call_id)

    assert planned.plan.parts[0].part.id == "pump"
