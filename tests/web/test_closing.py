"""Claims about the pages that close a job, and its invoice."""

from datetime import timedelta

import pytest
from flask import Flask

from tests.triage.job.playing_jobs import OBJECT, PUMP, customer, phoned, repaired
from tests.web.conftest import NINE, VisitorAs
from tests.web.page import Page, Visitor
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import Database, find_call
from triage.store.closings import ClosingData, find_closing
from webform.desk import EXTENSION

ON_SITE = NINE - timedelta(minutes=55)
YESTERDAY = NINE - timedelta(days=1)
WRONG = {
    "outcome": "",
    "minutes": "an hour",
    "fee": "-1",
    "labour": "1.234",
    "part_0_price": "",
    "part_1_price": "5",
    "part_0_pieces": "0",
    "note": "x" * 2001,
}


def of(app: Flask) -> Database:
    found: Database = app.extensions[EXTENSION].database
    return found


def job(app: Flask, **options: object) -> int:
    return repaired(of(app), at=ON_SITE, phoned_at=YESTERDAY, **options)


def kept(app: Flask, call_id: int) -> ClosingData:
    with of(app).reading() as session:
        found = find_closing(session, call_id)
    assert found is not None
    return found.data


def close(visitor: Visitor, call_id: int, **values: str) -> Page:
    return visitor.send(visitor.open(f"/calls/{call_id}/close"), values)


def test_job_is_closed_without_touching_a_field_when_the_plan_was_right(
    app: Flask, visitor_as: VisitorAs
) -> None:
    call_id = job(app)
    technician = visitor_as("technician")
    page = technician.open(f"/calls/{call_id}/close")

    after = technician.send(page, {})

    assert after.heading == f"Invoice of job {call_id}"
    found = kept(app, call_id)
    assert [(one["cause"], one["degree"]) for one in found.causes] == [(PUMP, "works_after_repair")]
    assert (found.outcome, found.minutes, found.verification) == ("repaired", 55, "works")
    assert not find_call(of(app), call_id).is_open


def test_page_says_first_what_one_press_records(app: Flask, visitor: Visitor) -> None:
    page = visitor.open(f"/calls/{job(app)}/close")

    said = page.root.all("section", class_="panel proposal")[0]
    sentences = [item.text for item in said.all("li")]
    assert sentences[0] == "Repaired"
    assert sentences[1].startswith("Drain pump")
    assert "55 minutes on site" in sentences
    assert sentences[-1].endswith("USD to pay")
    assert said.all("button")[0].text == "Close the job like this"


def test_every_mistake_is_told_beside_its_field_and_nothing_is_closed(
    app: Flask, visitor: Visitor
) -> None:
    call_id = job(app)

    page = close(visitor, call_id, **WRONG)

    said = page.root.all("div", role="alert")[0].text
    for sentence in (
        "Not closed yet",
        "Choose how the job ended",
        "The minutes on site must be a number from 1 to 2880",
        "The fee must be an amount such as 90 or 90.50",
        "The price of the work must be an amount such as 90 or 90.50",
        "Enter the price of one piece",
        "Choose the part that has this price, or clear the price",
        "Pieces of part 1 must be a whole number from 1 to 100",
        "The note must be 2000 characters or fewer",
    ):
        assert sentence in said
    with of(app).reading() as session:
        assert find_closing(session, call_id) is None


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"is_unsure": "y"}, "Choose at least two causes"),
        ({"part_0_part": "steering_wheel"}, "Choose a part"),
        ({"verification": "maybe"}, "Choose what the check run showed"),
        ({"callback_of": "77"}, "Choose an earlier job, or none"),
    ],
)
def test_what_the_page_does_not_offer_is_not_taken(
    app: Flask, visitor: Visitor, values: dict[str, str], sentence: str
) -> None:
    page = close(visitor, job(app), **values)

    assert sentence in page.root.all("div", role="alert")[0].text


