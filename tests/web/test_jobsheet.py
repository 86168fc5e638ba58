"""Claims about the technician's pages: the day, the sheet, what is entered on it, the stock."""

import re

import pytest

from tests.web.conftest import VisitorAs
from tests.web.page import Visitor
from tests.web.sheet_forms import enter, folded, form_of, part, take_step
from triage.services.calls.calls import Database
from triage.services.job.events import RepairDone, Verified
from triage.services.job.sheet import find_job

PUMP = "tests_drain_pump"


def test_sheet_says_who_where_when_and_what_is_known(technician: Visitor, job: int) -> None:
    page = technician.open(f"/jobs/{job}")

    assert page.heading == "Job 1: Ada Fenwick 1"
    assert "tel:+13125550142" in page.links()
    for told in (
        "1 Heron Lane, Larkham Hollow",
        "Mon 02 Mar, 10:00 to 12:00 (planned: 90 minutes)",
        "Dog in the yard",
        "Side door",
        "QD-100",
        "It hums and does not do what it should",
        "Water left in it: said unasked",
        "Unplug the machine before a panel comes off",
        "licensed trade",
    ):
        assert told in page.text
    assert part(page, "load").all("li")
    assert page.root.all("li", data_line="1")
    assert page.root.all("svg", class_="qr-code")


def test_answer_is_recorded_with_what_it_changed(
    database: Database, technician: Visitor, job: int
) -> None:
    take_step(technician, job, PUMP)

    page = enter(technician, job, "finding", answer="silent")

    assert find_job(database, job).answer_to(PUMP) == "silent"
    changed = part(page, "changed").text
    assert "up from" in changed
    assert "down from" in changed
    assert "Drain pump on: Silent" in page.text


def test_entry_is_taken_back(database: Database, technician: Visitor, job: int) -> None:
    take_step(technician, job, PUMP)
    enter(technician, job, "finding", answer="silent")

    enter(technician, job, "finding_undone")

    assert find_job(database, job).answer_to(PUMP) is None


def test_reading_is_taken_with_its_unit(database: Database, technician: Visitor, job: int) -> None:
    page = take_step(technician, job, "meters_supply")
    assert "Reading in V" in page.text

    page = enter(technician, job, "finding", reading="117,5")

    assert find_job(database, job).answer_to("meters_supply") == 117.5
    assert "Voltage at the outlet: 117.5 V" in page.text


def test_test_that_could_not_be_run_is_recorded(
    database: Database, technician: Visitor, job: int
) -> None:
    take_step(technician, job, "looks_at_belt")

    page = enter(technician, job, "finding", answer="could_not_be_run")

    assert find_job(database, job).answer_to("looks_at_belt") == "could_not_be_run"
    assert page.status == 200


def test_another_step_is_taken_with_its_reason(technician: Visitor, job: int) -> None:
    page = take_step(technician, job, "looks_for_oil")

    now = page.root.all("section", id="now")[0]
    assert now.attributes["data-step"] == "looks_for_oil"
    assert "You chose this step. The program proposes:" in now.text
    assert "Took another step: Look for oil: It looked like it" in page.text


def test_result_off_the_plan_is_taken_and_said(technician: Visitor, job: int) -> None:
    take_step(technician, job, "looks_for_oil")

    page = enter(technician, job, "finding", answer="found")

    assert "Off the printed plan since “Look for oil: Found”" in page.text
    assert page.root.all("section", id="now")[0].all("h2")


def test_own_finding_second_fault_and_note_are_kept(technician: Visitor, job: int) -> None:
    enter(technician, job, "job_own_finding", component="drain_pump", text="A mouse nest")
    enter(technician, job, "job_second_fault", text="The lid squeaks")

    page = enter(technician, job, "job_note", text="Key under the pot")

    log = part(page, "log").text
    assert "Own finding: Drain pump: A mouse nest" in log
    assert "Second fault: The lid squeaks" in log
    assert "Note: Key under the pot" in log


