"""Claims about "can we help", notes, lists of calls, and what changed meanwhile."""

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.triage.desk.booking_shop import (
    MONDAY_SIX,
    booked,
    call_for_visit,
    local,
    now_page,
    page,
    vans,
)
from triage.errors import SettingsFileError, StaleCallError
from triage.services.booking.visits import cancel_visit
from triage.services.call_lists import CallPlace, desk_calls
from triage.services.call_log.changes import changes_since
from triage.services.call_log.events import CallbackJudged, CallOutcome, HelpAsked
from triage.services.calls.calls import (
    CallReport,
    CallStep,
    Database,
    answer_question,
    end_call,
    find_call,
    open_call,
    skip_question,
    step_of,
)
from triage.services.calls.help import (
    OUT_OF_AREA,
    UNDER_WARRANTY,
    access_notes,
    answer_help,
    help_anyway,
    help_asked,
    notes_for_technician,
    refusals,
)
from triage.services.calls.notes import take_note
from triage.services.job.events import PartArrived, PartOrdered, as_draft
from triage.services.settings.hours import DEFAULT_DESK, check_desk, desk_settings
from triage.services.settings.reading import check_settings_text
from triage.store.calls import Submission, add_events
from triage.store.visits import DONE, change_visit
from triage.trade.units import Units

AREA = replace(DEFAULT_DESK, service_area=("606", "Mill End"))


def asked(database: Database, call_id: int, answers: HelpAsked) -> None:
    answer_help(database, call_id, answers, AREA, now_page(database, call_id))


def test_can_we_help_follows_the_safety_questions_and_comes_before_the_signs(
    database: Database,
) -> None:
    call_id = call_for_visit(database, ended=False)
    before = step_of(database, find_call(database, call_id))

    asked(database, call_id, HelpAsked())

    assert before is CallStep.HELP
    assert step_of(database, find_call(database, call_id)) is CallStep.SIGNS


def test_call_in_which_something_was_asked_does_not_go_back_to_can_we_help(
    database: Database,
) -> None:
    call_id = call_for_visit(database, ended=False)

    skip_question(database, call_id, "asks_age", now_page(database, call_id))

    assert step_of(database, find_call(database, call_id)) is CallStep.QUESTIONS


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        (HelpAsked(place="606 14"), ()),
        (HelpAsked(place="mill end"), ()),
        (HelpAsked(place="70114"), (OUT_OF_AREA,)),
        (HelpAsked(), ()),
        (HelpAsked(warranty="yes"), (UNDER_WARRANTY,)),
        (HelpAsked(warranty="no"), ()),
        (HelpAsked(place="70114", warranty="yes"), (OUT_OF_AREA, UNDER_WARRANTY)),
    ],
)
def test_place_and_warranty_decide_whether_the_caller_is_referred(
    database: Database, answers: HelpAsked, expected: tuple[object, ...]
) -> None:
    call_id = call_for_visit(database, ended=False)

    asked(database, call_id, answers)

    state = find_call(database, call_id)
    assert refusals(state) == expected
    assert step_of(database, state) is (CallStep.REFUSE if expected else CallStep.SIGNS)


def test_shop_without_a_service_area_does_not_judge_the_place(database: Database) -> None:
    call_id = call_for_visit(database, ended=False)

    answer_help(
        database, call_id, HelpAsked(place="70114"), DEFAULT_DESK, now_page(database, call_id)
    )

    assert refusals(find_call(database, call_id)) == ()


def test_shop_may_help_all_the_same_and_says_why_until_asked_again(database: Database) -> None:
    call_id = call_for_visit(database, ended=False)
    asked(database, call_id, HelpAsked(warranty="yes"))

    help_anyway(database, call_id, " maker declined ", now_page(database, call_id))

    state = find_call(database, call_id)
    assert step_of(database, state) is CallStep.SIGNS
    assert any("maker declined" in line for line in notes_for_technician(state))
    asked(database, call_id, HelpAsked(warranty="yes"))
    assert step_of(database, find_call(database, call_id)) is CallStep.REFUSE


def test_access_and_tenant_go_to_the_job_sheet_and_to_what_the_caller_prepares(
    database: Database,
) -> None:
    call_id = call_for_visit(database, ended=False)
    answers = HelpAsked(
        holder="tenant", pays="landlord", access=["shut_off_far", "stacked", "nowhere"]
    )

    asked(database, call_id, answers)

    state = find_call(database, call_id)
    assert [note.id for note in access_notes(state)] == ["stacked", "shut_off_far"]
    assert notes_for_technician(state)[-1] == (
        "The caller is a tenant. Who pays: landlord. Who lets in: nobody named yet."
    )


def test_answers_sent_twice_are_recorded_once(database: Database) -> None:
    call_id = call_for_visit(database, ended=False)
    entry = now_page(database, call_id)
    answers = HelpAsked(warranty="no", access=["stacked"])

    for _ in range(2):
        answer_help(database, call_id, answers, AREA, entry)

    assert find_call(database, call_id).version == entry.submission.shown_version + 1


def test_call_back_verdict_is_recorded_with_the_answers(database: Database) -> None:
    call_id = call_for_visit(database, ended=False)
    judged = CallbackJudged(1, "same")

    answer_help(database, call_id, HelpAsked(), AREA, now_page(database, call_id), callback=judged)

    assert find_call(database, call_id).callback == judged
    assert help_asked(database, call_id, AREA, MONDAY_SIX).history.jobs == ()


