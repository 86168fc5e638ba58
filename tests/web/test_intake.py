"""Claims about the pages of a call, through the test client and without JavaScript."""

import re
from contextlib import closing
from pathlib import Path

import pytest

from tests.web.conftest import make_app, signed_in_visitor
from tests.web.page import Page, Visitor
from tests.web.taking_calls import (
    WASHER,
    answer_number,
    answer_safety,
    begin,
    causes,
    flags,
    question,
    to_questions,
    to_signs,
)
from triage.services.networks.engines import network_choices
from webform.desk import EXTENSION


def test_call_list_without_calls_leads_to_a_new_one(visitor: Visitor) -> None:
    page = visitor.open("/")

    assert page.heading == "Calls"
    assert "/calls/new" in page.links()


def test_new_call_leads_to_the_safety_questions(visitor: Visitor) -> None:
    page = begin(visitor)

    assert page.heading == "Safety questions"
    assert len(flags(page)) >= 5


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"caller": "", "words": "hums"}, "Enter the caller's name or a note"),
        ({"caller": "x", "words": "  "}, "Enter what the caller says"),
        ({"caller": "x", "words": "w" * 2001}, "must be 2000 characters or fewer"),
        ({"caller": "x" * 121, "words": "hums"}, "must be 120 characters or fewer"),
        ({"caller": "x", "words": "hums", "network": ""}, "Choose an appliance"),
        ({"caller": "x", "words": "hums", "network": "toaster"}, "Choose an appliance"),
    ],
)
def test_new_call_with_something_wrong_says_what_to_do(
    visitor: Visitor, values: dict[str, str], sentence: str
) -> None:
    page = visitor.send(visitor.open("/calls/new"), values)

    assert page.status == 200
    assert page.heading == "New call"
    assert sentence in page.text


def test_new_call_sent_twice_opens_one_call(visitor: Visitor) -> None:
    form = visitor.open("/calls/new")
    values = {"caller": "x", "network": WASHER, "words": "hums"}
    visitor.send(form, values)

    visitor.send(form, values)

    assert len(visitor.open("/").root.all("a", class_="call-line")) == 1


def test_words_that_name_a_danger_raise_its_question(visitor: Visitor) -> None:
    page = begin(visitor, "I smell gas near the washer")

    raised = [box.attributes["name"] for box in page.root.all("input", checked="")]
    assert raised == ["flag_gas_smell"]
    assert "Raised by the caller's words" in page.text


def test_safety_question_left_open_is_named_and_nothing_is_ranked(visitor: Visitor) -> None:
    page = begin(visitor)
    name = flags(page)[-1]

    answered = visitor.send(page, {one: "no" for one in flags(page) if one != name})

    assert answered.heading == "Safety questions"
    assert "Choose yes or no" in answered.text
    assert f"#{name}" in answered.links()
    assert visitor.open("/calls/1/questions").status == 409


@pytest.mark.parametrize("page", ["questions", "signs", "plan"])
@pytest.mark.parametrize("dangers", [None, ["gas_smell"], ["shock_or_tingle"], ["flooding"]])
def test_safety_cannot_be_skipped_by_address(
    visitor: Visitor, page: str, dangers: list[str] | None
) -> None:
    first = begin(visitor)
    if dangers is not None:
        answer_safety(visitor, first, dangers)

    refused = visitor.open(f"/calls/1/{page}")

    assert (refused.status, refused.heading) == (409, "Safety first")
    assert "No causes are ranked yet" in refused.text
    assert not refused.root.all("ol", class_="causes")


@pytest.mark.parametrize("danger", ["gas_smell", "shock_or_tingle"])
def test_stopping_danger_shows_what_to_say_and_ends_the_call(visitor: Visitor, danger: str) -> None:
    page = answer_safety(visitor, begin(visitor), [danger])

    assert page.root.all("blockquote")
    assert "This call has ended here" in page.text
    assert page.forms() == []
    assert "Stopped: danger" in visitor.open("/").text


