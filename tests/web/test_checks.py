"""Claims about the checks on site, through the test client and without JavaScript.

What a calculator answers is tested with the calculators; here, that the page says it.
"""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.web.page import Page, Visitor
from triage.services.calculations import ChoiceInput, calculator, calculators

pytestmark = pytest.mark.one_engine

CHECKS = [entry.id for entry in calculators()]
# Numbers that each calculator can work with; what it needs and has no default for.
NEEDED = {
    "dryer_duct": {},
    "standpipe": {"trap": "8", "top": "36"},
    "fill_time": {"flow": "3"},
    "supply_voltage": {"reading": "118"},
    "heating_element": {"rated_power": "5000"},
    "thermistor": {"temperature": "70"},
    "capacitor": {"mark": "40"},
}


def result(page: Page) -> str:
    return page.root.all("section", aria_labelledby="result")[0].text


def test_check_list_leads_to_every_calculator(visitor: Visitor) -> None:
    page = visitor.open("/checks")

    assert {f"/checks/{name}" for name in CHECKS} <= set(page.links())


@pytest.mark.parametrize("name", CHECKS)
def test_form_asks_for_every_input_and_names_the_source(visitor: Visitor, name: str) -> None:
    page = visitor.open(f"/checks/{name}")

    form = page.forms(name)[0]
    sent = {one.attributes["name"] for one in form.all("input")}
    assert sent == {entry.id for entry in calculator(name).inputs}
    assert calculator(name).source in page.text
    assert not page.root.all("section", aria_labelledby="result")


@pytest.mark.parametrize("name", CHECKS)
def test_answer_shows_every_line_and_what_was_entered(visitor: Visitor, name: str) -> None:
    page = visitor.send(visitor.open(f"/checks/{name}"), NEEDED[name], action=name)

    assert page.status == 200
    assert page.root.all("dt")
    for entry in calculator(name).inputs:
        if isinstance(entry, ChoiceInput):
            assert f"{entry.label} {entry.choices[entry.default]}" in result(page)


# 22.5 ft is 35 ft less two elbows of 5 ft and one of 2.5 ft, as docs/calculators.md works it out;
# 30 ft is 7.5 ft more.
@pytest.mark.parametrize(
    ("length", "judgement"),
    [("18 ft 6 in", "✓ Good. The duct"), ("30", "✗ Not good. The duct is 7.5 ft too long")],
)
def test_judgement_is_said_in_words(visitor: Visitor, length: str, judgement: str) -> None:
    entries = {"elbows_4in_90": "2", "elbows_4in_45": "1", "length": length}

    page = visitor.send(visitor.open("/checks/dryer_duct"), entries, action="dryer_duct")

    assert judgement in result(page)
    assert "Longest duct allowed 22.5 ft (6.858 m)" in result(page)


def test_borderline_is_said_in_words(visitor: Visitor) -> None:
    page = visitor.open("/checks/supply_voltage?reading=104")

    assert "! Borderline." in result(page)


def test_answer_without_a_limit_judges_nothing(visitor: Visitor) -> None:
    page = visitor.open("/checks/dryer_duct?length=")

    assert not {"Good.", "Borderline.", "Not good."} & set(result(page).split())


@pytest.mark.parametrize(
    ("query", "field", "sentence"),
    [
        ("standpipe?trap=&top=36", "trap", "Enter trap above the floor: a number from"),
        ("standpipe?trap=eight&top=36", "trap", "Trap above the floor must be a number from"),
        ("standpipe?trap=8&top=36000", "top", "must be a number from"),
        ("standpipe?trap=8&top=36&code=none", "code", "Choose plumbing code"),
        ("dryer_duct?elbows_4in_90=1.5", "elbows_4in_90", "must be a whole number from 0 to 20"),
        ("dryer_duct?rule=maker", "maker_length", "Enter longest duct by the maker's sheet: the"),
        (f"standpipe?trap={'9' * 5000}&top=36", "trap", "must be 40 characters or fewer"),
    ],
)
def test_wrong_entry_says_what_to_do_at_its_field(
    visitor: Visitor, query: str, field: str, sentence: str
) -> None:
    page = visitor.open(f"/checks/{query}")

    assert page.status == 200
    assert f"#in-{field}" in page.links()
    assert sentence in page.root.all("p", class_="error")[0].text
    assert not page.root.all("section", aria_labelledby="result")


def test_entries_that_nobody_asks_for_are_ignored(visitor: Visitor) -> None:
    page = visitor.open("/checks/standpipe?trap=8&top=36&colour=blue")

    assert "✓ Good." in result(page)


@pytest.mark.parametrize("name", ["toaster", "dryer_duct.html", "..", "None"])
def test_check_that_does_not_exist_says_choose_from_the_list(visitor: Visitor, name: str) -> None:
    page = visitor.open(f"/checks/{name}")

    assert page.status == 404


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(name=st.sampled_from(CHECKS), texts=st.lists(st.text(max_size=50), min_size=12, max_size=12))
def test_any_entry_gives_a_page(visitor: Visitor, name: str, texts: list[str]) -> None:
    entries = dict(zip((entry.id for entry in calculator(name).inputs), texts, strict=False))

    response = visitor.client.get(f"/checks/{name}", query_string=entries)

    assert response.status_code == 200


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    name=st.sampled_from(CHECKS),
    numbers=st.lists(st.integers(-5, 500).map(str), min_size=12, max_size=12),
)
def test_any_numbers_give_a_page(visitor: Visitor, name: str, numbers: list[str]) -> None:
    inputs = [entry.id for entry in calculator(name).inputs if entry.kind == "number"]

    page = visitor.open(
        f"/checks/{name}?" + "&".join(map("=".join, zip(inputs, numbers, strict=False)))
    )

    assert page.status == 200
