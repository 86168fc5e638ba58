"""Claims about "can we help", customers, notes and the lists of calls, through the test client."""

from datetime import timedelta

import pytest
from flask import Flask

from tests.triage.desk.test_customers import closed
from tests.web.conftest import NINE, VisitorAs
from tests.web.page import Page, Visitor
from tests.web.taking_calls import begin, flags, to_questions
from triage.services.booking.in_force import desk_settings_of
from triage.services.calls.calls import Database, find_call
from triage.services.people.audit import Stamp
from triage.store.shop import StoredSettings, add_settings
from webform.desk import EXTENSION

AREA = "desk:\n  service_area: [Mill End]\n"
WHO = {
    "name": "Zoë Åström",
    "phone": "(202) 555-0143",
    "street": "Heron Lane 4",
    "town": "Mill End",
}


def database_of(app: Flask) -> Database:
    database: Database = app.extensions[EXTENSION].database
    return database


def with_area(app: Flask) -> None:
    """The shop goes to Mill End only."""
    stamp = Stamp(NINE, "a test")
    with database_of(app).writing() as session:
        version = StoredSettings(version=1, text=AREA, at=stamp.at, by=stamp.by, reason="")
        add_settings(session, version)
    assert desk_settings_of(database_of(app)).service_area == ("Mill End",)


def to_help(visitor: Visitor) -> Page:
    """A call whose safety questions were answered; the page "can we help"."""
    page = begin(visitor)
    return visitor.send(page, dict.fromkeys(flags(page), "no"))


def on_record(visitor: Visitor) -> Page:
    """The caller of call 1 and the machine put on record; the page "who is calling"."""
    to_help(visitor)
    page = visitor.open("/calls/1/customer")
    return visitor.send(page, {**WHO, "drive": "belt", "bought_year": "2012"}, action="/new")


def test_page_asks_no_place_where_no_area_is_set(visitor: Visitor) -> None:
    page = to_help(visitor)

    assert page.heading == "Can we help?"
    assert not page.root.all("input", name="place")


def test_nothing_has_to_be_answered_to_go_on(visitor: Visitor) -> None:
    page = visitor.send(to_help(visitor), {})

    assert page.heading == "What the caller said"


def test_caller_outside_the_area_and_under_warranty_is_referred_with_words(
    app: Flask, visitor: Visitor
) -> None:
    with_area(app)

    page = visitor.send(to_help(visitor), {"place": "Far Away", "warranty": "yes"})

    assert page.heading == "Refer the caller: not one for us"
    assert [one.text for one in page.root.all("h2")] == [
        "Outside the service area",
        "Under the maker's warranty",
    ]
    assert len(page.root.all("blockquote")) == 2
    listed = visitor.send(page, {}, action="/end")
    assert "Referred to someone else" in listed.text
    assert "Outside the service area; Under the maker's warranty" in visitor.open("/calls/1").text


def test_shop_helps_all_the_same_with_a_reason(visitor: Visitor) -> None:
    page = visitor.send(to_help(visitor), {"warranty": "yes"})
    nameless = visitor.send(page, {"reason": " "}, action="/refuse")
    assert "Enter why we help all the same" in nameless.text

    page = visitor.send(nameless, {"reason": "maker declined"}, action="/refuse")

    assert page.heading == "What the caller said"


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"pays": "x" * 101}, "Who pays must be 100 characters or fewer"),
        ({"lets_in": "x" * 101}, "Who lets the technician in must be 100 characters or fewer"),
        ({"place": "x" * 101}, "The postcode or town must be 100 characters or fewer"),
    ],
)
def test_text_that_is_too_long_is_said(
    app: Flask, visitor: Visitor, values: dict[str, str], sentence: str
) -> None:
    with_area(app)

    page = visitor.send(to_help(visitor), values)

    assert page.heading == "Can we help?"
    assert sentence in page.text


@pytest.mark.parametrize("values", [{"warranty": "perhaps"}, {"holder": "x"}, {"access": "moon"}])
def test_answer_that_is_not_on_the_list_is_not_an_answer(
    app: Flask, visitor: Visitor, values: dict[str, str]
) -> None:
    visitor.send(to_help(visitor), values)

    answers = find_call(database_of(app), 1).help
    assert answers is not None
    assert (answers.warranty, answers.holder, list(answers.access)) == ("", "", [])