def test_stopping_danger_does_not_wait_for_the_other_answers(visitor: Visitor) -> None:
    page = visitor.send(begin(visitor), {"flag_gas_smell": "yes"})

    assert page.heading == "Everyone out, and call for help"


def test_stopped_call_can_be_begun_anew_with_its_words(visitor: Visitor) -> None:
    page = answer_safety(visitor, begin(visitor, caller="Blue door"), ["gas_smell"])
    again = next(link for link in page.links() if "again=" in link)

    new = visitor.send(visitor.open(again), {})

    assert new.path == "/calls/2/safety"
    assert "swimming" in new.text


def test_danger_that_can_be_made_safe_waits_for_a_name(visitor: Visitor) -> None:
    page = answer_safety(visitor, begin(visitor), ["flooding"])
    assert page.heading == "Make it safe first, then go on"
    nameless = visitor.send(page, {"name": " "})
    assert "Enter the name of the person who confirms it" in nameless.text

    page = visitor.send(nameless, {"name": "The caller's son"})

    assert page.heading == "Can we help?"
    assert "The caller's son" in visitor.open("/calls/1/danger").text


def test_call_waiting_to_be_made_safe_is_resumed_from_the_list(visitor: Visitor) -> None:
    answer_safety(visitor, begin(visitor), ["flooding"])
    line = visitor.open("/").root.all("a", class_="call-line")[0]

    page = visitor.open(line.attributes["href"])

    assert "Waiting until it is made safe" in line.text
    assert page.heading == "Make it safe first, then go on"


def test_suggested_signs_are_offered_and_not_ticked(visitor: Visitor) -> None:
    page = to_signs(visitor)

    suggested = page.root.all("fieldset")[0]
    assert "Water left in it" in suggested.text
    assert suggested.all("input", checked="") == []


def test_words_that_match_nothing_say_so(visitor: Visitor) -> None:
    page = to_signs(visitor, "purple elephants")

    assert "The words match no sign" in page.text
    assert len(page.root.all("input", type="checkbox")) > 20


def test_ticked_sign_counts_as_said_unasked(visitor: Visitor) -> None:
    page = to_questions(visitor)

    answers = page.root.all("ul", class_="given-answers")[0]
    assert answers.text.startswith("Water left in it: said unasked")
    assert re.match(r"1\. \S.* \d+ %$", causes(page)[0])


def test_answer_is_recorded_and_the_causes_are_ranked_anew(visitor: Visitor) -> None:
    before = to_questions(visitor)

    after = answer_number(visitor, before, "1")

    assert question(after) != question(before)
    assert causes(after) != causes(before)
    assert re.search(r"(up|down) from", after.text)


def test_dont_know_leaves_the_causes_as_they_are(visitor: Visitor) -> None:
    before = to_questions(visitor)

    after = answer_number(visitor, before, "0")

    assert causes(after) == causes(before)
    assert question(after) != question(before)
    assert "don't know" in after.text


def test_answer_sent_twice_is_recorded_once(visitor: Visitor) -> None:
    page = to_questions(visitor)
    first = answer_number(visitor, page, "1")

    second = answer_number(visitor, page, "1")

    assert (second.status, second.text) == (200, first.text)


def test_other_answer_from_an_old_page_is_refused_with_the_way_on(visitor: Visitor) -> None:
    page = to_questions(visitor)
    answer_number(visitor, page, "1")

    refused = answer_number(visitor, page, "2")

    assert (refused.status, refused.heading) == (409, "Not recorded")
    assert "Nothing was overwritten" in refused.text
    assert "/calls/1" in refused.links()


def test_answers_that_hardly_go_together_raise_a_warning(visitor: Visitor) -> None:
    page = to_signs(visitor)
    at_odds = ["says_oil_marks", "says_fills_when_idle", "says_bangs", "says_no_start"]

    after = visitor.send(page, {"observations": at_odds})

    assert "Check the answers." in after.text
    assert "The one that fits least is" in after.text


