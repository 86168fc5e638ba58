"""The technician's pages in a real browser: on a phone, by keyboard, on paper."""

import re
from pathlib import Path

import pytest
from flask import Flask
from playwright.sync_api import Page, expect

from tests.browser.axe import axe_findings
from tests.browser.conftest import OpenPage
from tests.browser.shop import DESKTOP, PHONE
from tests.browser.site import add_day, database_of, shop_of_the_day
from tests.browser.test_call import tab_to
from tests.web.technician import SIGNS
from triage.services.job.sheet import find_job

pytestmark = pytest.mark.browser

PAGE_OF_PDF = re.compile(rb"/Type\s*/Page\b(?!s)")
COUNT_OF_PDF = re.compile(rb"/Count\s+(\d+)")  # of the root of the pages


@pytest.fixture
def shop_app(tmp_path: Path) -> Flask:
    return shop_of_the_day(tmp_path)


@pytest.fixture
def calls(shop_app: Flask) -> dict[str, int]:
    return add_day(shop_app)


@pytest.fixture
def on_phone(calls: dict[str, int], open_page: OpenPage) -> Page:
    """The day on the technician's phone."""
    return open_page("/day", role="technician", viewport=PHONE, has_touch=True)


def now(page: Page) -> str:
    return page.locator("#now h2").inner_text()


def choose_step(page: Page, step: str) -> None:
    """Overrule the proposal with a step of one's own."""
    page.get_by_text("Take another step").click()
    page.get_by_label("Step", exact=True).select_option(step)
    page.get_by_label("Why", exact=True).fill("I saw it")
    page.get_by_role("button", name="Take this step").click()
    expect(page.locator(".given-answers")).to_contain_text("I saw it")
    expect(page.locator("#now")).to_have_attribute("data-step", step)


def test_day_leads_to_a_job_and_a_tap_records_a_result(
    shop_app: Flask, calls: dict[str, int], on_phone: Page
) -> None:
    on_phone.locator(".visit-line").first.click()
    expect(on_phone.locator("h1")).to_contain_text("Ada Fenwick 1")
    choose_step(on_phone, "tests_drain_pump")

    on_phone.locator("#now").get_by_role("button", name="Silent").click()

    expect(on_phone.locator("#changed-heading")).to_be_visible()
    expect(on_phone.locator(".given-answers").first).to_contain_text("Drain pump on: Silent")
    job = find_job(database_of(shop_app), calls["top_load_washer"])
    assert job.answer_to("tests_drain_pump") == "silent"
    assert on_phone.evaluate("localStorage.getItem('triage.entries')") in (None, "[]")


def test_answers_are_large_enough_for_a_thumb(calls: dict[str, int], on_phone: Page) -> None:
    on_phone.goto(f"/jobs/{calls['gas_dryer']}")

    heights = [one.bounding_box() for one in on_phone.locator("#now .answer").all()]

    assert heights
    assert all(box is not None and box["height"] >= 44 for box in heights)


@pytest.mark.parametrize("kind", SIGNS)
def test_step_to_do_now_is_on_the_first_screen_of_a_phone(
    calls: dict[str, int], on_phone: Page, kind: str
) -> None:
    on_phone.goto(f"/jobs/{calls[kind]}")

    now = on_phone.locator("#now")
    shown = [
        *now.locator("h2, .good, .caution, .answer").all(),
        *now.locator("input:visible").all(),
    ]
    boxes = [box for one in shown if (box := one.bounding_box()) is not None]

    assert now.locator(".answer").count() >= 3
    assert now.locator(".caution").count() == 1
    assert len(boxes) == len(shown)
    assert all(box["y"] >= 0 for box in boxes)
    assert max(box["y"] + box["height"] for box in boxes) <= PHONE["height"]


def test_parts_of_the_sheet_open_without_javascript(
    calls: dict[str, int], open_page: OpenPage
) -> None:
    path = f"/jobs/{calls['gas_dryer']}"
    page = open_page(path, role="technician", viewport=PHONE, java_script_enabled=False)
    for name in ("where", "log", "causes", "load", "plan", "cautions", "quote", "order", "photos"):
        summary = page.locator(f"#{name} > summary")
        inside = page.locator(f"#{name} > :not(summary)").first
        expect(inside).to_be_hidden()
        box = summary.bounding_box()
        assert box is not None
        assert box["height"] >= 44

        summary.click()

        expect(inside).to_be_visible()


def test_reading_that_is_no_number_is_told_beside_the_field(
    calls: dict[str, int], open_page: OpenPage
) -> None:
    path = f"/jobs/{calls['gas_dryer']}"
    page = open_page(path, role="technician", viewport=PHONE, java_script_enabled=False)
    page.locator("#another > summary").click()
    page.locator("#taken").select_option("meters_supply")
    page.locator("#taken-reason").fill("I saw it")
    page.get_by_role("button", name="Take this step").click()

    page.get_by_label("Reading in").fill("much")
    page.get_by_role("button", name="Enter the reading").click()

    field = page.get_by_label("Reading in")
    expect(field).to_be_focused()
    expect(field).to_have_value("much")
    expect(field).to_have_accessible_description(re.compile("“much” cannot be a reading"))


