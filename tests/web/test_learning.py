"""Learning as the owner meets it: files in, a version proposed, approved in part, rolled back."""

import io
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from flask import Flask

from tests.triage.learning.learning_shop import made_up_jobs
from tests.web.conftest import VisitorAs
from tests.web.page import Page, Visitor
from triage.services.learning.job_file import jobs_as_text
from triage.services.learning.replanning import Replanned, ReplannedCall, Told
from triage.services.networks.in_use import network_in_use
from webform.access import ACCESS
from webform.desk import EXTENSION
from webform.learning.replan_screen import replan_screen
from webform.learning.worker import wait_for_all

WASHER = "top_load_washer"
FILES = "/learning/files"
NUMBER = f"/learning/{WASHER}/number?number=share:drain_pump.burnt"
GOOD = {
    "value": "0.08",
    "grade": "measured",
    "source": "our own count of last year",
    "reason": "We meet it more often",
}


@pytest.fixture(autouse=True)
def no_work_left(app: Flask) -> Iterator[None]:
    """Wait for work before the database is closed."""
    yield
    wait_for_all()


def upload(visitor: Visitor, content: bytes, name: str = "jobs.csv") -> Page:
    page = visitor.open(FILES)
    hidden = {
        name: page.root.all("input", name=name)[0].attributes["value"]
        for name in ("csrf_token", "client_id", "shown_version")
    }
    data = {**hidden, "file": (io.BytesIO(content), name)}
    response = visitor.client.post(
        FILES, data=data, content_type="multipart/form-data", follow_redirects=True
    )
    return visitor._page(response.status_code, response.request.full_path, response.text)


def text_of(page: Page) -> str:
    return page.root.all("main")[0].text


def after_work(visitor: Visitor, page: Page) -> Page:
    wait_for_all()
    return visitor.open(page.path)


def shop_with_jobs(visitor: Visitor, count: int = 40) -> None:
    page = upload(visitor, jobs_as_text(made_up_jobs(count)).encode())
    page = after_work(visitor, visitor.send(page, {}, action="/import"))
    assert f"{count} jobs were taken in." in text_of(page)


def proposed(visitor: Visitor, **typed: str | list[str]) -> Page:
    page = visitor.open(f"/learning/{WASHER}/propose")
    page = after_work(visitor, visitor.send(page, {"reason": "spring", **typed}))
    link = next(one for one in page.links() if "/versions/" in one)
    return visitor.open(link)


def test_year_of_jobs_flows_in_and_an_approved_version_is_in_use(
    app: Flask, visitor: Visitor
) -> None:
    shop_with_jobs(visitor)
    page = proposed(visitor)
    assert "waits for a decision" in text_of(page)
    assert "Honest scores" in text_of(page)

    rows = [one.attributes["value"] for one in page.root.all("input", name="rows")]
    page = visitor.send(page, {"reason": "Scores are better", "rows": rows}, action="/approve")

    assert "State in use" in text_of(page)
    assert network_in_use(app.extensions[EXTENSION].database, WASHER).version == 2
    page = visitor.open(f"/learning/{WASHER}/versions/1")
    visitor.send(page, {"reason": "Worse on Monday"}, action="/use")
    assert network_in_use(app.extensions[EXTENSION].database, WASHER).version == 1


def test_rows_tell_own_jobs_from_borrowed_ones_unless_kinds_are_learned_apart(
    visitor: Visitor,
) -> None:
    shop_with_jobs(visitor, 15)
    others = [replace(one, source="b") for one in made_up_jobs(40, kind="front_load_washer")]
    page = upload(visitor, jobs_as_text(others).encode(), "others.csv")
    after_work(visitor, visitor.send(page, {}, action="/import"))

    together = text_of(proposed(visitor))
    apart = text_of(proposed(visitor, learns_together=[]))

    assert "Borrowed from Front-load washer (40 jobs)" in together
    assert re.search(r"\d own, \d+ borrowed", together)
    assert re.search(
        r"Callers [\d.]+ % of answers to questions are given without looking", together
    )
    assert "Learn kinds together no" in apart
    assert "borrowed" not in apart


def test_past_calls_are_planned_with_a_version(visitor: Visitor) -> None:
    shop_with_jobs(visitor, 2)
    page = visitor.send(visitor.open(NUMBER), {**GOOD, "value": "0.6"})
    assert "Plan past calls with this version" in text_of(page)

    page = after_work(visitor, visitor.send(page, {}, action="/replan"))
    page = visitor.open(next(one for one in page.links() if "/versions/2" in one))

    text = text_of(page)
    assert "Compared with version 1 on 2 of 2 past calls" in text
    for what in ("How the call should end", "The parts to load", "The length of the slot"):
        assert re.search(rf"{what} [0-2] of 2", text)


