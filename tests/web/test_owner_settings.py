"""Claims about the owner's pages for settings, prices, parts, minutes and lists by plate."""

import pytest
from flask import Flask

from tests.triage.job.playing_jobs import customer, phoned
from tests.web.page import Page, Visitor
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import Database
from triage.services.settings.shop_front import Taxed
from triage.services.shop.settings import current_front, current_settings, settings_history
from triage.services.shop.settings_data import check_whole, settings_data, text_with, value_at
from webform.desk import EXTENSION


def alert(page: Page) -> str:
    return page.root.all("div", role="alert")[0].text


def save(visitor: Visitor, values: dict[str, str | list[str]], path: str = "") -> Page:
    return visitor.send(visitor.open(f"/shop/settings{path}"), values)


def test_prices_and_tax_are_saved_with_the_reason(database: Database, visitor: Visitor) -> None:
    page = save(
        visitor,
        {
            "prices.service_fee": "95.50",
            "tax.rate": "8.25",
            "tax.on": ["labour", "parts"],
            "shop.name": "The Quiet Drum",
            "reason": "fuel",
        },
    )

    settings, front = current_settings(database), current_front(database)
    assert page.heading == "History of the settings"
    assert "fuel" in page.text
    assert settings.costs.service_fee_minor == 9550
    assert (front.tax_rate_basis_points, front.taxed) == (825, (Taxed.LABOUR, Taxed.PARTS))
    assert "The Quiet Drum" in page.root.all("header")[0].text


def test_form_shows_what_holds_and_saving_it_unchanged_changes_nothing(
    database: Database, visitor: Visitor
) -> None:
    save(visitor, {"prices.service_fee": "95.50", "tax.rate": "8.25", "tax.on": ["parts"]})
    before = (current_settings(database), current_front(database))

    save(visitor, {})

    assert (current_settings(database), current_front(database)) == before


def test_price_that_is_cleared_takes_its_default_again(
    database: Database, visitor: Visitor
) -> None:
    save(visitor, {"prices.service_fee": "95.50"})

    save(visitor, {"prices.service_fee": ""})

    assert current_settings(database).costs.service_fee_minor == 9000


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"prices.service_fee": "ninety"}, "Service fee must be a number from 0 to 1000"),
        ({"prices.service_fee": "1001"}, "Service fee must be a number from 0 to 1000"),
        (
            {"prices.service_fee": "90.001"},
            "Service fee: got 90.001; expected at most two decimals",
        ),
        ({"warranty.labour_days": "30.5"}, "Work, days must be a whole number from 0 to 3650"),
        ({"tax.rate": "8.255"}, "Rate in percent: got 8.255; expected at most two decimals"),
        ({"currency": "dollars"}, "Currency must be 3 characters or fewer"),
        ({"currency": "usd"}, 'Currency: got "usd"; expected an ISO 4217 code such as USD'),
        ({"desk.opening_hours.monday": "8-17"}, "Monday: expected times such as 08:00-17:00"),
        ({"shop.name": "x" * 81}, "Name must be 80 characters or fewer"),
        ({"unrepaired.cost": "300"}, "Enter either the share or the cost, and clear the other"),
        ({"reason": "x" * 501}, "The reason must be 500 characters or fewer"),
        ({"shop.units": "furlongs"}, 'Units of readings and lengths: got "furlongs"'),
    ],
)
def test_wrong_entry_is_told_beside_its_field_and_nothing_is_saved(
    database: Database, visitor: Visitor, values: dict[str, str], sentence: str
) -> None:
    page = save(visitor, values)

    assert page.heading == "Settings and prices"
    assert sentence in alert(page)
    assert settings_history(database) == ()


def test_changing_one_day_leaves_the_other_days_open(app: Flask, visitor: Visitor) -> None:
    save(visitor, {"desk.opening_hours.saturday": "09:00-12:00, 13:00-15:00"})

    with app.app_context():
        hours = app.extensions[EXTENSION].desk_settings().opening_hours
    assert sorted(day for day, spans in hours.items() if spans) == [0, 1, 2, 3, 4, 5]
    assert len(hours[5]) == 2


def test_settings_changed_in_another_window_are_not_overwritten(
    database: Database, visitor: Visitor
) -> None:
    old = visitor.open("/shop/settings")
    save(visitor, {"prices.service_fee": "95"})

    page = visitor.send(old, {"prices.service_fee": "80"})

    assert (page.status, page.heading) == (409, "Not recorded")
    assert current_settings(database).costs.service_fee_minor == 9500


def test_parts_have_prices_costs_and_pieces_on_the_van(
    database: Database, visitor: Visitor
) -> None:
    save(
        visitor,
        {
            "parts.drain_pump.price": "110",
            "parts.drain_pump.cost": "48.5",
            "parts.drain_pump.stock": "2",
        },
        "/parts",
    )

    own = current_settings(database).parts["drain_pump"]
    assert (own.price_minor, own.cost_minor, own.stock) == (11000, (4850, 4850), 2)


def test_wrong_part_is_told_with_its_field(database: Database, visitor: Visitor) -> None:
    page = save(visitor, {"parts.drain_pump.stock": "201"}, "/parts")

    assert "On the van must be a whole number from 0 to 200" in alert(page)
    assert settings_history(database) == ()


def test_minutes_are_set_by_appliance(database: Database, visitor: Visitor) -> None:
    page = visitor.open("/shop/settings/minutes?appliance=gas_dryer")

    visitor.send(page, {"minutes.repairs.replace_igniter": "25"})

    assert dict(current_settings(database).repair_minutes) == {"replace_igniter": 25}
    assert visitor.open("/shop/settings/minutes?appliance=toaster").status == 404


