"""Closing a job and the owner's pages in a real browser."""

from datetime import UTC, datetime, timedelta

import pytest
from flask import Flask
from playwright.sync_api import expect

from tests.browser.axe import axe_findings
from tests.browser.conftest import OpenPage
from tests.browser.shop import DESKTOP, PHONE
from tests.triage.job.playing_jobs import customer, repaired
from triage.services.calls.calls import Database
from triage.services.people.audit import Stamp
from triage.services.shop.plates import add_number, add_recall
from webform.desk import EXTENSION

pytestmark = pytest.mark.browser

SCREENS = ((DESKTOP, "light"), (DESKTOP, "dark"), (PHONE, "light"))
WIDTHS = (320, 390, 820)
PATHS = (
    "/calls/{job}/close",
    "/calls/{job}/invoice",
    "/calls/{job}/correct",
    "/shop/closed",
    "/shop/closed/{job}",
    "/shop/settings",
    "/shop/settings/parts",
    "/shop/settings/minutes",
    "/shop/settings/text",
    "/shop/settings/history",
    "/shop/settings/history/1",
    "/shop/plates",
    "/shop/recalls",
    "/shop/customers/{customer}/erase",
)


def job(app: Flask) -> tuple[int, int]:
    """Numbers of a job that is to be closed, and of its customer."""
    database: Database = app.extensions[EXTENSION].database
    now = datetime.now(UTC)
    who = customer(database, at=now - timedelta(days=2))
    before, on_site = now - timedelta(days=1), now - timedelta(minutes=52)
    return repaired(database, at=on_site, phoned_at=before, of=who), who[0]


def test_job_is_closed_with_one_press_and_no_field_touched(
    open_page: OpenPage, shop_app: Flask
) -> None:
    number, _ = job(shop_app)
    page = open_page(f"/calls/{number}/close", role="technician", viewport=PHONE)
    typed = page.locator("input:visible, select:visible, textarea:visible")
    assert typed.count() > 10

    page.get_by_role("button", name="Close the job like this").click()

    expect(page.locator("h1")).to_have_text(f"Invoice of job {number}")
    expect(page.get_by_role("button", name="Copy the text")).to_be_visible()


def test_job_is_closed_without_javascript(open_page: OpenPage, shop_app: Flask) -> None:
    number, _ = job(shop_app)
    page = open_page(f"/calls/{number}/close", java_script_enabled=False)
    page.get_by_label("Fee").fill("ninety")
    page.get_by_role("button", name="Close the job", exact=True).click()
    expect(page.locator("main [role=alert]")).to_contain_text("The fee must be an amount")

    page.get_by_label("Fee").fill("85")
    page.get_by_role("button", name="Close the job", exact=True).click()

    expect(page.locator(".invoice")).to_contain_text("85.00")


def test_axe_finds_nothing_on_closing_and_owner_pages(open_page: OpenPage, shop_app: Flask) -> None:
    number, who = job(shop_app)
    database: Database = shop_app.extensions[EXTENSION].database
    stamp = Stamp(datetime.now(UTC), "owner")
    add_recall(database, "AB 4", "Stop using it (invented)", "notice, invented", stamp)
    add_number(database, "AB 4", "drain_pump", "P-100", "", stamp)
    page = open_page(f"/calls/{number}/close")
    findings = {"close": axe_findings(page)}
    page.get_by_role("button", name="Close the job like this").click()
    expect(page.locator(".invoice")).to_be_visible()
    page.goto("/shop/settings/text")
    page.get_by_role("button", name="Check and save").click()
    expect(page.locator("h1")).to_have_text("History of the settings")

    wide = {}
    for path in (one.format(job=number, customer=who) for one in PATHS):
        page.goto(path)
        for size, scheme in SCREENS:
            page.set_viewport_size(size)  # type: ignore[arg-type]
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            findings[f"{path} {scheme} {size['width']}"] = axe_findings(page)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            inner = page.evaluate("document.documentElement.scrollWidth")
            if inner > width:
                wide[path, width] = inner

    assert {place: found for place, found in findings.items() if found} == {}
    assert wide == {}


def test_wrong_settings_are_told_and_focused(open_page: OpenPage) -> None:
    page = open_page("/shop/settings")
    page.get_by_label("Service fee").fill("9999")

    page.get_by_role("button", name="Save the settings").click()

    alert = page.locator("main [role=alert]")
    expect(alert).to_be_focused()
    expect(alert).to_contain_text("Service fee must be a number from 0 to 1000")
    assert axe_findings(page) == []


def test_invoice_is_printed_without_what_is_for_the_shop(
    open_page: OpenPage, shop_app: Flask
) -> None:
    number, _ = job(shop_app)
    page = open_page(f"/calls/{number}/close")
    page.get_by_role("button", name="Close the job like this").click()
    expect(page.locator(".invoice")).to_be_visible()

    page.emulate_media(media="print")

    expect(page.locator("#invoice-text")).to_be_hidden()
    expect(page.locator(".top")).to_be_hidden()
    expect(page.locator(".invoice")).to_be_visible()