@pytest.mark.parametrize("verified", list(Verified))
def test_repair_is_recorded_with_its_parts_and_what_the_check_run_showed(
    database: Database, technician: Visitor, job: int, verified: Verified
) -> None:
    take_step(technician, job, "replace_drain_pump")
    used = {"pieces:drain_pump:": "2"}

    page = enter(technician, job, "job_repair", verified=verified.value, **used)

    (repair,) = find_job(database, job).repairs
    assert isinstance(repair, RepairDone)
    assert [(one.part, one.pieces) for one in repair.pieces] == [("drain_pump", 2)]
    assert repair.verified is verified
    assert "2 × Drain pump" in page.text
    assert ("The check run shows that it works." in page.text) is (verified is Verified.WORKS)
    assert ("was not made yet" in page.text) is (verified is Verified.NOT_RUN)


def test_check_run_that_was_not_made_is_the_next_step(
    database: Database, technician: Visitor, job: int
) -> None:
    take_step(technician, job, "replace_drain_pump")
    page = enter(technician, job, "job_repair", verified="not_run")
    assert page.root.all("section", id="now")[0].attributes["data-step"] == "verification_run"

    page = enter(technician, job, "finding", answer="passes")

    assert "The check run shows that it works." in page.text
    assert any(link.endswith(f"/{job}/close") for link in page.links())


def test_quote_is_given_authorised_and_declined(
    database: Database, technician: Visitor, job: int
) -> None:
    page = enter(technician, job, "job_quote", what_for="Drain pump", amount="215,5")
    assert "215.50 USD for Drain pump" in page.text

    page = enter(technician, job, "job_quote_authorised", by_whom="Ada", how="By phone")
    assert "Yes from Ada, By phone, 02 Mar, 09:00" in page.text

    enter(technician, job, "job_quote", what_for="Drain pump", amount="390")
    page = enter(technician, job, "job_quote_declined", reason="Too dear")

    assert "No, 02 Mar, 09:00: Too dear" in page.text
    assert "The visit costs the fee alone: 90 USD." in page.text
    quote = find_job(database, job).quote
    assert quote is not None
    assert quote.given.amount_minor == 39000


def test_ordered_part_makes_the_job_wait_until_it_is_there(
    visitor: Visitor, technician: Visitor, job: int
) -> None:
    order = {"part": "main_control", "pieces": "1", "expected_on": "2026-03-09"}
    page = enter(technician, job, "job_part_ordered", **order)
    assert "expected on Mon 09 Mar" in page.text
    assert "expected on Mon 09 Mar" in technician.open("/jobs/waiting").text

    enter(technician, job, "job_part_arrived")

    page = visitor.open("/jobs/waiting")
    assert "Everything is there." in page.text
    assert f"/calls/{job}/book" in page.links()


def test_page_sent_twice_is_recorded_once_and_an_old_one_is_refused(
    database: Database, technician: Visitor, job: int
) -> None:
    page = technician.open(f"/jobs/{job}")
    number = form_of(page, "job_note")

    technician.send(page, {"text": "Once"}, action="/enter", number=number)
    again = technician.send(page, {"text": "Once"}, action="/enter", number=number)
    other = technician.send(page, {"text": "Other"}, action="/enter", number=number)

    assert again.status == 200
    assert other.status == 409
    assert len(find_job(database, job).told) == 1


def test_unknown_job_and_kind_give_a_page(technician: Visitor, job: int) -> None:
    assert technician.open("/jobs/99").status == 404
    page = technician.open(f"/jobs/{job}")

    refused = technician.send(page, {"kind": "dance"}, action="/enter")

    assert refused.status == 400
    assert technician.open("/stock/99").status == 404


def test_each_folded_part_says_what_is_inside(technician: Visitor, job: int) -> None:
    take_step(technician, job, "replace_drain_pump")
    page = enter(technician, job, "job_repair", verified="works", **{"pieces:drain_pump:": "1"})

    says = {one.attributes["id"]: one.all("summary")[0].text for one in folded(page)}

    assert says["where"].endswith("Booked · 10:00 to 12:00 · 1 Heron Lane, Larkham Hollow")
    assert says["log"] == "Found and done here 2 entries"
    assert says["photos"] == "Photos none yet"
    assert says["quote"] == "Quote none given"
    assert says["plan"].endswith(" more steps") or says["plan"].endswith(" steps")
    assert "%" in says["changed"]
    assert not [one for one in folded(page) if "open" in one.attributes]


