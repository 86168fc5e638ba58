"""What a page shows after something was done, and on paper; every page: test_every_page.py."""

import pytest
from playwright.sync_api import expect

from tests.browser.axe import axe_findings
from tests.browser.conftest import OpenPage
from tests.browser.test_call import open_questions

pytestmark = pytest.mark.browser


def test_axe_finds_nothing_on_a_form_sent_empty(open_page: OpenPage) -> None:
    page = open_page("/calls/new")

    page.get_by_role("button", name="Go on").click()

    expect(page.locator("main [role=alert]")).to_be_focused()
    assert axe_findings(page) == []


def test_axe_finds_nothing_after_a_live_update(open_page: OpenPage) -> None:
    page = open_questions(open_page)
    page.keyboard.press("1")
    expect(page.locator(".given-answers li")).to_have_count(3)
    for closed in page.locator("summary").all():
        closed.click()

    assert axe_findings(page) == []


def test_plan_is_printed_without_what_only_a_screen_needs(open_page: OpenPage) -> None:
    page = open_page("/calls/4/plan", viewport={"width": 703, "height": 1000})  # A4 less margins

    page.emulate_media(media="print")

    expect(page.locator(".top")).to_be_hidden()
    expect(page.locator(".steps")).to_be_hidden()
    expect(page.get_by_role("heading", name="Tests in order")).to_be_visible()
    expect(page.get_by_role("columnheader", name="If it shows").first).to_be_visible()
    assert len(page.pdf()) > 10_000
