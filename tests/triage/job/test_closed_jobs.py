"""Claims about closed jobs: listed, told in full, exported, and handed to learning."""

import csv
import io
import json
import re
from dataclasses import replace
from datetime import UTC, date, timedelta
from pathlib import Path

import pytest

from tests.triage.job.playing_jobs import (
    NINE,
    OBJECT,
    ON_SITE,
    PUMP,
    customer,
    entry,
    phoned,
    repaired,
)
from triage.errors import NotClosedError
from triage.inference.evidence import Finding
from triage.learning.values import (
    CallBack,
    Complaint,
    Confirmation,
    ConfirmedCause,
    Outcome,
)
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import Database
from triage.services.closing.amounts import amounts, share_of
from triage.services.closing.close import close_job, close_without_visit
from triage.services.closing.closed import ClosingFilter, closed_page, job_in_full
from triage.services.closing.draft import closing_draft
from triage.services.closing.export import (
    COLUMNS,
    guarded,
    jobs_as_csv,
    jobs_as_json,
    without_guard,
)
from triage.services.closing.for_learning import closed_jobs
from triage.services.closing.invoice import exact_money, invoice
from triage.services.closing.values import CauseClosed, ClosingGiven, ClosingOutcome, Degree
from triage.services.settings.shop_front import DateStyle, ShopFront, Taxed, day_as_written

FRONT = ShopFront(
    name="The Quiet Drum",
    address="Mill Lane 3\nLarkham Hollow",
    date_style=DateStyle.ISO,
    tax_name="Sales tax",
    tax_rate_basis_points=825,
    taxed=(Taxed.PARTS,),
)
CLOSED_AT = ON_SITE + timedelta(minutes=55)


def closed(
    database: Database,
    call_id: int,
    *,
    by: str = "pat",
    days: int = 0,
    front: ShopFront = FRONT,
    **change: object,
) -> int:
    """Close a job as it is proposed, but for what is to be changed."""
    at = CLOSED_AT + timedelta(days=days)
    given = closing_draft(database, call_id, DEFAULT_SETTINGS, at).given
    close_job(
        database,
        call_id,
        replace(given, **change),  # type: ignore[arg-type]
        entry(database, call_id, at, by),
        settings=DEFAULT_SETTINGS,
        front=front,
    )
    return call_id


def by_phone(database: Database, outcome: CallOutcome, **options: object) -> int:
    call_id = phoned(database, outcome, **options)  # type: ignore[arg-type]
    close_without_visit(
        database, call_id, entry(database, call_id, NINE), settings=DEFAULT_SETTINGS, front=FRONT
    )
    return call_id


def invoice_text(database: Database, call_id: int, front: ShopFront = FRONT) -> str:
    made = invoice(database, call_id, settings=DEFAULT_SETTINGS, front=front, time_zone=UTC)
    return made.text


@pytest.mark.parametrize(
    ("amount", "basis_points", "tax"),
    [(0, 825, 0), (10, 500, 1), (9, 500, 0), (6400, 825, 528), (6060, 825, 500), (1, 10_000, 1)],
)
def test_tax_is_rounded_half_up_to_the_minor_unit(amount: int, basis_points: int, tax: int) -> None:
    # By hand: 10 × 5 % = 0.5 -> 1; 9 × 5 % = 0.45 -> 0; 6060 × 8.25 % = 499.95 -> 500.
    assert share_of(amount, basis_points) == tax


def test_tax_is_reckoned_once_on_the_sum_of_what_is_taxed() -> None:
    front = ShopFront(tax_rate_basis_points=500, taxed=(Taxed.FEE, Taxed.PARTS))

    found = amounts(fee_minor=9, labour_minor=1000, parts_minor=[(3, 7)], front=front)

    # 9 + 21 = 30, 5 % of it 1.5, half up 2; line by line it would have been 0 + 1.
    assert (found.taxed_minor, found.tax_minor, found.total_minor) == (30, 2, 1032)


def test_shop_without_a_tax_has_none() -> None:
    found = amounts(fee_minor=9000, labour_minor=1, parts_minor=[], front=ShopFront())

    assert (found.tax_minor, found.total_minor) == (0, 9001)