def test_each_repair_of_the_plan_says_what_to_do_where_it_did_not_help(
    technician: Visitor, job: int
) -> None:
    (plan,) = technician.open(f"/jobs/{job}").root.all("details", id="plan")

    repairs = [one for one in plan.all("li") if one.attributes.get("data-kind") == "repair"]
    assert repairs
    for line in repairs:
        (then,) = line.all("p", class_="quiet plan-then")
        assert re.fullmatch(
            r"still not right: did it hold \(\d+ % not\)\?( Then step \d+\.)?",
            then.text,
        )
    assert "do it again if it did not hold" in plan.text


def test_every_part_of_the_sheet_can_be_shown_open(technician: Visitor, job: int) -> None:
    (link,) = [one for one in technician.open(f"/jobs/{job}").links() if "show=all" in one]

    parts = folded(technician.open(link))

    assert parts
    assert all("open" in one.attributes for one in parts)


def test_day_lists_the_visits_and_one_load_list(
    database: Database, technician: Visitor, job: int
) -> None:
    page = technician.open("/day")

    assert page.heading == "Today: Van 1"
    line = page.root.all("a", class_="visit-line next")[0]
    assert line.attributes["href"] == f"/jobs/{job}"
    assert "1. 10:00 to 12:00 Next Ada Fenwick 1" in line.text
    assert "for visit 1" in page.root.all("section", aria_labelledby="load-heading")[0].text
    kept = [
        node.attributes["data-url"] for node in page.root.all("li") if "data-url" in node.attributes
    ]
    assert kept == [f"/jobs/{job}", "/steps/top_load_washer?version=1"]


@pytest.mark.parametrize("query", ["?on=soon", "?van=x", "?van=99999999999", "?on=2026-03-09"])
def test_day_takes_any_address(technician: Visitor, job: int, query: str) -> None:
    assert technician.open(f"/day{query}").status == 200


def test_arriving_shows_on_the_day(technician: Visitor, job: int) -> None:
    enter(technician, job, "job_arrived")

    assert "Under way" in technician.open("/day").text


def test_ticked_pieces_are_put_aboard(database: Database, technician: Visitor, job: int) -> None:
    page = technician.open("/day")
    boxes = [box for box in page.root.all("input", type="checkbox") if "name" in box.attributes]
    (box,) = boxes[:1]
    ticked = {box.attributes["name"]: box.attributes["value"]}

    page = technician.send(page, ticked, action="/refill")

    assert page.heading == "Today: Van 1"
    part = box.attributes["name"].removeprefix("pieces:").removesuffix(":")
    take = page.root.all("fieldset", class_="ticks")[0].text
    assert box.attributes["name"] not in [
        one.attributes.get("name") for one in page.root.all("input", type="checkbox")
    ], (part, take)


def test_stock_is_counted_and_refilled(technician: Visitor, job: int) -> None:
    page = technician.open("/stock/1")
    page = technician.send(page, {"pieces:drain_pump:": "0"}, action="/count")
    assert "Drain pump aboard 0, wanted 1" in page.text

    page = technician.send(page, {}, action="/refill")

    assert "Nothing that was counted is below the level wanted." in page.text


def test_stock_is_not_for_the_office(visitor_as: VisitorAs, job: int) -> None:
    dispatcher = visitor_as("dispatcher")

    assert dispatcher.open("/stock/1").status == 403
    assert dispatcher.open(f"/jobs/{job}").status == 200


def test_every_step_of_an_appliance_is_one_page(technician: Visitor, job: int) -> None:
    page = technician.open("/steps/gas_dryer")

    assert page.status == 200
    assert "Igniter, cold" in page.text
    assert technician.open("/steps/toaster").status == 404
