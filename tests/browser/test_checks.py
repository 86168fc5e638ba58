"""Checks on site and pictures of networks in a real browser."""

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenPage
from tests.browser.shop import PHONE
from tests.browser.test_call import tab_to

pytestmark = pytest.mark.browser


def test_check_is_worked_out_by_keyboard_without_javascript(open_page: OpenPage) -> None:
    page = open_page("/checks", java_script_enabled=False)
    tab_to(page, "Dryer duct length")
    page.keyboard.press("Enter")
    tab_to(page, "Elbows of 90 degrees, 4 in radius")
    page.keyboard.type("2")
    tab_to(page, "Length of the duct")
    page.keyboard.type("18 ft 6 in")

    page.keyboard.press("Enter")

    result = page.get_by_role("region", name="Result")
    expect(result).to_contain_text("Good. The duct is within the 25 ft allowed")  # 35 less 2 x 5 ft
    expect(page.get_by_label("Length of the duct, if known")).to_have_value("18 ft 6 in")


def test_result_stands_above_the_form_on_a_phone(open_page: OpenPage) -> None:
    page = open_page("/checks/standpipe", viewport=PHONE, has_touch=True)
    page.get_by_label("Trap above the floor").fill("8")
    page.get_by_label("End of the pipe above the floor").fill("60")

    page.get_by_role("button", name="Work it out").tap()

    result = page.get_by_role("region", name="Result")
    expect(result).to_contain_text("Not good.")
    expect(result).to_be_focused()
    expect(result).to_be_in_viewport()


def test_wrong_entry_leads_to_its_field(open_page: OpenPage) -> None:
    page = open_page("/checks/standpipe")
    page.get_by_label("Trap above the floor").fill("eight")
    page.keyboard.press("Enter")

    page.get_by_role("alert").get_by_role("link", name="Trap above the floor must be").click()

    expect(page.get_by_label("Trap above the floor")).to_be_focused()
    expect(page.get_by_label("Trap above the floor")).to_have_attribute("aria-invalid", "true")


def test_whole_picture_and_what_is_around_a_part_are_drawn(open_page: OpenPage) -> None:
    page = open_page("/networks")
    page.get_by_role("link", name="Top-load washer").click()
    picture = page.get_by_role("img", name="Top-load washer: causes and signs")
    expect(picture).to_be_visible()
    fills = "node => [...node.querySelectorAll('path')].map(one => getComputedStyle(one).stroke)"
    assert len(set(picture.evaluate(fills))) > 5  # colours are attributes, which the policy allows

    page.get_by_label("Component or sign").select_option(label="Drain pump")
    page.get_by_role("button", name="Show what is around it").click()

    expect(page.locator("h1")).to_have_text("Around: Drain pump")
    expect(page.get_by_role("img", name="Top-load washer: Drain pump")).to_be_visible()


def test_picture_alone_opens_as_a_file(open_page: OpenPage) -> None:
    page = open_page("/networks/gas_dryer/picture.svg")

    size = page.evaluate("document.documentElement.getBoundingClientRect().width")

    assert page.evaluate("document.documentElement.tagName") == "svg"
    assert size > 1000  # pixels; it is drawn 1190 wide


def test_network_is_printed_with_its_picture_and_without_forms(open_page: OpenPage) -> None:
    page = open_page("/networks/gas_dryer")

    page.emulate_media(media="print")

    expect(page.get_by_role("img", name="Gas dryer: causes and signs")).to_be_visible()
    expect(page.get_by_role("heading", name="Repairs")).to_be_visible()
    expect(page.locator("form")).to_be_hidden()
    assert len(page.pdf()) > 50_000


def test_check_is_printed_with_what_was_entered(open_page: OpenPage) -> None:
    page = open_page("/checks/dryer_duct?elbows_4in_90=2&length=18+ft+6+in")
    expect(page.get_by_text("From what was entered")).to_be_hidden()

    page.emulate_media(media="print")

    expect(page.get_by_text("From what was entered")).to_be_visible()
    expect(page.get_by_text("18.5 ft", exact=True)).to_be_visible()
    expect(page.locator("form")).to_be_hidden()
