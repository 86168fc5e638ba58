"""Claims about what cannot be recorded: the page again, the message at its field, the text kept."""

import io
from typing import Any

import pytest
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from tests.web.page import Node, Page, Visitor, parse
from tests.web.sheet_forms import enter, form_of, part, take_step
from triage.services.calls.calls import Database
from triage.services.job.sheet import find_job


def wrong_field(page: Page) -> Node:
    """The one field to be changed: it says so, has the message beside it, and is in view."""
    (found,) = [node for node in page.root.walk() if node.attributes.get("aria-invalid") == "true"]
    (message,) = [node for node in page.root.walk() if node.attributes.get("id") == "wrong"]
    assert "wrong" in found.attributes["aria-describedby"].split()
    assert "autofocus" in found.attributes
    assert message.text in page.root.all("div", role="alert")[0].text
    return found


def message_of(page: Page) -> str:
    return next(node.text for node in page.root.walk() if node.attributes.get("id") == "wrong")


@pytest.mark.parametrize("reading", ["much", "", "1e999", "5" * 400])
def test_reading_that_is_no_number_is_asked_for_again(
    database: Database, technician: Visitor, job: int, reading: str
) -> None:
    take_step(technician, job, "meters_supply")

    page = enter(technician, job, "finding", reading=reading)

    assert page.status == 400
    assert page.heading == "Job 1: Ada Fenwick 1"
    assert wrong_field(page).attributes["name"] == "reading"
    assert wrong_field(page).attributes["value"] == reading
    assert "Enter a number such as 117.5" in message_of(page)
    assert find_job(database, job).answer_to("meters_supply") is None


@pytest.mark.parametrize(
    ("reading", "way_out"),
    [
        ("1175", "If the meter does show that, or an overload, press “Outside the range” below."),
        ("-117,5", "Then measure again."),
    ],
)
def test_reading_that_cannot_be_is_asked_for_again(
    database: Database, technician: Visitor, job: int, reading: str, way_out: str
) -> None:
    take_step(technician, job, "meters_supply")

    page = enter(technician, job, "finding", reading=reading)

    assert page.status == 400
    assert wrong_field(page).attributes["value"] == reading
    assert message_of(page) == (
        f"Expected 0 to 140 V, not {reading} V. Check the number, its sign and its unit. {way_out}"
    )
    assert find_job(database, job).answer_to("meters_supply") is None


def test_another_step_without_a_reason_keeps_the_step(
    database: Database, technician: Visitor, job: int
) -> None:
    page = enter(technician, job, "job_overruled", taken="looks_for_oil", reason=" ")

    assert page.status == 400
    assert wrong_field(page).attributes["name"] == "reason"
    assert "open" in part(page, "another").attributes
    assert "The reason is missing." in message_of(page)
    chosen = [one for one in part(page, "another").all("option") if "selected" in one.attributes]
    assert {one.attributes["value"] for one in chosen} == {"looks_for_oil"}
    assert find_job(database, job).taken == ""


@pytest.mark.parametrize("pieces", ["-1", "many", "100"])
def test_pieces_that_are_no_number_are_asked_for_again(
    database: Database, technician: Visitor, job: int, pieces: str
) -> None:
    take_step(technician, job, "replace_drain_pump")

    used = {"pieces:drain_pump:": pieces}
    page = enter(technician, job, "job_repair", verified="works", **used)

    assert page.status == 400
    assert wrong_field(page).attributes["name"] == "pieces:drain_pump:"
    assert wrong_field(page).attributes["value"] == pieces
    assert find_job(database, job).repairs == ()


@pytest.mark.parametrize("amount", ["", "much", "-5", "12.345", "1 000", "９", "9999999"])
def test_amount_that_is_none_is_asked_for_again(technician: Visitor, job: int, amount: str) -> None:
    page = enter(technician, job, "job_quote", what_for="Drain pump and hose", amount=amount)

    assert page.status == 400
    assert wrong_field(page).attributes["name"] == "amount"
    assert wrong_field(page).attributes["value"] == amount
    assert part(page, "quote").all("input", id="quote-for", value="Drain pump and hose")
    assert "amount_minor" not in page.text


@pytest.mark.parametrize(
    ("kind", "field", "values"),
    [
        ("job_own_finding", "text", {"component": "drain_pump", "text": ""}),
        ("job_second_fault", "text", {"text": " "}),
        ("job_note", "text", {"text": "n" * 1001}),
        ("job_quote", "what_for", {"what_for": "", "amount": "100"}),
        ("job_part_ordered", "expected_on", {"part": "main_control", "expected_on": "soon"}),
        ("job_part_ordered", "pieces", {"expected_on": "2026-03-09", "pieces": "a box"}),
        ("job_part_ordered", "pieces", {"expected_on": "2026-03-09", "pieces": "0"}),
    ],
)
def test_form_keeps_what_was_typed_beside_the_field_to_be_changed(
    database: Database, technician: Visitor, job: int, kind: str, field: str, values: dict[str, str]
) -> None:
    before = find_job(database, job).version

    page = enter(technician, job, kind, **values)

    assert page.status == 400
    assert wrong_field(page).attributes["name"] == field
    form = page.forms("/enter")[form_of(page, kind)]
    shown = {one.attributes["name"]: one for one in form.walk() if "name" in one.attributes}
    for name, value in values.items():
        node = shown[name]
        if node.tag == "select":
            chosen = [one for one in node.all("option") if "selected" in one.attributes]
            assert [one.attributes["value"] for one in chosen] == [value]
        else:
            assert (node.attributes.get("value") or node.text).strip() == value.strip()
    assert find_job(database, job).version == before


