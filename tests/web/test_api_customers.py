"""Claims about records that a program changes, and about calls that end without a visit."""

import pytest
from flask import Flask

from tests.web.program import WASHER, program, safe, step, to_questions
from triage.services.closing.close import left_to_close
from webform.desk import EXTENSION


def test_record_of_a_customer_is_replaced(app: Flask) -> None:
    desk = program(app, "dispatcher")
    first = desk.post("/customers", {"name": "Zoe", "town": "Mill End", "notes": "Dog"})

    changed = desk.put("/customers/1", {"name": "Zoë Åström", "shown_version": first["version"]})

    assert (changed["name"], changed["town"], changed["notes"]) == ("Zoë Åström", "", "")
    assert changed["version"] == first["version"] + 1
    assert desk.get("/customers/1") == changed


def test_record_of_a_machine_is_replaced(app: Flask) -> None:
    desk = program(app)
    desk.post("/customers", {"name": "Zoe"})
    known = desk.post("/customers/1/machines", {"network": WASHER, "plate": "QD-100"})

    body = {"network": "gas_dryer", "place": "Basement", "shown_version": known["version"]}
    (machine,) = desk.put("/customers/1/machines/1", body)["machines"]

    assert (machine["network"], machine["plate"], machine["place"]) == ("gas_dryer", "", "Basement")


@pytest.mark.parametrize("path", ["/customers/1", "/customers/1/machines/1"])
def test_record_that_was_changed_meanwhile_is_left_as_it_is(app: Flask, path: str) -> None:
    desk = program(app)
    desk.post("/customers", {"name": "Zoe"})
    desk.post("/customers/1/machines", {"network": WASHER})
    now = desk.put("/customers/1", {"name": "Zoë", "shown_version": 1})
    body = {"shown_version": 1, **({"network": WASHER} if "machines" in path else {"name": "Z"})}

    problem = desk.refused("PUT", path, json=body)

    assert (problem["status"], problem["title"]) == (409, "Stale customer")
    assert desk.get("/customers/1") == now


@pytest.mark.parametrize("path", ["/customers/9", "/customers/1/machines/9"])
def test_record_that_is_not_there_cannot_be_replaced(app: Flask, path: str) -> None:
    desk = program(app)
    desk.post("/customers", {"name": "Zoe"})
    body = {"shown_version": 1, **({"network": WASHER} if "machines" in path else {"name": "Z"})}

    assert desk.refused("PUT", path, json=body)["status"] == 404


def test_call_that_ends_without_a_visit_is_closed_for_learning(app: Flask) -> None:
    desk = program(app)
    shown = step(desk, to_questions(desk), "end", outcome="solved_by_phone", note="Tap opened")

    closed = desk.get(f"/jobs/{shown['call']}/closing")["closing"]
    before = {**shown, "version": shown["version"] - 2}  # of the call, and of the closing
    again = step(desk, before, "end", outcome="solved_by_phone", note="Tap opened")

    assert closed["outcome"] == "solved_by_phone"
    assert again["outcome"] == shown["outcome"]
    assert left_to_close(app.extensions[EXTENSION].database) == ()


def test_call_that_ends_with_a_visit_is_not_closed(app: Flask) -> None:
    desk = program(app)

    step(desk, to_questions(desk), "end", outcome="visit")

    assert desk.refused("GET", "/jobs/1/closing")["status"] == 404


def test_call_that_a_danger_stops_is_closed_at_once(app: Flask) -> None:
    desk = program(app)
    body = {"client_id": "open", "network": "gas_dryer", "caller": "Blue door", "words": "Gas"}
    answers = {**safe(desk, "gas_dryer"), "gas_smell": True}

    shown = step(desk, desk.post("/calls", body), "safety", answers=answers)

    assert shown["outcome"]["outcome"] == "stopped_for_safety"
    assert desk.get(f"/jobs/{shown['call']}/closing")["closing"]["outcome"] == "referred_out"