def test_invoice_has_lines_tax_total_guarantee_and_nobodys_name(database: Database) -> None:
    who = customer(database)
    call_id = closed(database, repaired(database, of=who, caller="Zebulon Quark"))

    text = invoice_text(database, call_id)

    lines = [line for line in text.splitlines() if line]
    assert lines[:5] == [
        "The Quiet Drum",
        "Mill Lane 3",
        "Larkham Hollow",
        f"Job {call_id}, 2026-03-03",
        "Top-load washer",
    ]
    assert any(line.startswith("Coming and finding the fault") for line in lines)
    assert any(line.startswith("Sales tax") for line in lines)
    assert "Our work is guaranteed for 30 days, until 2026-04-02." in lines
    assert "The parts are guaranteed for 90 days, until 2026-06-01." in lines
    assert max(len(line) for line in lines) <= 64
    assert "Quark" not in text


def test_lines_and_tax_of_an_invoice_sum_to_its_total(database: Database) -> None:
    call_id = closed(database, repaired(database))

    made = invoice(database, call_id, settings=DEFAULT_SETTINGS, front=FRONT, time_zone=UTC)

    assert made.tax is not None
    assert sum(line.amount_minor for line in made.lines) == made.net_minor
    assert made.net_minor + made.tax.amount_minor == made.total_minor


def test_declined_job_has_the_fee_and_no_guarantee(database: Database) -> None:
    call_id = closed(
        database,
        repaired(database),
        outcome=ClosingOutcome.DECLINED,
        parts=(),
        labour_minor=0,
        repairs=(),
    )

    text = invoice_text(database, call_id)

    assert "guaranteed" not in text
    assert text.rstrip().endswith("90.00")


def test_invoice_of_a_job_that_is_not_closed_is_refused(database: Database) -> None:
    with pytest.raises(NotClosedError):
        invoice_text(database, repaired(database))


@pytest.mark.parametrize(
    ("style", "text"),
    [("day_first", "29 Feb 2028"), ("month_first", "Feb 29, 2028"), ("iso", "2028-02-29")],
)
def test_day_is_written_as_the_shop_writes_it(style: str, text: str) -> None:
    assert day_as_written(date(2028, 2, 29), DateStyle(style)) == text


def test_money_is_exact_to_the_minor_unit() -> None:
    assert [exact_money(minor, "USD") for minor in (0, 5, 100, 123456789)] == [
        "0.00 USD",
        "0.05 USD",
        "1.00 USD",
        "1,234,567.89 USD",
    ]


def test_list_is_filtered_and_newest_first(database: Database) -> None:
    first = closed(database, repaired(database))
    second = closed(database, repaired(database), by="kim", days=40)
    third = by_phone(database, CallOutcome.DECLINED)

    every = closed_page(database, ClosingFilter())
    by_kim = closed_page(database, ClosingFilter(closed_by="kim"))
    declined = closed_page(database, ClosingFilter(outcome="declined"))
    later = closed_page(database, ClosingFilter(since=CLOSED_AT + timedelta(days=1)))
    dryers = closed_page(database, ClosingFilter(network_id="gas_dryer"))

    assert [line.call_id for line in every.lines] == [second, first, third]
    assert every.people == ("kim", "pat")
    assert [line.call_id for line in by_kim.lines] == [second]
    assert [line.call_id for line in declined.lines] == [third]
    assert [line.call_id for line in later.lines] == [second]
    assert (dryers.count, dryers.pages) == (0, 1)


def test_page_that_is_not_there_gives_the_nearest(database: Database) -> None:
    closed(database, repaired(database))

    assert closed_page(database, ClosingFilter(), page=7).page == 1


def test_job_in_full_sets_the_promise_beside_what_happened(database: Database) -> None:
    call_id = closed(database, repaired(database))

    found = job_in_full(database, call_id)

    assert found.promised is not None
    chances = found.promised.causes
    assert found.rank == sorted(chances, key=lambda mode: -chances[mode]).index(PUMP) + 1
    assert found.was_aboard
    assert found.titles[PUMP].startswith("Drain pump")


def test_csv_has_one_row_a_job_and_the_documented_columns(database: Database) -> None:
    call_id = closed(database, repaired(database, of=customer(database), caller="Zebulon Quark"))
    by_phone(database, CallOutcome.REFER_OUT, network="heat_pump_dryer")

    text = "".join(jobs_as_csv(database))

    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert text.count("\r\n") == 3
    assert list(rows[0]) == list(COLUMNS)
    by_job = {int(row["job"]): row for row in rows}
    row = by_job[call_id]
    assert row["causes"] == f"{PUMP}=works_after_repair"
    assert row["findings"].split("; ")[0] == "says_water_left=volunteered"
    assert row["parts"].startswith("drain_pump*1@")
    assert (row["minutes"], row["visits"], row["is_unsure"]) == ("55.0", "1", "no")
    assert "Quark" not in text