def test_quote_needs_who_said_yes_and_a_reason_for_no(technician: Visitor, job: int) -> None:
    enter(technician, job, "job_quote", what_for="Drain pump", amount="215")

    yes = enter(technician, job, "job_quote_authorised", by_whom="", how="By phone")
    no = enter(technician, job, "job_quote_declined", reason="")

    assert wrong_field(yes).attributes["id"] == "quote-by"
    assert wrong_field(no).attributes["id"] == "quote-reason"


def test_corrected_entry_goes_in_from_the_same_page(
    database: Database, technician: Visitor, job: int
) -> None:
    take_step(technician, job, "meters_supply")
    page = enter(technician, job, "finding", reading="much")

    page = technician.send(
        page, {"reading": "117.5"}, action="/enter", number=form_of(page, "finding")
    )

    assert page.status == 200
    assert find_job(database, job).answer_to("meters_supply") == 117.5


def test_entry_on_an_old_sheet_is_kept_and_can_be_recorded_all_the_same(
    database: Database, technician: Visitor, job: int
) -> None:
    old = technician.open(f"/jobs/{job}")
    enter(technician, job, "job_second_fault", text="The lid squeaks")

    page = technician.send(
        old, {"text": "Key under the pot"}, action="/enter", number=form_of(old, "job_note")
    )
    alert = page.root.all("div", role="alert")[0]
    kept = part(page, "log").all("textarea", id="note-text")[0].text
    told = len(find_job(database, job).told)
    page = technician.send(page, {}, action="/enter", number=form_of(page, "job_note"))

    assert "Something else was entered on this job since this page was shown." in alert.text
    assert "You entered: Key under the pot" in alert.text
    assert kept == "Key under the pot"
    assert told == 1
    assert page.status == 200
    assert len(find_job(database, job).told) == 2


@pytest.mark.parametrize(
    ("step", "values", "told"),
    [
        ("meters_supply", {"reading": "117.5"}, "Voltage at the outlet: 117.5 V"),
        ("tests_drain_pump", {"answer": "silent"}, "Drain pump on: Silent"),
        ("replace_drain_pump", {"verified": "works"}, "Replace the drain pump: works"),
    ],
)
def test_result_on_an_old_sheet_is_told_in_words(
    database: Database, technician: Visitor, job: int, step: str, values: dict[str, str], told: str
) -> None:
    old = take_step(technician, job, step)
    take_step(technician, job, "looks_for_oil")
    kind = "job_repair" if "verified" in values else "finding"

    page = technician.send(old, values, action="/enter", number=form_of(old, kind))
    alert = page.root.all("div", role="alert")[0]
    page = technician.send(page, {}, action="/enter")

    assert f"You entered: {told}" in alert.text
    assert page.status == 200
    assert [one.event for one in find_job(database, job).made[-1:]]
    assert told.split(":")[0] in part(page, "log").text


def test_closed_form_is_told_at_the_top(technician: Visitor, job: int) -> None:
    page = technician.open(f"/jobs/{job}")

    page = technician.send(page, {"kind": "job_part_arrived", "part": "belt"}, action="/enter")

    assert page.status == 400
    assert page.heading == "Job 1: Ada Fenwick 1"
    assert page.root.all("div", role="alert")[0].attributes["id"] == "wrong"


@pytest.mark.parametrize("content", [b"", b"<html></html>"])
def test_file_that_is_no_photo_leaves_the_note_as_typed(
    technician: Visitor, job: int, content: bytes
) -> None:
    page = post_photo(technician, job, content, "The plate")

    assert page.status == 400
    assert wrong_field(page).attributes["id"] == "photo"
    assert "Choose a photo in JPEG, PNG or WebP" in message_of(page)
    assert part(page, "photos").all("input", id="photo-note", value="The plate")


def test_note_of_a_photo_that_is_too_long_is_asked_for_again(technician: Visitor, job: int) -> None:
    page = post_photo(technician, job, b"any", "n" * 501)

    assert wrong_field(page).attributes["id"] == "photo-note"


def post_photo(visitor: Visitor, call_id: int, content: bytes, note: str) -> Page:
    form = visitor.open(f"/jobs/{call_id}").forms("/photos")[0]
    fields: dict[str, Any] = {
        one.attributes["name"]: one.attributes["value"] for one in form.all("input", type="hidden")
    }
    fields |= {"note": note, "photo": FileStorage(io.BytesIO(content), "IMG_1.jpg")}
    boundary, body = encode_multipart(fields)
    kind = f"multipart/form-data; boundary={boundary}"
    path = f"/jobs/{call_id}/photos"
    response = visitor.client.post(path, data=body, content_type=kind)
    return Page(response.status_code, path, parse(response.text))


@pytest.mark.parametrize("action", ["/count", "/refill"])
@pytest.mark.parametrize("count", ["a few", "1000"])
def test_count_that_is_no_number_is_asked_for_again(
    technician: Visitor, job: int, action: str, count: str
) -> None:
    page = technician.open("/stock/1")
    page = technician.send(page, {"pieces:drain_pump:": "0"}, action="/count")

    page = technician.send(page, {"pieces:drain_pump:": count}, action=action)

    assert page.status == 400
    assert page.heading == "Stock of Van 1"
    assert wrong_field(page).attributes["value"] == count
    assert message_of(page) == f"“{count}” is no number of pieces. Enter 0 to 999."