def test_skipped_question_is_not_proposed_again(visitor: Visitor) -> None:
    page = to_questions(visitor)

    after = visitor.send(page, {}, action="/skip")

    assert question(after) != question(page)
    assert "skipped" in after.text
    assert causes(after) == causes(page)


def test_answer_can_be_changed(visitor: Visitor) -> None:
    page = answer_number(visitor, to_questions(visitor), "1")
    before = causes(page)
    change = [link for link in page.root.all("a") if link.text.startswith("Change")][-1]
    asked = visitor.open(change.attributes["href"])
    assert "(present answer)" in asked.text

    after = answer_number(visitor, asked, "2")

    assert causes(after) != before
    assert len(after.forms("/undo")) == len(page.forms("/undo"))


def test_answer_taken_back_restores_the_causes(visitor: Visitor) -> None:
    before = to_questions(visitor)
    page = answer_number(visitor, before, "1")

    after = visitor.send(page, {}, action="/undo", number=1)

    assert causes(after) == causes(before)
    assert question(after) == question(before)


def test_any_question_can_be_asked_instead(visitor: Visitor) -> None:
    page = to_questions(visitor)
    other = next(link for link in page.links() if "ask=asks_age" in link)

    asked = visitor.open(other)

    assert "How old" in asked.text
    assert "Back to the best question" in asked.text


def test_plan_shows_outcome_tests_and_parts(visitor: Visitor) -> None:
    to_questions(visitor)

    page = visitor.open("/calls/1/plan")

    assert page.heading == "Visit plan for call 1"
    headings = [heading.text for heading in page.root.all("h2")]
    assert {"Parts to load", "Tests in order"} <= set(headings)
    assert "Good is" in page.text
    assert "Drain pump" in page.text


def test_plan_with_branches_tells_steps_lists_checks_and_picture(visitor: Visitor) -> None:
    to_questions(visitor)
    plan = visitor.open("/calls/1/plan")
    first = plan.root.all("ol", class_="tests")[0].all("h3")[0].text

    page = visitor.open("/calls/1/plan/branches")

    assert "Plan with branches" in plan.text
    assert page.heading == "Plan with branches for call 1"
    lines = page.root.all("p", class_="plan-title")
    assert len(lines) > 20
    assert first.startswith(lines[0].text.removesuffix(" do now"))
    assert "Check and repair in this order" in page.text
    assert "Checks of the lists" in page.text
    assert "Still not right after a repair: look at the repair first" in page.text
    assert re.search(r"Step by step for \d+ % of such visits", page.text)
    assert page.root.all("svg")


def test_plan_says_what_each_result_of_a_test_leads_to(visitor: Visitor) -> None:
    to_questions(visitor)

    page = visitor.open("/calls/1/plan")

    tables = page.root.all("table", class_="plain results")
    titles = [heading.text for heading in page.root.all("h3")]
    leads_on = [table.all("tr", class_="leads-on") for table in tables]
    assert len(tables) == len(titles) > 1
    for table in tables:
        assert all(
            re.search(r"(test( \d)?|repair|ahead): ", row.text) for row in table.all("tr")[1:]
        )
    assert all(leads_on[:-1])
    assert not leads_on[-1]
    for number, rows in enumerate(leads_on[:-1], start=2):
        assert all(f"↓ test {number}: " in row.text for row in rows)


def test_enough_asked_is_said_beside_the_question(visitor: Visitor) -> None:
    # The caller has named ten signs; after so many, a minute of theirs is dear.
    page = to_signs(visitor)
    names = "asks_backs_up says_water_left says_takes_hours says_stops_part_way says_oil_marks"
    more = "says_leaks_draining says_no_spin says_fills_then_sits says_grinds_at_start"
    signs = [*names.split(), *more.split(), "says_drive_hums"]

    after = visitor.send(page, {"observations": signs})

    assert "Enough asked" in after.text
    assert "Enough asked" not in to_questions(visitor).text