def test_answers_are_shown_again_when_the_page_is_opened_again(visitor: Visitor) -> None:
    visitor.send(to_help(visitor), {"warranty": "no", "holder": "tenant", "access": ["stacked"]})

    page = visitor.open("/calls/1/help")

    ticked = {one.attributes["value"] for one in page.root.all("input", checked="")}
    assert ticked == {"no", "tenant", "stacked"}


def test_caller_is_put_on_record_and_the_machine_tells_its_age(visitor: Visitor) -> None:
    page = on_record(visitor)

    assert "On record: Zoë Åström" in page.text
    assert "(202) 555-0143" in page.text
    visitor.open("/calls/1/signs")
    answers = visitor.open("/calls/1/questions").root.all("ul", class_="given-answers")[0].text
    assert "How old: Over 12 years" in answers


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"name": " "}, "Enter the name"),
        ({"name": "x" * 201}, "The name must be 200 characters or fewer"),
        ({"bought_year": "last year"}, "Year bought must have four digits"),
        ({"phone": "1" * 61}, "The phone number must be 60 characters or fewer"),
    ],
)
def test_new_customer_with_something_wrong_says_what_to_do(
    visitor: Visitor, values: dict[str, str], sentence: str
) -> None:
    to_help(visitor)
    page = visitor.open("/calls/1/customer")

    page = visitor.send(page, {**WHO, **values}, action="/new")

    assert page.heading == "Who is calling"
    assert sentence in page.text


def test_odd_number_is_kept_and_warned_about(visitor: Visitor) -> None:
    to_help(visitor)
    page = visitor.open("/calls/1/customer")

    page = visitor.send(page, {**WHO, "phone": "ask next door"}, action="/new")

    assert "ask next door" in page.text
    assert "does not read as a phone number" in page.text


def test_returning_caller_is_found_and_begins_a_call_with_the_machine(visitor: Visitor) -> None:
    on_record(visitor)
    found = visitor.open("/calls/new?q=astrom")
    link = next(one for one in found.root.all("a") if "Top-load washer" in one.text)

    page = visitor.open(link.attributes["href"])

    assert "On record: Zoë Åström" in page.text
    second = visitor.send(page, {"words": "hums again"})
    assert second.path == "/calls/2/safety"
    assert "Customer on record" in second.text


def test_search_that_finds_nobody_says_so(visitor: Visitor) -> None:
    on_record(visitor)

    assert "Nobody on record matches “smith”" in visitor.open("/calls/new?q=smith").text
    assert "Nobody on record matches “smith”" in visitor.open("/customers?q=smith").text
    assert "No call matches “smith”" in visitor.open("/?q=smith").text


def test_customer_of_a_running_call_is_chosen_from_those_found(visitor: Visitor) -> None:
    on_record(visitor)
    begin(visitor, caller="She again")
    page = visitor.open("/calls/2/customer?q=555+0143")
    nobody = visitor.send(page, {}, action="q=555+0143")
    assert "Choose who is calling" in nobody.text

    visitor.send(nobody, {"who": "1 1"}, action="q=555+0143")

    assert "On record: Zoë Åström" in visitor.open("/calls/2/customer").text


@pytest.mark.parametrize("who", ["1 9", "9 0", "one two", "1", "999999999999 0"])
def test_customer_that_there_is_not_gives_a_page(visitor: Visitor, who: str) -> None:
    on_record(visitor)
    page = visitor.open("/calls/1/customer?q=astrom")

    refused = visitor.send(page, {"who": who}, action="q=astrom")

    assert refused.status in (200, 404)
    assert (
        "Choose who is calling" in refused.text
        or "Search by name" in refused.text
        or ("Choose one of the customer's machines" in refused.text)
    )


def test_recent_repair_asks_whether_it_is_a_call_back(app: Flask, visitor: Visitor) -> None:
    on_record(visitor)
    closed(database_of(app), 1, days_ago=12)
    page = visitor.send(
        visitor.open("/calls/new?customer=1&machine=1"), {"words": "It will not drain"}
    )

    page = visitor.send(page, dict.fromkeys(flags(page), "no"))

    assert "May be a call-back." in page.text
    visitor.send(page, {"callback": "same"})
    judged = find_call(database_of(app), 2).callback
    assert judged is not None
    assert (judged.call_id, judged.verdict) == (1, "same")


