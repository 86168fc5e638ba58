"""Claims about what the API takes and refuses: fields, versions, ids, sizes; every refusal JSON."""

from typing import Any

import pytest
from flask import Flask

from tests.web.program import WASHER, opened, program, to_questions
from webform.api.paging import page_of

OPEN = {"client_id": "x", "network": WASHER, "caller": "Blue door"}


def mistakes(problem: Any) -> dict[str, str]:
    return {one["path"]: one["expected"] for one in problem["errors"]}


@pytest.mark.parametrize(
    ("wrong", "path", "got", "expected"),
    [
        ({"colour": "blue"}, "/colour", '"blue"', "no such field"),
        ({"caller": None}, "/caller", "null", "input should be a valid string"),
        ({"caller": " "}, "/caller", '" "', "string should match pattern"),
        ({"words": "a\x00b"}, "/words", '"a', "string should match pattern"),
        ({"words": "x" * 2001}, "/words", '"xxx', "at most 2000 characters"),
        ({"customer": "1"}, "/customer", '"1"', "input should be a valid integer"),
        ({"customer": 10**10}, "/customer", "10000000000", "less than or equal to 999999999"),
        ({"network": "toaster"}, "/network", '"toaster"', "expected one of electric_dryer"),
        ({"network": "/etc/x.yaml"}, "/network", '"/etc/x.yaml"', "should match pattern"),
        ({"client_id": "a b"}, "/client_id", '"a b"', "string should match pattern"),
    ],
)
def test_field_that_does_not_fit_is_named_with_what_was_got_and_expected(
    app: Flask, wrong: dict[str, Any], path: str, got: str, expected: str
) -> None:
    desk = program(app)

    problem = desk.refused("POST", "/calls", json=OPEN | wrong)

    assert (problem["status"], problem["title"]) == (422, "Unusable request")
    (found,) = problem["errors"]
    assert found["path"] == path
    assert found["got"].startswith(got)
    assert expected in found["expected"]
    assert desk.get("/calls")["count"] == 0


def test_every_mistake_is_told_at_once_and_a_missing_field_is_named(app: Flask) -> None:
    problem = program(app).refused("POST", "/calls", json={"network": 1, "colour": 2})

    assert set(mistakes(problem)) == {"/client_id", "/caller", "/network", "/colour"}
    assert mistakes(problem)["/caller"] == "a value: the field is needed"


@pytest.mark.parametrize(
    ("path", "mistake"),
    [
        ("/calls?colour=blue", "?colour"),
        ("/calls?page=0", "?page"),
        ("/calls?since=2026-03-02T09:00:00", "?since"),
        ("/closed-jobs?since=9999-12-31T23:59:59Z", "?since"),
        ("/visits?day=9999-12-31", "?day"),
        ("/visits?day=tomorrow", "?day"),
        ("/customers?q=%00", "?q"),
        ("/customers", "?q"),
        ("/problems?colour=blue", "?colour"),
    ],
)
def test_question_in_the_address_that_does_not_fit_is_named(
    app: Flask, path: str, mistake: str
) -> None:
    assert list(mistakes(program(app).refused("GET", path))) == [mistake]


def test_time_without_a_zone_or_far_from_our_days_is_refused(app: Flask) -> None:
    desk = program(app)
    body = {"client_id": "v", "shown_version": 2, "van": 1, "minutes": 60}
    opened(desk)

    for text in ("2026-03-02T09:00:00", "9999-12-31T23:59:59Z", "soon"):
        problem = desk.refused("POST", "/calls/1/visits", json=body | {"starts_at": text})
        assert list(mistakes(problem)) == ["/starts_at"]


def test_what_is_no_json_is_refused(app: Flask) -> None:
    desk = program(app)

    broken = desk.refused("POST", "/calls", data="{", content_type="application/json")
    form = desk.refused("POST", "/calls", data={"caller": "Blue door"})
    long = desk.refused("POST", "/calls", json=OPEN | {"words": "x" * 200_000})

    assert [one["status"] for one in (broken, form, long)] == [400, 415, 413]


def test_call_sent_twice_is_one_call(app: Flask) -> None:
    desk = program(app)

    first, again = opened(desk), opened(desk)

    assert first == again
    assert desk.get("/calls")["count"] == 1


def test_answer_sent_twice_is_one_answer_and_another_under_its_id_is_refused(app: Flask) -> None:
    desk = program(app)
    shown = to_questions(desk)
    body = {"client_id": "same", "shown_version": shown["version"]}
    asked = {**body, "observation": "says_pump_hums"}

    first = desk.post("/calls/1/answers", {**asked, "answer": "yes"})
    again = desk.post("/calls/1/answers", {**asked, "answer": "yes"})
    other = desk.refused("POST", "/calls/1/answers", json={**asked, "answer": "no"})

    assert first == again
    assert other["status"] == 409


def test_id_counts_within_one_address_and_one_token(app: Flask) -> None:
    desk, other = program(app), program(app, name="Night line")

    first, second = opened(desk), opened(other)
    for shown in (first, second):
        ticket = {"client_id": "open-1", "shown_version": shown["version"]}
        after = desk.post(f"/calls/{shown['call']}/notes", {**ticket, "text": "Dog in the yard"})
        assert after["version"] == shown["version"] + 1

    assert (first["call"], second["call"]) == (1, 2)


def test_call_that_has_gone_on_is_left_as_it_is_and_the_answer_says_its_version(app: Flask) -> None:
    desk = program(app)
    shown = to_questions(desk)
    old = {"client_id": "old", "shown_version": 1, "text": "Too late"}

    problem = desk.refused("POST", "/calls/1/notes", json=old)

    assert (problem["status"], problem["title"]) == (409, "Stale call")
    assert (problem["shown_version"], problem["current_version"]) == (1, shown["version"])
    assert desk.get("/calls/1") == shown


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/calls/77", 404),
        ("GET", "/calls/77/plan", 404),
        ("GET", "/visits/77", 404),
        ("GET", "/customers/77", 404),
        ("GET", "/jobs/77", 404),
        ("GET", "/jobs/1/closing", 404),
        ("GET", "/calls/9999999999", 404),
        ("GET", "/calls/one", 404),
        ("GET", "/nowhere", 404),
        ("GET", "//calls", 404),
        ("DELETE", "/calls/1", 405),
        ("OPTIONS", "/calls", 405),
        ("TRACE", "/calls", 405),
    ],
)
def test_what_is_not_there_is_a_problem_and_never_a_page(
    app: Flask, method: str, path: str, status: int
) -> None:
    desk = program(app)
    opened(desk)

    problem = desk.refused(method, path)

    assert problem["status"] == status
    assert problem["detail"]


def test_long_list_comes_in_pages() -> None:
    page = page_of("calls", list(range(120)), 3)

    assert page == {"calls": list(range(100, 120)), "count": 120, "page": 3, "pages": 3}
    assert page_of("calls", [], 9) == {"calls": [], "count": 0, "page": 1, "pages": 1}


def test_crash_of_the_program_is_a_problem_too(app: Flask) -> None:
    app.testing = False
    desk = program(app)
    app.view_functions["api.vans"] = lambda: 1 / 0

    problem = desk.refused("GET", "/vans")

    assert (problem["status"], problem["title"]) == (500, "Internal server error")
    assert "ZeroDivision" not in str(problem)