def test_repair_by_keyboard_leads_to_closing(calls: dict[str, int], open_page: OpenPage) -> None:
    page = open_page(f"/jobs/{calls['top_load_washer']}", role="technician")
    choose_step(page, "replace_drain_pump")
    page.wait_for_load_state("networkidle")

    tab_to(page, "Done, and it works")
    expect(page.get_by_role("button", name="Done, and it works")).to_be_focused()
    page.keyboard.press("Enter")

    expect(page.get_by_text("The check run shows that it works.")).to_be_visible()
    expect(page.get_by_role("link", name="Close the job").first).to_be_visible()


def test_entry_that_is_refused_at_once_is_told_beside_its_field(
    shop_app: Flask, calls: dict[str, int], on_phone: Page
) -> None:
    on_phone.goto(f"/jobs/{calls['top_load_washer']}")
    choose_step(on_phone, "meters_supply")
    field = on_phone.get_by_label("Reading in V")
    field.fill("much")
    on_phone.get_by_role("button", name="Enter the reading").click()

    expect(field).to_be_focused()
    expect(field).to_have_value("much")
    expect(field).to_have_accessible_description(re.compile("“much” cannot be a reading"))
    expect(on_phone.locator("#unsent")).to_be_hidden()
    assert axe_findings(on_phone) == []
    field.fill("117.5")
    on_phone.get_by_role("button", name="Enter the reading").click()

    expect(on_phone.locator("#log")).to_contain_text("117.5 V")


def test_entry_that_is_refused_later_is_said_and_can_be_dropped(
    calls: dict[str, int], on_phone: Page
) -> None:
    on_phone.goto(f"/jobs/{calls['top_load_washer']}")
    choose_step(on_phone, "meters_supply")
    on_phone.context.set_offline(True)
    on_phone.get_by_label("Reading in V").fill("much")
    on_phone.get_by_role("button", name="Enter the reading").click()
    expect(on_phone.locator("#unsent")).to_contain_text("1 waiting to be sent.")

    on_phone.context.set_offline(False)

    expect(on_phone.locator("#unsent")).to_contain_text("not recorded")
    on_phone.get_by_role("button", name="Drop").click()
    expect(on_phone.locator("#unsent")).to_be_hidden()


def test_ticks_of_the_load_list_stay_on_the_device(on_phone: Page) -> None:
    box = on_phone.locator("[data-ticks] input[type=checkbox]").first
    box.check()

    on_phone.reload()

    expect(on_phone.locator("[data-ticks] input[type=checkbox]").first).to_be_checked()


def test_axe_finds_nothing_on_the_technicians_pages(
    calls: dict[str, int], open_page: OpenPage
) -> None:
    page = open_page("/day", role="technician")
    job = f"/jobs/{calls['electric_dryer']}"
    paths = ["/day", job, "/jobs/waiting", "/stock/1", "/steps/gas_dryer"]

    found = {}
    for path in paths:
        page.goto(path)
        for closed in page.locator("main summary:visible").all():
            closed.click()
        for size, scheme in ((DESKTOP, "light"), (PHONE, "dark")):
            page.set_viewport_size(size)  # type: ignore[arg-type]
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found[path, scheme] = axe_findings(page)

    assert {place: findings for place, findings in found.items() if findings} == {}


def test_no_page_of_the_technician_is_wider_than_the_screen(
    calls: dict[str, int], on_phone: Page
) -> None:
    wide = {}
    for path in ("/day", f"/jobs/{calls['gas_dryer']}", "/stock/1", "/steps/gas_dryer"):
        on_phone.goto(path)
        for width in (320, 390, 820):
            on_phone.set_viewport_size({"width": width, "height": 800})
            inner = on_phone.evaluate("document.documentElement.scrollWidth")
            if inner > width:
                wide[path, width] = inner

    assert wide == {}


@pytest.mark.parametrize("kind", SIGNS)
def test_printed_sheet_has_two_pages_and_the_way_back(
    calls: dict[str, int], open_page: OpenPage, kind: str
) -> None:
    page = open_page(f"/jobs/{calls[kind]}", role="technician")

    pages = {}
    for paper in ("A4", "Letter"):
        pdf = page.pdf(format=paper)
        pages[paper] = len(PAGE_OF_PDF.findall(pdf))
        assert int(COUNT_OF_PDF.findall(pdf)[0]) == pages[paper]  # two ways to count agree
    page.emulate_media(media="print")

    assert all(1 <= count <= 2 for count in pages.values()), pages
    expect(page.locator(".qr-code")).to_be_visible()
    expect(page.locator("#now form").first).to_be_hidden()
    expect(page.get_by_role("heading", name="Plan", exact=True)).to_be_visible()
    folded = page.locator("details.part:not(.no-print)")
    assert folded.count() >= 5
    for part in folded.all():
        inside = part.locator("> :not(summary)").first.bounding_box()
        assert inside is not None
        assert inside["height"] > 5