def test_json_says_the_same_as_the_csv(database: Database) -> None:
    closed(database, repaired(database))
    by_phone(database, CallOutcome.DECLINED)

    found = json.loads("".join(jobs_as_json(database)))

    rows = list(csv.DictReader(io.StringIO("".join(jobs_as_csv(database)), newline="")))
    assert [list(job) for job in found] == [list(COLUMNS)] * 2
    assert [str(job["job"]) for job in found] == [row["job"] for row in rows]
    assert [job["total_minor"] for job in found] == [int(row["total_minor"]) for row in rows]


def test_page_documents_every_column_in_order() -> None:
    page = (Path(__file__).parents[3] / "docs" / "closed-jobs.md").read_text(encoding="utf-8")

    rows = re.findall(r"^\| `(\w+)` \| (.+) \|$", page, re.M)

    assert rows == list(COLUMNS.items())


def test_export_of_no_jobs_is_a_heading_and_an_empty_list(database: Database) -> None:
    assert "".join(jobs_as_csv(database)) == ",".join(COLUMNS) + "\r\n"
    assert json.loads("".join(jobs_as_json(database))) == []


@pytest.mark.parametrize("text", ["=1+1", "+1", "-2", "@SUM(A1)", "\tx", "\rx", "'=1", "'quoted"])
def test_formula_is_guarded_and_comes_back_as_it_was(text: str) -> None:
    assert guarded(text).startswith("'")
    assert without_guard(guarded(text)) == text


def test_name_that_is_a_formula_is_guarded_in_the_csv(database: Database) -> None:
    closed(database, repaired(database), by="=cmd()")

    rows = list(csv.DictReader(io.StringIO("".join(jobs_as_csv(database)), newline="")))

    assert rows[0]["closed_by"] == "'=cmd()"


def test_learning_sees_the_machine_as_it_was_before_the_first_repair(database: Database) -> None:
    closed(database, repaired(database))

    (job,) = closed_jobs(database)

    assert job.outcome is Outcome.REPAIRED
    assert job.findings == (
        Finding("says_water_left", "volunteered", "caller"),
        Finding("asks_pump_sound", "humming", "caller"),
        Finding("sees_standing_water", "found", "technician"),
        Finding("tests_drain_pump", "silent", "technician"),
    )
    assert job.causes == (ConfirmedCause(mode=PUMP, confirmation=Confirmation.VERIFIED),)
    assert "tests_drain_pump" in job.chose_diagnosis
    assert job.minutes == {"tests_drain_pump": 8.0, "replace_drain_pump": 40.0}
    assert (job.person, job.call_back) == ("dot", None)


def test_unsure_causes_are_suspected_and_not_confirmed(database: Database) -> None:
    either = tuple(CauseClosed(name, Degree.JUDGED) for name in (PUMP, OBJECT))
    closed(database, repaired(database), causes=either, is_unsure=True)

    (job,) = closed_jobs(database)

    assert job.causes == ()
    assert dict(job.suspected) == {PUMP: 0.5, OBJECT: 0.5}


def test_call_back_is_told_with_the_job_it_follows(database: Database) -> None:
    who = customer(database)
    first = closed(database, repaired(database, of=who))
    second = phoned(database, of=who, at=CLOSED_AT + timedelta(days=9, hours=1))
    closed(database, second, days=10)

    jobs = {job.id: job for job in closed_jobs(database)}

    assert jobs[str(first)].call_back == CallBack(days=9, complaint=Complaint.SAME)
    assert jobs[str(second)].call_back is None


def test_jobs_about_machines_of_others_are_not_learnt_from(database: Database) -> None:
    by_phone(database, CallOutcome.REFER_OUT, network="heat_pump_dryer")
    declined = by_phone(database, CallOutcome.DECLINED)

    found = list(closed_jobs(database))

    assert [(job.id, job.outcome) for job in found] == [(str(declined), Outcome.DECLINED)]


def test_every_outcome_of_closing_is_one_of_learning(database: Database) -> None:
    outcomes = dict(zip(ClosingOutcome, Outcome, strict=True))
    for outcome in ClosingOutcome:
        closed(database, phoned(database), outcome=outcome, causes=())

    found = [job.outcome for job in closed_jobs(database)]

    assert found == [outcomes[ClosingGiven(outcome=one).outcome] for one in ClosingOutcome]