def test_second_machine_opens_a_linked_call(visitor: Visitor) -> None:
    on_record(visitor)
    page = visitor.open("/calls/new?linked=1")
    assert "Second call of the caller of call 1" in page.text

    visitor.send(page, {"network": "gas_dryer", "words": "and the dryer is cold"})

    assert "Linked call 2" in visitor.open("/calls/1/signs").text
    assert "Linked call 1" in visitor.open("/calls/2/safety").text


def test_note_is_taken_and_shown_with_its_author(visitor_as: VisitorAs) -> None:
    visitor = visitor_as("dispatcher")
    to_questions(visitor)
    page = visitor.open("/calls/1/note")
    assert "Enter the note" in visitor.send(page, {"text": " "}).text

    page = visitor.send(page, {"text": "Ring twice"})

    assert "Ring twice" in page.text
    assert "Ivo Brandt" in page.text
    assert "Ring twice" in visitor.open("/calls/1/signs").text


def test_second_of_two_sees_what_changed_by_whom_and_keeps_what_was_typed(
    visitor_as: VisitorAs,
) -> None:
    first, second = visitor_as("dispatcher"), visitor_as("owner")
    to_questions(first)
    old = second.open("/calls/1/note")
    first.send(first.open("/calls/1/note"), {"text": "Ring twice"})

    refused = second.send(old, {"text": "Beware of the dog"})

    assert (refused.status, refused.heading) == (409, "Not recorded")
    assert "Nothing was overwritten" in refused.text
    row = refused.root.all("tbody")[0].text
    assert row == "Note: Ring twice Ivo Brandt 09:00"
    assert "Beware of the dog" in refused.text
    kept = second.send(refused, {}, action="/note")
    assert "Ring twice" in kept.text
    assert "Beware of the dog" in kept.text


def test_list_says_who_is_at_a_call(visitor_as: VisitorAs) -> None:
    begin(visitor_as("dispatcher"))

    owner = visitor_as("owner")
    line = owner.open("/").root.all("a", class_="call-line")[0]

    assert "Ivo Brandt, just now" in line.text
    said = "Ivo Brandt made the last entry of this call, just now."
    assert said in owner.open("/calls/1").text
    assert said not in visitor_as("dispatcher").open("/calls/1").text


def test_call_is_found_by_the_name_of_its_customer(visitor: Visitor) -> None:
    on_record(visitor)
    begin(visitor, caller="Somebody else")

    page = visitor.open("/?q=åström")

    lines = page.root.all("a", class_="call-line")
    assert [one.text.split(". ")[1][:10] for one in lines] == ["Zoë Åström"]


def test_customer_is_changed_and_an_old_page_is_refused(visitor: Visitor) -> None:
    on_record(visitor)
    page = visitor.open("/customers/1")
    visitor.send(page, {"town": "Larkham"})

    refused = visitor.send(page, {"town": "Elsewhere"})

    assert refused.status == 409
    assert "Larkham" in visitor.open("/customers?q=zoe").text
    assert "Enter the name" in visitor.send(visitor.open("/customers/1"), {"name": ""}).text


def test_machine_is_added_and_corrected(visitor: Visitor) -> None:
    on_record(visitor)
    new = visitor.open("/customers/1/machines/new")
    assert "Choose an appliance" in visitor.send(new, {"network": ""}).text

    visitor.send(new, {"network": "gas_dryer", "place": "cellar"})
    page = visitor.send(visitor.open("/customers/1/machines/2"), {"bought_year": "2020"})

    assert "Gas dryer (cellar, bought 2020)" in page.text
    assert visitor.open("/customers/1/machines/9").status == 404
    assert visitor.open("/customers/9").status == 404


def test_ended_call_leaves_the_list_of_the_next_day(app: Flask, visitor: Visitor) -> None:
    to_help(visitor)
    visitor.send(visitor.open("/calls/1/end"), {"outcome": "declined"})
    assert "Caller does not want" in visitor.open("/").text

    object.__setattr__(app.extensions[EXTENSION], "clock", lambda: NINE + timedelta(days=1))

    assert "No call has ended today" in visitor.open("/").text
