"""Claims about NUL in what is sent: no page and no database ever meets it."""

import json
from uuid import uuid4

import pytest
from flask import Flask

from tests.triage.job.playing_jobs import phoned
from tests.web.page import Visitor
from tests.web.program import Program, token_of
from tests.web.taking_calls import begin
from triage.services.calls.calls import Database, find_call
from triage.services.customers.records import search_customers
from triage.services.job.sheet import find_job
from webform.texts_sent import SentTexts


def test_call_is_opened_without_the_nul_that_was_sent(database: Database, visitor: Visitor) -> None:
    page = begin(visitor, caller="Ada\x00 Brook", words="it \x00hums")

    assert page.status == 200
    state = find_call(database, 1)
    assert (state.caller, state.words) == ("Ada Brook", "it hums")


def test_customer_and_search_take_no_nul(database: Database, visitor: Visitor) -> None:
    visitor.send(visitor.open("/customers/new"), {"name": "Mill\x00 cottage", "phone": "555\x00 1"})

    assert [one.name for one in search_customers(database, "mill", "US")] == ["Mill cottage"]
    assert "Mill cottage" in visitor.open("/customers?q=mi%00ll").text


def test_entry_that_a_device_kept_takes_no_nul(database: Database, visitor: Visitor) -> None:
    call_id = phoned(database)
    token = visitor.client.get("/jobs/token").get_json()["token"]

    answer = visitor.client.post(
        f"/jobs/{call_id}/entries",
        data=json.dumps(
            {
                "sent_at": "2026-03-02T09:00:00Z",
                "entries": [
                    {
                        "id": uuid4().hex,
                        "kind": "job_note",
                        "fields": {"text": "side\x00 door"},
                        "made_at": "2026-03-02T09:00:00Z",
                        "shown_version": 1,
                    }
                ],
            }
        ),
        content_type="application/json",
        headers={"X-CSRFToken": token},
    )

    assert answer.get_json()["entries"][0]["reception"] == "stored"
    assert [one.event.text for one in find_job(database, call_id).told] == ["side door"]  # type: ignore[union-attr]


@pytest.mark.parametrize("path", ["/calendar/a%00b.ics", "/steps/gas%00dryer", "/api/v1/x%00"])
def test_address_with_a_nul_is_no_page(visitor: Visitor, path: str) -> None:
    assert visitor.client.get(path).status_code == 404


def test_program_that_sends_a_nul_is_told_so(app: Flask) -> None:
    program = Program(app.test_client(), token_of(app))
    call = {"client_id": "a1", "network": "gas_dryer", "caller": "Ada\x00", "words": "cold"}

    answer = program.ask("POST", "/calls", json=call)

    assert answer.status_code == 422
    assert [one["path"] for one in answer.get_json()["errors"]] == ["/caller"]


def test_files_and_repeated_fields_come_through() -> None:
    sent = SentTexts([("on", "a\x00"), ("on", "b"), ("file", b"\x00")])

    assert sent.getlist("on") == ["a", "b"]
    assert sent["file"] == b"\x00"
    assert list(SentTexts()) == []
