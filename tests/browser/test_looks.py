"""Every page in a real browser: nothing for axe to find, nothing wider than the screen, print."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.shop import DESKTOP, PHONE
from tests.browser.test_call import open_questions

pytestmark = pytest.mark.browser

AXE = (Path(__file__).parent / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

# The demo's calls: 1 ended, 2 stopped, 3 to be made safe, 4 and 6 in the questions, 5 not asked
# yet, 7 to be referred.
PAGES = {
    "calls": "/",
    "new call": "/calls/new",
    "new call of a known caller": "/calls/new?customer=1&machine=1",
    "callers found": "/calls/new?q=oak",
    "calls found": "/?q=oak",
    "can we help": "/calls/6/help",
    "not one for us": "/calls/4/refuse",
    "who is calling": "/calls/6/customer?q=oak",
    "note": "/calls/4/note",
    "free times": "/calls/4/book",
    "free times, wrong length": "/calls/4/book?minutes=long",
    "visit": "/visits/1",
    "visit to be moved": "/visits/1/move",
    "visit to be cancelled": "/visits/1/cancel",
    "visit running late": "/visits/1/late",
    "visits of a day": "/visits",
    "visits of a week": "/visits/week",
    "vans": "/vans",
    "van": "/vans/1",
    "customers": "/customers?q=oak",
    "customer": "/customers/1",
    "machine": "/customers/1/machines/1",
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
    "referral": "/calls/7/refer",
    "checks": "/checks",
    "check": "/checks/dryer_duct",
    "check worked out": "/checks/dryer_duct?elbows_4in_90=2&length=18+ft+6+in",
    "check borderline": "/checks/supply_voltage?reading=104",
    "check outside": "/checks/standpipe?trap=8&top=60",
    "check with something wrong": "/checks/dryer_duct?elbows_4in_90=two&length=far",
    "networks": "/networks",
    "network": "/networks/gas_dryer",
    "around a component": "/networks/top_load_washer/around?node=drain_pump",
    "around nothing": "/networks/top_load_washer/around",
    "account": "/account",
    "own password": "/account/password",
    "shop": "/shop",
    "people": "/shop/people",
    "new person": "/shop/people/new",
    "person": "/shop/people/tarn",
    "tokens": "/shop/tokens",
    "audit trail": "/shop/audit",
    "audit trail of a day that is none": "/shop/audit?day=today",
    "refused": "/calls/5/questions",
    "missing": "/nowhere",
}
SCREENS: dict[str, tuple[dict[str, int], str]] = {
    "desktop": (DESKTOP, "light"),
    "desktop, dark": (DESKTOP, "dark"),
    "phone": (PHONE, "light"),
}
WIDTHS = [320, 390, 768]


def axe_findings(page: Page) -> list[str]:
    """What axe finds wrong: rule, place, reason."""
    page.evaluate(AXE)
    options = {
        "runOnly": RULES,
        "rules": {"target-size": {"enabled": True}},
        "resultTypes": ["violations"],  # of the others, one element a rule is enough
    }
    found = page.evaluate("options => axe.run(document, options)", options)
    assert found["passes"], "axe checked nothing"
    return [
        f"{violation['id']}: {node['target']} {node['failureSummary']}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]


def test_axe_finds_nothing_on_any_page(open_page: OpenPage) -> None:
    page = open_page("/")

    found = {}
    for name, path in PAGES.items():
        if page.goto(path).status in (404, 409):  # type: ignore[union-attr]
            assert name in ("refused", "missing")
        for screen, (size, scheme) in SCREENS.items():
            page.set_viewport_size(size)  # type: ignore[arg-type]
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found[name, screen] = axe_findings(page)

    assert {place: findings for place, findings in found.items() if findings} == {}
    assert len(found) == len(PAGES) * len(SCREENS)


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


def test_no_page_is_wider_than_the_screen(open_page: OpenPage) -> None:
    page = open_page("/")

    wide = {}
    for name, path in PAGES.items():
        page.goto(path)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            inner = page.evaluate("document.documentElement.scrollWidth")
            if inner > width:
                wide[name, width] = inner

    assert wide == {}


def test_plan_is_printed_without_what_only_a_screen_needs(open_page: OpenPage) -> None:
    page = open_page("/calls/4/plan", viewport={"width": 703, "height": 1000})  # A4 less margins

    page.emulate_media(media="print")

    expect(page.locator(".top")).to_be_hidden()
    expect(page.locator(".steps")).to_be_hidden()
    expect(page.get_by_role("heading", name="Tests in order")).to_be_visible()
    expect(page.get_by_role("columnheader", name="If it shows").first).to_be_visible()
    assert len(page.pdf()) > 10_000
