"""The dispatcher's day in a real browser: from a call to a booked visit, and two on one call."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.shop import PHONE
from tests.browser.test_call import begin_by_keyboard, tab_to, tick_first_sign

pytestmark = pytest.mark.browser


def to_signs_by_keyboard(page: Page) -> None:
    """From the list of calls to the signs, with one key an answer."""
    begin_by_keyboard(page)
    for _ in range(page.locator(".danger-question").count()):
        page.keyboard.press("n")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Can we help?")
    expect(page.get_by_label("What is the postcode or the town")).to_be_focused()
    page.keyboard.type("Larkham Hollow")
    page.keyboard.press("Tab")
    page.keyboard.press("n")  # no warranty
    page.keyboard.press("o")  # own machine
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("What the caller said")


def test_call_to_a_booked_visit_by_keyboard(open_page: OpenPage) -> None:
    page = open_page("/", role="dispatcher")
    to_signs_by_keyboard(page)
    tick_first_sign(page)
    tab_to(page, "End the call")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("End the call")
    tab_to(page, "Solved on the phone")
    while page.locator("input[value=visit]:checked").count() == 0:
        page.keyboard.press("ArrowDown")
    tab_to(page, "End the call")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("Book a visit for call")

    tab_to(page, "Book the visit")  # the earliest time is chosen
    page.keyboard.press("Enter")

    expect(page.locator("h1")).to_have_text(re.compile(r"Visit \d+: Blue door"))
    expect(page.locator("#confirmation")).to_contain_text("arrival between")


def test_visit_is_moved_to_an_evening_once_that_is_confirmed(open_page: OpenPage) -> None:
    page = open_page("/visits/1", role="dispatcher", viewport=PHONE)
    page.get_by_role("link", name="Move to another time or van").click()
    page.get_by_role("link", name="A time that is not listed").click()
    tomorrow = page.evaluate("new Date(Date.now() + 864e5).toISOString().slice(0, 10)")
    page.get_by_label("Day").fill(tomorrow)
    page.get_by_label("Begins at").fill("21:30")
    expect(page.get_by_role("checkbox")).to_have_count(0)

    page.get_by_role("button", name="Move the visit to this time").click()
    expect(page.get_by_role("alert")).to_contain_text("is outside opening hours")
    page.get_by_label("Yes, the visit is to be outside opening hours").check()
    page.get_by_role("button", name="Move the visit to this time").click()

    expect(page.locator("h1")).to_contain_text("Visit 1")
    expect(page.locator("h2").first).to_contain_text("21:30 to")


def test_confirmation_is_copied_by_its_button(open_page: OpenPage) -> None:
    page = open_page("/visits/1")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])

    page.get_by_role("button", name="Copy the text").click()

    expect(page.get_by_text("Copied.")).to_be_visible()
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied == page.locator("#confirmation").text_content()


def test_returning_caller_is_found_while_typing_and_nothing_typed_is_lost(
    open_page: OpenPage,
) -> None:
    page = open_page("/calls/new", role="dispatcher")
    page.get_by_label("What the caller says").fill("It hums")
    page.evaluate("window.sameDocument = true")

    page.get_by_label("Name or number").press_sequentially("oakh")

    expect(page.locator("#found")).to_contain_text("Maren Oakhill: Top-load washer")
    assert page.evaluate("window.sameDocument")
    expect(page.get_by_label("What the caller says")).to_have_value("It hums")
    page.get_by_role("link", name="Maren Oakhill: Top-load washer").click()
    expect(page.get_by_label("Caller", exact=True)).to_have_value("Maren Oakhill")


def test_second_dispatcher_sees_what_the_first_entered_and_keeps_the_words(
    open_page: OpenPage,
) -> None:
    first = open_page("/calls/4/note", role="dispatcher")
    second = open_page("/calls/4/note", role="owner")
    first.get_by_label("Note", exact=True).fill("Ring twice")
    first.get_by_role("button", name="Take the note").click()
    expect(first.get_by_text("Ring twice").first).to_be_visible()

    second.get_by_label("Note", exact=True).fill("Beware of the dog")
    second.get_by_role("button", name="Take the note").click()

    expect(second.locator("h1")).to_have_text("Not recorded")
    expect(second.get_by_role("table")).to_contain_text("Note: Ring twice")
    expect(second.get_by_role("table")).to_contain_text("Wren Ashby")
    second.get_by_role("button", name="Record my entry all the same").click()
    expect(second.get_by_text("Beware of the dog").first).to_be_visible()
    expect(second.get_by_text("Ring twice").first).to_be_visible()


def test_fields_of_a_tenant_show_only_for_a_tenant(open_page: OpenPage) -> None:
    page = open_page("/calls/6/help")
    pays = page.get_by_label("Who pays for the repair, and has that been agreed?")
    expect(pays).to_be_hidden()

    page.get_by_label("The landlord's").check()

    expect(pays).to_be_visible()