def test_examples_of_what_is_told_differently_lead_to_their_jobs(
    app: Flask, visitor: Visitor
) -> None:
    shop_with_jobs(visitor, 2)
    before = Told(ending="Book a visit", parts=("Drain pump",), slot=75, question="")
    calls = (
        ReplannedCall(call_id=1, day="2026-01-05", before=before, after=before),
        ReplannedCall(
            call_id=1, day="2026-01-06", before=before, after=replace(before, parts=(), slot=90)
        ),
    )
    found = Replanned(
        version_before=1,
        version_after=2,
        past=9,
        sample=4,
        unusable=1,
        is_cut_short=True,
        calls=calls,
    )

    with app.test_request_context():
        screen = replan_screen(WASHER, 2, found)

    examples = {row.title: [(e.before, e.after) for e in row.examples] for row in screen.rows}
    assert examples["The parts to load"] == [("Drain pump", "none")]
    assert examples["How the call should end"] == []
    assert [row.count.split()[0] for row in screen.rows] == ["0", "1", "1", "0"]
    assert "The time was over before all 4 of the sample were planned." in screen.sentences
    url = next(row.examples[0].link.url for row in screen.rows if row.examples)
    assert visitor.open(url).status == 200


def test_unticked_rows_stay_out(app: Flask, visitor: Visitor) -> None:
    shop_with_jobs(visitor)
    page = proposed(visitor)
    rows = [one.attributes["value"] for one in page.root.all("input", name="rows")]

    page = visitor.send(page, {"reason": "Only one", "rows": rows[:1]}, action="/approve")

    assert "1 rows of version 2" in text_of(page)
    assert network_in_use(app.extensions[EXTENSION].database, WASHER).version == 3


def test_decision_without_a_reason_or_a_row_is_refused(visitor: Visitor) -> None:
    shop_with_jobs(visitor, 15)
    page = proposed(visitor)

    without_reason = visitor.send(page, {}, action="/approve")
    without_rows = visitor.send(page, {"reason": "x", "rows": []}, action="/approve")

    assert "Enter why" in text_of(without_reason)
    assert "Tick at least one row" in text_of(without_rows)


def test_rejected_version_is_told_to_whoever_decides_too_late(visitor: Visitor) -> None:
    shop_with_jobs(visitor, 15)
    page = proposed(visitor)
    visitor.send(page, {"reason": "Too few jobs"}, action="/reject")

    late = visitor.send(page, {"reason": "x"}, action="/reject")

    assert late.status == 409
    assert "decided about meanwhile" in text_of(late)


def test_wrong_lines_are_listed_and_nothing_can_be_taken_in(visitor: Visitor) -> None:
    text = jobs_as_text(made_up_jobs(5)).replace("repaired", "mended", 1)

    page = upload(visitor, text.encode())

    assert "Nothing can be taken in yet" in text_of(page)
    assert "Line 2" in text_of(page)
    assert page.forms("/import") == []


def test_columns_with_other_names_are_chosen(visitor: Visitor) -> None:
    page = upload(visitor, b"Nr;Day;End\n1;2026-01-05;repaired\n")
    assert "no column for" in text_of(page)
    columns = {
        "column_job": "Nr",
        "column_closed_at": "Day",
        "column_outcome": "End",
        "column_appliance": f"={WASHER}",
    }

    page = visitor.send(page, columns)

    assert "1 job is new and can be taken in." in text_of(page)


def test_columns_that_do_not_fit_are_refused(visitor: Visitor) -> None:
    page = upload(visitor, b"Nr;Day;End\n1;2026-01-05;repaired\n")

    page = visitor.send(page, {"column_job": "Nr", "column_outcome": "Nr"})

    assert "The columns cannot be used yet" in text_of(page)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "got nothing"),
        (b"PK\x03\x04\x00\x00", "bytes that are no text"),
        (b"a\nsp\xe4t", "bytes on line 2 that are not UTF-8"),
    ],
)
def test_file_that_is_no_table_is_refused(visitor: Visitor, content: bytes, message: str) -> None:
    page = upload(visitor, content)

    assert message in text_of(page)


def test_no_file_chosen_is_said(visitor: Visitor) -> None:
    page = upload(visitor, b"", name="")

    assert "Choose a file" in text_of(page)


def test_file_sent_twice_is_kept_once_and_taken_in_once(visitor: Visitor) -> None:
    shop_with_jobs(visitor, 5)

    again = upload(visitor, jobs_as_text(made_up_jobs(5)).encode())

    assert "Every job of the file is in already." in text_of(again)
    assert "This file is in already." in text_of(visitor.open(f"{FILES}/1"))


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"share_jobs": "many"}, "Shares are worth, in jobs: enter a number above 0"),
        ({"share_jobs": "-5"}, "Shares are worth, in jobs: enter a number above 0"),
        ({"careless_share": "1"}, "of all answers: enter a number of 0 or more, below 1"),
        ({"half_life_months": "0"}, "counts half, in months: enter a number above 0"),
        ({"reason": "x" * 501}, "The reason must be 500 characters or fewer"),
    ],
)
def test_learning_is_not_begun_with_wrong_settings(
    visitor: Visitor, typed: dict[str, str], message: str
) -> None:
    page = visitor.send(visitor.open(f"/learning/{WASHER}/propose"), typed)

    assert "Not begun yet" in text_of(page)
    assert message in text_of(page)


