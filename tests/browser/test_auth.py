"""Signing in and out in a real browser: keyboard only, axe, what the browser keeps."""

import pytest
from playwright.sync_api import expect

from tests.browser.axe import axe_findings
from tests.browser.conftest import OpenPage
from tests.browser.shop import DESKTOP, PHONE
from tests.browser.test_call import tab_to
from webform.demo_people import DEMO_PEOPLE

pytestmark = pytest.mark.browser

DISPATCHER = DEMO_PEOPLE[0]


def test_signing_in_by_keyboard_leads_to_the_page_that_was_asked_for(open_page: OpenPage) -> None:
    page = open_page("/calls/new", role="", java_script_enabled=False)
    expect(page.locator("h1")).to_have_text("Sign in")
    tab_to(page, "Login")
    page.keyboard.type(DISPATCHER.login)
    page.keyboard.press("Tab")
    page.keyboard.type(DISPATCHER.password)

    page.keyboard.press("Enter")

    expect(page.locator("h1")).to_have_text("New call")
    expect(page.get_by_role("link", name=DISPATCHER.name)).to_be_visible()


def test_wrong_password_is_said_where_the_focus_is(open_page: OpenPage) -> None:
    page = open_page("/sign-in", role="")
    page.get_by_label("Login").fill(DISPATCHER.login)
    page.get_by_label("Password").fill("a wrong one")

    page.keyboard.press("Enter")

    summary = page.locator("main [role=alert]")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("Login and password do not go together")
    expect(page.get_by_label("Password")).to_have_value("")
    expect(page.get_by_label("Login")).to_have_value(DISPATCHER.login)
    summary.get_by_role("link").click()
    expect(page.get_by_label("Password")).to_be_focused()
    assert axe_findings(page) == []


@pytest.mark.parametrize("size", [DESKTOP, PHONE])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_sign_in_page(
    open_page: OpenPage, size: dict[str, int], scheme: str
) -> None:
    page = open_page("/sign-in", role="", viewport=size, color_scheme=scheme)

    assert axe_findings(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]


def test_button_of_the_demo_signs_in_and_leads_to_ones_work(open_page: OpenPage) -> None:
    page = open_page("/", role="")

    page.get_by_role("button", name="Technician: ").click()

    expect(page.locator("h1")).not_to_have_text("Sign in")
    expect(page.get_by_role("link", name="New call")).to_have_count(0)
    expect(page.get_by_role("link", name="Shop", exact=True)).to_have_count(0)


def test_signing_out_leaves_nothing_on_the_device(open_page: OpenPage) -> None:
    page = open_page("/account", role="dispatcher")
    page.evaluate("localStorage.setItem('sheet', 'a customer')")

    page.get_by_role("button", name="Sign out", exact=True).click()

    expect(page.locator("h1")).to_have_text("Sign in")
    assert page.evaluate("localStorage.getItem('sheet')") is None
    page.go_back()
    page.reload()
    expect(page.locator("h1")).to_have_text("Sign in")


def test_person_is_added_by_the_owner_and_chooses_a_password_by_keyboard(
    open_page: OpenPage,
) -> None:
    page = open_page("/shop/people/new")
    page.get_by_label("Name").fill("Fenn Oakley")
    page.get_by_label("Login").fill("fenn")
    page.get_by_label("Dispatcher").check()
    page.get_by_role("button", name="Add the person").click()
    password = page.locator(".secret").inner_text()

    other = open_page("/sign-in", role="")
    for typed in ("fenn", password):
        tab_to(other, "Login" if typed == "fenn" else "Password")
        other.keyboard.type(typed)
    other.keyboard.press("Enter")
    expect(other.locator("h1")).to_have_text("Choose your own password")
    own = "a green kettle sings"
    for label, typed in (("Present", password), ("New password", own), ("New password again", own)):
        other.get_by_label(label, exact=label == "New password").first.fill(typed)
    other.keyboard.press("Enter")

    expect(other.locator("h1")).to_have_text("Calls")