@pytest.mark.parametrize("network", [name for name, _ in network_choices()])
def test_every_appliance_is_taken_from_words_to_plan(visitor: Visitor, network: str) -> None:
    form = visitor.open("/calls/new")
    values = {"caller": "x", "network": network, "words": "it is completely dead"}
    signs = answer_safety(visitor, visitor.send(form, values))
    ticked = signs.root.all("input", type="checkbox")[0].attributes["value"]

    page = answer_number(visitor, visitor.send(signs, {"observations": [ticked]}), "1")

    assert len(causes(page)) > 3
    assert visitor.open("/calls/1/plan").heading == "Visit plan for call 1"


def test_call_is_ended_with_an_outcome_and_opened_again(visitor: Visitor) -> None:
    to_questions(visitor)
    form = visitor.open("/calls/1/end?outcome=visit")
    booking = visitor.send(form, {"note": "Thursday morning"})
    assert booking.heading == "Book a visit for call 1"
    assert "Visit to be booked" in visitor.open("/").text

    ended = visitor.open("/calls/1")
    reopened = visitor.send(ended, {}, action="/reopen")

    assert "This call ended: Visit. Thursday morning" in ended.text
    assert reopened.forms("/answer")


def test_call_ends_only_with_an_outcome(visitor: Visitor) -> None:
    to_questions(visitor)

    page = visitor.send(visitor.open("/calls/1/end"), {"note": "n" * 501})

    assert page.heading == "End the call"
    assert "Choose how the call ended" in page.text
    assert "must be 500 characters or fewer" in page.text


def test_before_the_safety_answers_a_visit_cannot_be_recorded(visitor: Visitor) -> None:
    begin(visitor)
    form = visitor.open("/calls/1/end")

    page = visitor.send(form, {"outcome": "visit"})

    assert "Choose how the call ended" in page.text


def test_call_goes_on_after_a_restart(
    visitor: Visitor, tmp_path: Path, database_address: str
) -> None:
    page = answer_number(visitor, to_questions(visitor), "1")

    again = make_app(tmp_path / "data", database_address)

    with closing(again.extensions[EXTENSION].database):
        restarted = signed_in_visitor(again)
        assert causes(restarted.open("/calls/1")) == causes(page)


@pytest.mark.parametrize(
    ("action", "values"),
    [
        ("/answer", {"answer": "perhaps"}),
        ("/answer", {"answer": ""}),
        ("/answer", {"answer": "yes", "observation": "says_nothing"}),
        ("/answer", {"answer": "yes", "shown_version": "many"}),
        ("/answer", {"answer": "yes", "client_id": "'; drop table calls"}),
        ("/skip", {"observation": "says_nothing"}),
        ("/skip", {"observation": ""}),
        ("/undo", {"shown_version": ""}),
    ],
)
def test_tampered_button_gives_a_page_and_records_nothing(
    visitor: Visitor, action: str, values: dict[str, str]
) -> None:
    before = to_questions(visitor)

    page = visitor.send(before, values, action=action)

    assert page.status in (400, 409)
    assert page.text
    assert visitor.open("/calls/1/questions").text == before.text


@pytest.mark.parametrize(
    "path",
    [
        "/calls/99",
        "/calls/99/safety",
        "/calls/99/questions",
        "/calls/99/end",
        "/calls/99999999999999999999",
        "/calls/new?again=99",
        "/calls/none",
        "/nowhere",
    ],
)
def test_address_without_a_call_says_choose_from_the_list(visitor: Visitor, path: str) -> None:
    page = visitor.open(path)

    assert page.status == 404
    assert "from the list" in page.text


def test_question_the_network_does_not_have_gives_a_page(visitor: Visitor) -> None:
    to_questions(visitor)

    page: Page = visitor.open("/calls/1/questions?ask=says_nothing")

    assert page.status == 400