def test_work_without_jobs_says_what_is_missing(visitor: Visitor) -> None:
    page = visitor.open("/learning")
    page = after_work(visitor, visitor.send(page, {}, action="/scores/begin"))

    assert "not finished" in text_of(page)
    assert "got no closed job" in page.root.all("main")[0].all("pre")[0].text


def test_scores_are_shown_with_picture_and_table(visitor: Visitor) -> None:
    shop_with_jobs(visitor, 60)
    page = visitor.open("/learning/scores")
    after_work(visitor, visitor.send(page, {}, action="/scores/begin"))

    page = visitor.open("/learning/scores")

    assert page.root.all("svg", role="img")[0].all("circle")
    assert "Came true" in text_of(page)
    assert "Parts fitted that were aboard" in text_of(page)
    assert "never overruled" in text_of(page)


def test_numbers_worth_measuring_are_listed(visitor: Visitor) -> None:
    shop_with_jobs(visitor, 25)
    page = visitor.open(f"/learning/{WASHER}/measure")
    after_work(visitor, visitor.send(page, {}, action="/measure/begin"))

    page = visitor.open(f"/learning/{WASHER}/measure")

    assert "Loss in 100 calls" in text_of(page)


def test_number_set_by_hand_becomes_a_version_to_approve(app: Flask, visitor: Visitor) -> None:
    page = visitor.send(visitor.open(NUMBER), GOOD)

    assert "waits for a decision" in text_of(page)
    assert "our own count of last year" in text_of(page)
    page = visitor.send(page, {"reason": "Counted"}, action="/approve")
    assert network_in_use(app.extensions[EXTENSION].database, WASHER).version == 2


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"value": "often"}, "a chance between 0 and 1"),
        ({"value": "1.5"}, "a chance between 0 and 1"),
        ({"value": ""}, "Enter the new number"),
        ({"grade": "certain"}, "Choose how far it can be trusted"),
        ({"grade": "judged", "worth": "0"}, "how many closed jobs the judgement is worth"),
        ({"source": ""}, "Enter where it comes from"),
        ({"reason": " "}, "Enter why"),
    ],
)
def test_wrong_number_is_refused_beside_its_field(
    visitor: Visitor, typed: dict[str, str], message: str
) -> None:
    page = visitor.send(visitor.open(NUMBER), {**GOOD, **typed})

    assert "Not proposed yet" in text_of(page)
    assert message in text_of(page)


def test_network_that_would_break_is_refused_with_the_reason(visitor: Visitor) -> None:
    page = visitor.open(f"/learning/{WASHER}/number?number=part:drain_pump:low")

    page = visitor.send(page, {**GOOD, "value": "9999"})

    assert "Not proposed yet" in text_of(page)


@pytest.mark.parametrize("kind", ["share", "link", "leak", "channel", "minutes", "part"])
def test_every_number_can_be_chosen(visitor: Visitor, kind: str) -> None:
    page = visitor.open(f"/learning/{WASHER}/numbers?kind={kind}")
    choices = [one.attributes["value"] for one in page.root.all("option")]

    page = visitor.send(page, {"number": choices[1]})

    assert page.status == 200
    assert page.path.startswith(f"/learning/{WASHER}/number?")


@pytest.mark.parametrize(
    "path",
    [
        "/learning/nothing/versions",
        f"/learning/{WASHER}/versions/9",
        f"/learning/{WASHER}/number?number=share:nothing",
        "/learning/work/9",
        f"{FILES}/9",
        "/learning/nothing/numbers",
        "/learning/nothing/measure",
    ],
)
def test_what_is_not_there_gives_a_page(visitor: Visitor, path: str) -> None:
    assert visitor.open(path).status == 404


def test_stock_is_reckoned_with_other_terms(visitor: Visitor) -> None:
    page = visitor.open("/learning/stock")
    assert "No job of the last year used a part" in text_of(page)

    page = visitor.send(page, {"holding": "x", "vans": "0"})

    assert "The cost a year must be a number" in text_of(page)
    assert "The vans must be a whole number" in text_of(page)


def test_version_is_read_as_a_file(visitor: Visitor) -> None:
    visitor.send(visitor.open(NUMBER), GOOD)

    response = visitor.client.get(f"/learning/{WASHER}/versions/2/network.yaml")

    assert response.mimetype == "text/plain"
    assert "network: top_load_washer" in response.text


@pytest.mark.parametrize("role", ["dispatcher", "technician"])
def test_learning_is_for_the_owner(visitor_as: VisitorAs, role: str) -> None:
    assert visitor_as(role).open("/learning").status == 403
    pages = [name for name in ACCESS if name.startswith("learning.")]
    assert len(pages) == 20
