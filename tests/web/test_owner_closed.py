"""Claims about the owner's pages of closed jobs, and about handing out and erasing a customer."""

import csv
import io
import json
from datetime import timedelta

import pytest

from tests.triage.job.playing_jobs import customer, phoned, repaired
from tests.web.conftest import NINE, VisitorAs
from tests.web.desk_records import put_on_record
from tests.web.page import Page, Visitor
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import Database
from triage.store.tables.visits import VisitRow

ON_SITE = NINE - timedelta(minutes=55)
YESTERDAY = NINE - timedelta(days=1)
NAME = "Zebulon Quark"


def closed(database: Database, visitor: Visitor, **options: object) -> int:
    call_id = repaired(database, at=ON_SITE, phoned_at=YESTERDAY, **options)
    visitor.send(visitor.open(f"/calls/{call_id}/close"), {})
    return call_id


def jobs(page: Page) -> list[str]:
    """Jobs of the list."""
    return [link.text for link in page.root.all("a", class_="tap")]


def test_list_shows_closed_jobs_and_is_filtered(database: Database, visitor: Visitor) -> None:
    washer = closed(database, visitor, caller="Blue door")
    other = phoned(database, CallOutcome.REFER_OUT, at=YESTERDAY, network="heat_pump_dryer")
    visitor.send(visitor.open(f"/calls/{other}/close"), {})

    every = visitor.open("/shop/closed")
    repaired_only = visitor.open("/shop/closed?outcome=repaired&month=2026-03")
    february = visitor.open("/shop/closed?month=2026-02")

    assert sorted(jobs(every)) == [f"{washer}. Blue door", f"{other}. Blue door"]
    assert jobs(repaired_only) == [f"{washer}. Blue door"]
    assert "No closed job fits." in february.text
    assert "Drain pump" in repaired_only.text


@pytest.mark.parametrize(
    "query", ["month=March", "month=2026-13", "outcome=won", "appliance=toaster", "page=0&page=x"]
)
def test_wrong_filter_gives_a_page(visitor: Visitor, query: str) -> None:
    page = visitor.open(f"/shop/closed?{query}")

    assert page.status == 200
    is_month = query.startswith("month")
    assert ("Month must be written as year and month" in page.text) is is_month


def test_files_hold_what_is_shown(database: Database, visitor: Visitor) -> None:
    call_id = closed(database, visitor, caller=NAME)
    page = visitor.open("/shop/closed?outcome=repaired")
    links = {link.text: link.attributes["href"] for link in page.root.all("a")}

    as_csv = visitor.client.get(links["Save these as CSV"])
    as_json = visitor.client.get(links["Save these as JSON"])
    none = visitor.client.get("/shop/closed-jobs.csv?outcome=declined")

    assert as_csv.content_type == "text/csv; charset=utf-8"
    assert 'filename="closed-jobs.csv"' in as_csv.headers["Content-Disposition"]
    rows = list(csv.DictReader(io.StringIO(as_csv.text, newline="")))
    assert [row["job"] for row in rows] == [str(call_id)]
    assert [job["job"] for job in json.loads(as_json.text)] == [call_id]
    assert none.text.count("\r\n") == 1
    assert NAME not in as_csv.text + as_json.text


def test_closed_job_in_full_sets_promise_and_outcome_side_by_side(
    database: Database, visitor: Visitor
) -> None:
    call_id = closed(database, visitor)

    page = visitor.open(f"/shop/closed/{call_id}")

    headings = [heading.text for heading in page.root.all("h2")]
    assert headings == ["How it ended", "Promised and happened", "What was found and done"]
    whats = [row.all("th")[0].text for row in page.root.all("table")[0].all("tbody")[0].all("tr")]
    assert whats == ["Minutes", "Price before tax", "First visit", "Parts", "Cause"]
    assert "of the ranking" in page.text


