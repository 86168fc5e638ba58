"""Claims about the units of the shop: what pages show, and what is typed, in either of them."""

import json
from uuid import uuid4

import pytest

from tests.web.page import Page, Visitor
from tests.web.sheet_forms import enter, take_step
from tests.web.technician import booked_call, booked_visit, van_of
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.calls.calls import Database
from triage.services.job.sheet import find_job, job_sheet

BACK_PRESSURE = "meters_back_pressure"


def dryer_job(database: Database, number: int = 1) -> int:
    call_id = booked_call(database, "electric_dryer", number)
    booked_visit(database, call_id, van_of(database) if number == 1 else 1 + number)
    return call_id


def choose(visitor: Visitor, units: str) -> None:
    visitor.send(visitor.open("/shop/settings"), {"shop.units": units})


def step_now(page: Page) -> str:
    return page.root.all("section", id="now")[0].text


@pytest.mark.parametrize(
    ("units", "told", "label", "not_told"),
    [
        ("us", "Not over 0.6 in w.c.", "Reading in in w.c.", " Pa"),
        ("si", "Not over 149 Pa", "Reading in Pa", " w.c."),
    ],
)
def test_step_says_what_is_good_in_the_units_of_the_shop(
    database: Database,
    visitor: Visitor,
    technician: Visitor,
    units: str,
    told: str,
    label: str,
    not_told: str,
) -> None:
    choose(visitor, units)
    job = dryer_job(database)

    now = step_now(take_step(technician, job, BACK_PRESSURE))

    assert told in now
    assert label in now
    assert not_told not in now


def test_reading_typed_in_si_gives_the_same_ranking_as_in_us_units(
    database: Database, visitor: Visitor, technician: Visitor
) -> None:
    in_us, in_si = dryer_job(database), booked_call(database, "electric_dryer", 2)
    take_step(technician, in_us, BACK_PRESSURE)
    enter(technician, in_us, "finding", reading="1")
    choose(visitor, "si")
    take_step(technician, in_si, BACK_PRESSURE)

    page = enter(technician, in_si, "finding", reading="249.08891")

    assert find_job(database, in_si).answer_to(BACK_PRESSURE) == 1.0
    sheets = [job_sheet(database, one, DEFAULT_SETTINGS) for one in (in_us, in_si)]
    rankings = [one.ranking for one in sheets if one.ranking is not None]
    assert len(rankings) == 2
    assert rankings[0].causes == rankings[1].causes
    assert "Static pressure at the dryer outlet: 249 Pa" in page.text


def test_reading_that_cannot_be_is_refused_in_the_units_of_the_shop(
    database: Database, visitor: Visitor, technician: Visitor
) -> None:
    choose(visitor, "si")
    job = dryer_job(database)
    take_step(technician, job, BACK_PRESSURE)

    page = enter(technician, job, "finding", reading="1490")

    assert page.status == 400
    assert "Expected 0 to 498 Pa, not 1490 Pa." in page.text
    assert find_job(database, job).answer_to(BACK_PRESSURE) is None


def test_reading_kept_without_signal_counts_in_the_unit_it_was_typed_in(
    database: Database, visitor: Visitor, technician: Visitor
) -> None:
    job = dryer_job(database)
    page = take_step(technician, job, BACK_PRESSURE)
    unit = page.root.all("input", name="unit")[0].attributes["value"]
    choose(visitor, "si")

    technician.client.post(
        f"/jobs/{job}/entries",
        data=json.dumps(
            {
                "sent_at": "2026-03-02T09:00:00Z",
                "entries": [
                    {
                        "id": uuid4().hex,
                        "kind": "finding",
                        "fields": {
                            "observation": BACK_PRESSURE, "reading": "0,4", "unit": unit,
                        },
                        "made_at": "2026-03-02T09:00:00Z",
                        "shown_version": 1,
                    }
                ],
            }
        ),
        content_type="application/json",
        headers={"X-CSRFToken": technician.client.get("/jobs/token").get_json()["token"]},
    )  # fmt: skip

    assert find_job(database, job).answer_to(BACK_PRESSURE) == 0.4


def test_every_step_for_off_line_use_is_in_the_units_of_the_shop(visitor: Visitor) -> None:
    choose(visitor, "si")

    page = visitor.open("/steps/electric_dryer")

    step = page.root.all("details", data_step_of=BACK_PRESSURE)[0]
    assert step.attributes["data-high"] == "149"
    assert "10.6 m" in page.root.all("details", data_step_of="measures_duct")[0].text


@pytest.mark.parametrize(
    ("units", "length", "told"),
    [("us", "18.5", "18.5 ft"), ("si", "5.6388", "5.639 m"), ("si", "18 ft 6 in", "5.639 m")],
)
def test_check_takes_a_bare_number_in_the_units_of_the_shop(
    visitor: Visitor, units: str, length: str, told: str
) -> None:
    choose(visitor, units)

    page = visitor.open(f"/checks/dryer_duct?rule=irc&elbows_4in_90=2&length={length}")

    assert told in page.root.all("section", aria_labelledby="result")[0].text
    assert "to 60.96 m (or in ft" in page.text or units == "us"


def test_radius_of_an_elbow_is_named_in_the_units_of_the_shop(visitor: Visitor) -> None:
    choose(visitor, "si")

    text = visitor.open("/checks/dryer_duct").text

    assert "Elbows of 90 degrees, 10 cm radius, mitred" in text
    assert "in radius" not in text