def test_other_cause_part_and_price_are_recorded(app: Flask, visitor: Visitor) -> None:
    call_id = job(app)
    page = visitor.open(f"/calls/{call_id}/close")
    shown = {
        node.attributes["name"]: ""
        for node in page.root.all("select")
        if node.attributes["name"].startswith("cause_")
    }

    visitor.send(
        page,
        {
            **shown,
            "other_cause": "tub_bearing.worn",
            "other_degree": "seen",
            "part_1_part": "bearing_kit",
            "part_1_number": "B-7",
            "part_1_pieces": "2",
            "part_1_price": "1,020.5",
        },
    )

    found = kept(app, call_id)
    assert [one["cause"] for one in found.causes] == ["tub_bearing.worn"]
    assert [(part.part_id, part.variant, part.pieces, part.price_minor) for part in found.parts][
        1
    ] == ("bearing_kit", "B-7", 2, 102050)


def test_unsure_closing_names_each_cause_it_may_have_been(app: Flask, visitor: Visitor) -> None:
    call_id = job(app)

    close(
        visitor,
        call_id,
        **{f"cause_{PUMP}": "judged", f"cause_{OBJECT}": "judged", "is_unsure": "y"},
    )

    found = kept(app, call_id)
    assert found.is_unsure
    assert {one["cause"] for one in found.causes} == {PUMP, OBJECT}


def test_closed_job_says_so_and_is_not_closed_again(app: Flask, visitor: Visitor) -> None:
    call_id = job(app)
    close(visitor, call_id)

    page = visitor.open(f"/calls/{call_id}/close")
    again = visitor.send(page, {"fee": "0"})

    assert "Closed by Olin Marsh" in page.text
    assert (again.status, again.heading) == (409, "Not recorded")
    assert "was closed by Olin Marsh meanwhile" in again.text
    assert kept(app, call_id).fee_minor == 9000


def test_call_back_is_chosen_with_its_complaint(app: Flask, visitor: Visitor) -> None:
    who = customer(of(app))
    first = repaired(
        of(app), of=who, phoned_at=NINE - timedelta(days=300), at=NINE - timedelta(days=299)
    )
    close(visitor, first)
    second = job(app, of=who)

    unasked = close(visitor, second, callback_of=str(first), callback_kind="")
    close(visitor, second, callback_of=str(first), callback_kind="new")

    assert "Choose whether the complaint is the same" in unasked.text
    found = kept(app, second)
    assert (found.callback_of_id, found.callback_kind) == (first, "new")


def test_invoice_is_shown_and_given_as_text(app: Flask, visitor: Visitor) -> None:
    call_id = job(app, caller="Zebulon Quark")
    page = close(visitor, call_id)

    text = visitor.client.get(f"/calls/{call_id}/invoice.txt")

    shown = page.root.all("pre", id="invoice-text")[0]
    assert text.content_type == "text/plain; charset=utf-8"
    assert text.text.split() == shown.text.split()
    assert "Zebulon" not in page.text
    assert "Our work is guaranteed for 30 days, until 1 Apr 2026." in page.text


def test_job_that_is_not_closed_has_no_invoice(app: Flask, visitor: Visitor) -> None:
    page = visitor.open(f"/calls/{job(app)}/invoice")

    assert page.status == 404
    assert "is not closed" in page.text


def test_machine_of_others_has_no_causes_repairs_or_parts_to_choose(
    app: Flask, visitor: Visitor
) -> None:
    call_id = phoned(of(app), CallOutcome.REFER_OUT, at=YESTERDAY, network="heat_pump_dryer")
    page = visitor.open(f"/calls/{call_id}/close")

    after = visitor.send(page, {})

    assert [heading.text for heading in page.root.all("h2")] == ["Outcome", "Time and money"]
    assert after.status == 200
    assert kept(app, call_id).outcome == "referred_out"


def test_owner_corrects_a_closed_job_with_a_reason(app: Flask, visitor: Visitor) -> None:
    call_id = job(app)
    close(visitor, call_id)
    page = visitor.open(f"/calls/{call_id}/correct")

    unsaid = visitor.send(page, {"fee": "80"})
    after = visitor.send(page, {"fee": "80", "reason": "agreed on the phone"})

    assert "Enter why it is corrected" in unsaid.text
    assert after.heading == f"Closed job {call_id}"
    assert kept(app, call_id).fee_minor == 8000
    assert "corrected a closed job" in visitor.open("/shop/audit").text
