"""Every page in a real browser: nothing for axe to find, nothing wider than the screen, print."""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.shop import DESKTOP, PHONE

pytestmark = pytest.mark.browser

AXE = (Path(__file__).parent / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

# The demo's calls: 1 ended, 2 stopped, 3 to be made safe, 4 in the questions, 5 not asked yet.
PAGES = {
    "calls": "/",
    "new call": "/calls/new",
    "safety questions": "/calls/5/safety",
    "safety questions raised by words": "/calls/2/safety",
    "danger that stops": "/calls/2/danger",
    "danger to be made safe": "/calls/3/danger",
    "signs": "/calls/4/signs",
    "questions": "/calls/4/questions",
    "question to be changed": "/calls/4/questions?ask=asks_pump_sound",
    "plan": "/calls/4/plan",
    "plan of an ended call": "/calls/1/plan",
    "end": "/calls/4/end",
    "refused": "/calls/5/questions",
    "missing": "/nowhere",
}
SCREENS: dict[str, dict[str, Any]] = {
    "desktop": {"viewport": DESKTOP},
    "desktop, dark": {"viewport": DESKTOP, "color_scheme": "dark"},
    "phone": {"viewport": PHONE, "has_touch": True},
}


def axe_findings(page: Page) -> list[str]:
    """What axe finds wrong: rule, place, reason."""
    page.evaluate(AXE)
    options = {"runOnly": RULES, "rules": {"target-size": {"enabled": True}}}
    found = page.evaluate("options => axe.run(document, options)", options)
    assert found["passes"], "axe checked nothing"
    return [
        f"{violation['id']}: {node['target']} {node['failureSummary']}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]


@pytest.mark.parametrize("screen", SCREENS)
def test_axe_finds_nothing_on_any_page(open_page: OpenPage, screen: str) -> None:
    page = open_page("/", **SCREENS[screen])

    found = {}
    for name, path in PAGES.items():
        if page.goto(path).status in (404, 409):  # type: ignore[union-attr]
            assert name in ("refused", "missing")
        found[name] = axe_findings(page)

    assert {name: findings for name, findings in found.items() if findings} == {}
    assert set(found) == set(PAGES)


def test_axe_finds_nothing_on_a_form_sent_empty(open_page: OpenPage) -> None:
    page = open_page("/calls/new")

    page.get_by_role("button", name="Go on").click()

    expect(page.locator("main [role=alert]")).to_be_focused()
    assert axe_findings(page) == []


def test_axe_finds_nothing_after_a_live_update(open_page: OpenPage) -> None:
    page = open_page("/calls/4/questions")
    page.keyboard.press("1")
    expect(page.locator(".given-answers li")).to_have_count(3)
    for closed in page.locator("summary").all():
        closed.click()

    assert axe_findings(page) == []


@pytest.mark.parametrize("width", [320, 390, 768])
def test_no_page_is_wider_than_the_screen(open_page: OpenPage, width: int) -> None:
    page = open_page("/", viewport={"width": width, "height": 800})

    wide = {}
    for name, path in PAGES.items():
        page.goto(path)
        inner = page.evaluate("document.documentElement.scrollWidth")
        if inner > width:
            wide[name] = inner

    assert wide == {}


def test_plan_is_printed_without_what_only_a_screen_needs(open_page: OpenPage) -> None:
    page = open_page("/calls/4/plan")

    page.emulate_media(media="print")

    expect(page.locator(".top")).to_be_hidden()
    expect(page.locator(".steps")).to_be_hidden()
    expect(page.get_by_role("heading", name="Tests in order")).to_be_visible()
    assert len(page.pdf()) > 10_000