def test_note_is_kept_with_author_also_after_the_call(database: Database) -> None:
    call_id = call_for_visit(database)

    take_note(database, call_id, " dog in the yard ", now_page(database, call_id))

    (note,) = find_call(database, call_id).notes
    assert (note.text, note.by, note.at) == ("dog in the yard", "ana", MONDAY_SIX)


def test_note_from_an_old_page_is_refused_and_what_changed_is_told(database: Database) -> None:
    call_id = call_for_visit(database, ended=False)
    old = find_call(database, call_id).version
    answer_question(database, call_id, "asks_age", "over_12", page(old, by="ben"))
    skip_question(database, call_id, "says_no_heat", page(old + 1, by="ben"))

    with pytest.raises(StaleCallError):
        take_note(database, call_id, "x", page(old))

    changes = changes_since(database, call_id, old, Units.US)
    assert [change.what for change in changes] == [
        "How old: Over 12 years",
        "Question skipped: Turns but no heat",
    ]
    assert {change.by for change in changes} == {"ben"}


def test_every_event_of_a_call_is_told_in_words(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database, ended=False)
    asked(database, call_id, HelpAsked())
    booked(database, van, local(3, 10), call_id=call_id)

    told = [change.what for change in changes_since(database, call_id, 0, Units.US)]

    assert told == [
        "Call opened",
        "Safety questions answered",
        "“Can we help” answered",
        "Call ended: visit",
        "Visit booked",
    ]


def place_of(database: Database, call_id: int) -> CallPlace:
    later = MONDAY_SIX + timedelta(days=9)
    return {one.state.call_id: one.place for one in desk_calls(database, since=later)}[call_id]


def test_call_moves_through_the_lists_of_the_desk(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database, ended=False)
    places = [place_of(database, call_id)]
    end_call(database, call_id, CallOutcome.VISIT, "", now_page(database, call_id))
    places.append(place_of(database, call_id))
    visit = booked(database, van, local(3, 10), call_id=call_id)
    places.append(place_of(database, call_id))
    cancel_visit(database, visit, "ill", now_page(database, call_id))
    places.append(place_of(database, call_id))

    assert places == [CallPlace.OPEN, CallPlace.TO_BOOK, CallPlace.BOOKED, CallPlace.TO_BOOK]


def test_call_waits_for_its_part_until_it_has_come(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    visit = booked(database, van, local(3, 10), call_id=call_id)
    with database.writing() as session:
        change_visit(session, visit, at=MONDAY_SIX, state=DONE)
        draft = as_draft(PartOrdered("igniter", MONDAY_SIX.date()))
        submission = Submission("site", find_call(database, call_id).version)
        add_events(session, call_id, [draft], submission, at=MONDAY_SIX, by="t", is_open=False)
    waiting = place_of(database, call_id)
    with database.writing() as session:
        submission = Submission("site 2", find_call(database, call_id).version)
        draft = as_draft(PartArrived("igniter"))
        add_events(session, call_id, [draft], submission, at=MONDAY_SIX, by="t", is_open=False)

    assert waiting is CallPlace.PART_AWAITED
    assert place_of(database, call_id) is not CallPlace.PART_AWAITED


def test_who_entered_something_last_is_known(database: Database) -> None:
    report = CallReport(network_id="gas_dryer", caller="A", words="cold")
    call_id = open_call(database, report, page(by="ben"))

    state = find_call(database, call_id)

    assert (state.last_by, state.last_at) == ("ben", MONDAY_SIX)


def test_settings_of_the_desk_are_read_from_their_section() -> None:
    text = """
desk:
  service_area: ["606", Mill End]
  opening_hours:
    saturday: ["13:00-16:00", "09:00-12:00"]
  window_minutes: 180
  phone_region: GB
"""

    settings = desk_settings(text)

    assert settings.service_area == ("606", "Mill End")
    assert [span.opens.hour for span in settings.opening_hours[5]] == [9, 13]
    assert set(settings.opening_hours) == {5}
    assert (settings.window_minutes, settings.travel_minutes) == (180, DEFAULT_DESK.travel_minutes)
    assert settings.phone_region == "GB"


@pytest.mark.parametrize("text", ["", "costs: {}", "currency: USD"])
def test_settings_without_a_desk_have_the_defaults(text: str) -> None:
    assert desk_settings(text) == DEFAULT_DESK


def test_every_problem_of_the_desk_is_told_with_its_line() -> None:
    text = """desk:
  opening_hours:
    monday: ["8 to 5"]
    tuesday: ["17:00-08:00"]
  service_aera: [x]
  window_minutes: 3
  phone_region: usa
"""

    with pytest.raises(SettingsFileError) as raised:
        desk_settings(text, "shop.yaml")

    assert [problem.split(": ")[0] for problem in raised.value.problems] == [
        f"shop.yaml:{line}" for line in (3, 4, 5, 6, 7)
    ]
    assert 'Did you mean "service_area"?' in str(raised.value)
    assert check_desk(text)[0] == DEFAULT_DESK
    assert set(raised.value.problems) <= set(check_settings_text(text, place="shop.yaml").problems)