def test_job_that_is_not_closed_is_not_shown(database: Database, visitor: Visitor) -> None:
    page = visitor.open(f"/shop/closed/{phoned(database)}")

    assert (page.status, page.heading) == (404, "Not found")


def test_customer_is_handed_out_and_then_erased(database: Database, visitor: Visitor) -> None:
    who = customer(database, NAME)
    call_id = closed(database, visitor, of=who, caller=NAME, words=f"This is {NAME}")
    page = visitor.open(f"/shop/customers/{who[0]}/erase")
    form = page.forms("/export")[0]
    hidden = {one.attributes["name"]: one.attributes["value"] for one in form.all("input")}

    saved = visitor.client.post(form.attributes["action"], data=hidden)
    unsure = visitor.send(page, {}, action="/erase")
    after = visitor.send(page, {"is_sure": "y"}, action="/erase")

    assert json.loads(saved.text)["customer"]["name"] == NAME
    assert "Tick the box if it is to be erased for good" in unsure.text
    assert after.heading == f"Customer {who[0]} is erased"
    for path in (
        f"/shop/closed/{call_id}",
        "/shop/closed",
        "/shop/audit",
        f"/calls/{call_id}/invoice",
    ):
        assert "Quark" not in visitor.open(path).text


def test_every_page_about_an_erased_customer_still_opens(
    database: Database, visitor: Visitor
) -> None:
    call_id = closed(database, visitor, of=customer(database, NAME), caller=NAME)
    put_on_record(database, call_id)
    with database.writing() as session:
        session.get_one(VisitRow, 1).state = "done"
    page = visitor.open("/shop/customers/1/erase")

    visitor.send(page, {"is_sure": "y"}, action="/erase")

    paths = ("/", "/calls/1", "/calls/1/plan", "/jobs/1", "/visits/1", "/customers/1", "/day")
    shown = {path: visitor.open(path) for path in (*paths, f"/shop/closed/{call_id}")}
    assert {path: page.status for path, page in shown.items() if page.status != 200} == {}
    assert [path for path, page in shown.items() if "Quark" in page.text] == []


def test_customer_with_an_open_call_cannot_be_erased(database: Database, visitor: Visitor) -> None:
    who = customer(database, NAME)
    page = visitor.open(f"/shop/customers/{who[0]}/erase")
    phoned(database, None, of=who)

    shown = visitor.open(f"/shop/customers/{who[0]}/erase")
    refused = visitor.send(page, {"is_sure": "y"}, action="/erase")

    assert "Calls that are open or to be visited: 1" in shown.text
    assert shown.forms("/erase") == []
    assert (refused.status, refused.heading) == (409, "Not recorded")
    assert "Nothing was erased" in refused.text


def test_calls_that_ended_on_the_phone_are_closed_with_one_press(
    database: Database, visitor: Visitor
) -> None:
    phoned(database, CallOutcome.SOLVED_BY_PHONE, at=YESTERDAY)
    page = visitor.open("/shop/closed")

    after = visitor.send(page, {}, action="/close-ended")

    assert "1 call ended on the phone and not closed yet." in page.text
    assert "not closed yet" not in after.text
    assert jobs(after) == ["1. Blue door"]


def test_call_that_ends_where_nobody_is_to_come_is_closed(
    database: Database, visitor: Visitor
) -> None:
    phoned(database, None, at=NINE)

    visitor.send(visitor.open("/calls/1/end"), {"outcome": "declined", "note": "too dear"})

    assert jobs(visitor.open("/shop/closed?outcome=declined")) == ["1. Blue door"]


def test_only_the_owner_sees_closed_jobs_and_settings(visitor_as: VisitorAs) -> None:
    technician = visitor_as("technician")

    statuses = {
        path: technician.client.get(path).status_code
        for path in ("/shop/closed", "/shop/settings", "/shop/customers/1/erase", "/shop/plates")
    }

    assert set(statuses.values()) == {403}