def test_text_is_saved_or_refused_with_every_line(database: Database, visitor: Visitor) -> None:
    bad = "format: 1\nprices: {service_fee: 9999}\ndesk: {window_minutes: 5}\nshop: {nam: x}\n"

    wrong = save(visitor, {"text": bad}, "/text")
    save(visitor, {"text": "format: 1\r\nprices: {service_fee: 95}\r\n"}, "/text")

    said = alert(wrong)
    assert "Line 2: prices.service_fee: got 9999; expected at most 1000." in said
    assert "Line 3: desk.window_minutes: got 5; expected at least 15." in said
    assert 'Line 4: shop.nam: got unknown key "nam"' in said
    assert [one.text for one in settings_history(database)] == [
        "format: 1\nprices: {service_fee: 95}\n"
    ]


def test_slip_that_is_allowed_is_remarked_on(visitor: Visitor) -> None:
    save(visitor, {"text": "format: 1\nprices: {service_fee: 1}\n"}, "/text")

    page = visitor.open("/shop/settings/text")

    assert "The service fee does not cover the cost of the trip." in page.text


def test_history_tells_the_changed_lines_of_each_version(visitor: Visitor) -> None:
    save(visitor, {"text": "format: 1\nprices: {service_fee: 95}\n"}, "/text")
    save(visitor, {"text": "format: 1\nprices: {service_fee: 99}\n", "reason": "fuel"}, "/text")

    page = visitor.open("/shop/settings/history/2")

    changed = page.root.all("pre", aria_label="Changed lines")[0].text
    assert changed == "-prices: {service_fee: 95} +prices: {service_fee: 99}"
    assert "fuel" in page.text
    assert visitor.open("/shop/settings/history/3").status == 404


def test_number_by_plate_is_added_shown_and_removed(database: Database, visitor: Visitor) -> None:
    page = visitor.open("/shop/plates")
    values = {"plate": "AB 4", "part": "drain_pump", "number": "P-100", "source": "job 3"}

    added = visitor.send(page, values)
    known = current_settings(database).parts["drain_pump"].variants[0].number
    removed = visitor.send(added, {}, action="/remove")

    assert "P-100" in added.text
    assert known == "P-100"
    assert "The list is empty." in removed.text


@pytest.mark.parametrize(
    ("path", "values", "sentences"),
    [
        (
            "/shop/plates",
            {},
            ["Enter how the plate begins", "Choose a part", "Enter your number of the part"],
        ),
        ("/shop/plates", {"part": "wheel"}, ["Choose a part"]),
        (
            "/shop/recalls",
            {},
            ["Enter how the plate begins", "Enter what to say", "Enter where the recall is from"],
        ),
        ("/shop/recalls", {"plate": "x" * 61}, ["plate must be 60 characters or fewer"]),
    ],
)
def test_incomplete_entry_by_plate_is_not_added(
    visitor: Visitor, path: str, values: dict[str, str], sentences: list[str]
) -> None:
    page = visitor.send(visitor.open(path), values)

    assert [one for one in sentences if one not in alert(page)] == []
    assert "The list is empty." in page.text


@pytest.mark.parametrize("path", ["/shop/plates", "/shop/recalls"])
def test_beginning_that_fits_every_plate_is_refused_beside_its_field(
    visitor: Visitor, path: str
) -> None:
    values = {
        "plate": "*",
        "part": "drain_pump",
        "number": "P-1",
        "text": "Stop",
        "source": "a letter",
    }

    page = visitor.send(visitor.open(path), values)

    assert "expected the beginning of a plate" in alert(page)


def test_recall_stands_above_call_and_closing_of_the_machine(
    database: Database, visitor: Visitor
) -> None:
    call_id = phoned(database, CallOutcome.VISIT, of=customer(database))
    other = phoned(database, CallOutcome.VISIT)
    values = {"plate": "ab-4", "text": "Stop using it", "source": "notice of 2026, invented"}
    visitor.send(visitor.open("/shop/recalls"), values)

    pages = [visitor.open(f"/calls/{number}/close") for number in (call_id, other)]

    recalls = [[aside.text for aside in page.root.all("aside")] for page in pages]
    assert recalls == [
        ["Recall of this machine. Stop using it notice of 2026, invented"],
        [],
    ]


def test_text_of_changed_data_keeps_the_rest_and_drops_what_is_empty(database: Database) -> None:
    data = {**settings_data(database), "parts": {"drain_pump": {"price": 110}}}

    text = text_with(data, {("parts", "drain_pump", "price"): None, ("tax", "rate"): 5})

    assert check_whole(text).problems == ()
    assert "drain_pump" not in text
    assert value_at(data, ("parts", "drain_pump", "price")) == 110
    assert value_at(data, ("parts", "wheel", "price")) is None


def test_units_and_dates_are_those_of_the_settings(visitor: Visitor) -> None:
    path = "/checks/dryer_duct?rule=irc&elbows_4in_90=2&elbows_4in_45=1&length=18+ft+6+in"
    before = visitor.open(path).root.all("section", class_="panel result inside")[0].text
    save(visitor, {"shop.units": "si", "shop.dates": "iso"})

    after = visitor.open(path).root.all("section", class_="panel result inside")[0].text

    assert "ft (" in before
    assert "m (" in after
    assert "2026-03-02, 09:00" in visitor.open("/shop/settings/history").text
