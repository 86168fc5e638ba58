"""Every page of the demo shop in a real browser, as whoever works with it sees it.

The table names an example, or several, for every address that can be opened; an address that is
missing fails. What each page must be stands in ``faults_of``.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest
from flask import Flask
from playwright.sync_api import Browser, Page

from tests.browser.axe import axe_findings
from tests.browser.conftest import EXPECTED
from tests.browser.shop import DESKTOP, cookies_of
from triage.services.people.roles import Role
from webform.access import ACCESS
from webform.demo import DEMO_CALLS
from webform.demo.week import week

pytestmark = pytest.mark.browser

WIDTHS = (1280, 820, 390, 320)  # pixels
NAMES = [call.caller for call in (*DEMO_CALLS, *week(date(2026, 1, 1)))]

# What is opened by a program, or leads on at once.
NO_PAGES = {
    "static",
    "auth.sign_out",
    "booking.van_feed",
    "booking.visit_file",
    "closing.invoice_text",
    "intake.resume",
    "jobsheet.entries",
    "jobsheet.photo",
    "jobsheet.service_worker",
    "jobsheet.token",
    "learning.version_text",
    "networks.picture",
    "owner.closed_csv",
    "owner.closed_json",
}


def call(name: str) -> int:
    """Number of the call of somebody of the demo's story."""
    return NAMES.index(name) + 1


ENDED, STOPPED, UNSAFE, ASKED, NEW, DRYER, OTHER = range(1, 8)  # the calls at the desk
REPAIRED, DECLINED = call("Edda Marlowe"), call("Rowena Thrale")
UNDER_WAY, NEXT, WAITING = call("Brannock farm"), call("Lysander Coombe"), call("Ansel Wick")
DONE, BY_PHONE = call("Sunniva Pell"), call("Tamsin Rook")
CALLS_BACK = len(NAMES) + 300 + 1  # after the closed jobs

PAGES: Mapping[str, Sequence[str]] = {
    "auth.account": ["/account"],
    "auth.password": ["/account/password"],
    "auth.sign_in": ["/sign-in"],
    "booking.book": [f"/calls/{ASKED}/book", f"/calls/{ASKED}/book?minutes=long"],
    "booking.book_time": [f"/calls/{ASKED}/book/time"],
    "booking.cancel": ["/visits/1/cancel"],
    "booking.day": ["/visits"],
    "booking.late": ["/visits/1/late"],
    "booking.move": ["/visits/1/move"],
    "booking.move_time": ["/visits/1/move/time"],
    "booking.van": ["/vans/1"],
    "booking.van_list": ["/vans"],
    "booking.visit": [f"/visits/{number}" for number in range(1, 8)],
    "booking.week": ["/visits/week"],
    "checks.check": [
        "/checks/dryer_duct",
        "/checks/dryer_duct?elbows_4in_90=2&length=18+ft+6+in",
        "/checks/dryer_duct?elbows_4in_90=two&length=far",
        "/checks/supply_voltage?reading=104",
        "/checks/standpipe?trap=8&top=60",
    ],
    "checks.check_list": ["/checks"],
    "closing.close": [f"/calls/{DONE}/close", f"/calls/{UNDER_WAY}/close", f"/calls/{OTHER}/close"],
    "closing.correct": [f"/calls/{REPAIRED}/correct"],
    "closing.invoice": [f"/calls/{REPAIRED}/invoice", f"/calls/{DECLINED}/invoice"],
    "customers.customer": ["/customers/1", "/customers/20"],
    "customers.customer_list": ["/customers", "/customers?q=oak"],
    "customers.machine": ["/customers/1/machines/1"],
    "customers.new_customer": ["/customers/new"],
    "customers.new_machine": ["/customers/1/machines/new"],
    "intake.branches": [f"/calls/{ASKED}/plan/branches"],
    "intake.call_list": ["/", "/?q=oak"],
    "intake.can_help": [f"/calls/{DRYER}/help", f"/calls/{CALLS_BACK}/help"],
    "intake.customer": [f"/calls/{DRYER}/customer", f"/calls/{ASKED}/customer?q=oak"],
    "intake.danger": [f"/calls/{STOPPED}/danger", f"/calls/{UNSAFE}/danger"],
    "intake.end": [f"/calls/{ASKED}/end"],
    "intake.new_call": ["/calls/new", "/calls/new?customer=1&machine=1", "/calls/new?q=oak"],
    "intake.note": [f"/calls/{ASKED}/note"],
    "intake.plan": [f"/calls/{ASKED}/plan", f"/calls/{ENDED}/plan"],
    "intake.questions": [
        f"/calls/{ASKED}/questions",
        f"/calls/{ASKED}/questions?ask=asks_pump_sound",
        f"/calls/{NEW}/questions",  # refused: the safety questions come first
    ],
    "intake.refer": [f"/calls/{OTHER}/refer"],
    "intake.refuse": [f"/calls/{ASKED}/refuse"],
    "intake.safety": [f"/calls/{NEW}/safety", f"/calls/{STOPPED}/safety"],
    "intake.signs": [f"/calls/{ASKED}/signs"],
    "jobsheet.day": ["/day", "/day?van=2"],
    "jobsheet.job": [f"/jobs/{job}" for job in (UNDER_WAY, NEXT, WAITING, REPAIRED)],
    "jobsheet.steps": ["/steps/top_load_washer"],
    "jobsheet.van_stock": ["/stock/1"],
    "jobsheet.waiting": ["/jobs/waiting"],
    "learning.file": [],  # the demo's own jobs were not sent in by a page
    "learning.files": ["/learning/files"],
    "learning.measure": ["/learning/top_load_washer/measure"],
    "learning.numbers_of": ["/learning/top_load_washer/numbers"],
    "learning.overview": ["/learning"],
    "learning.propose": ["/learning/top_load_washer/propose"],
    "learning.scores": ["/learning/scores"],
    "learning.set_number": ["/learning/top_load_washer/number?number=share:drive_belt.broken"],
    "learning.stock": ["/learning/stock"],
    "learning.version": [f"/learning/top_load_washer/versions/{number}" for number in (1, 2)],
    "learning.versions": ["/learning/top_load_washer/versions"],
    "learning.work": ["/learning/work/1"],
    "networks.around": [
        "/networks/top_load_washer/around",
        "/networks/top_load_washer/around?node=drain_pump",
    ],
    "networks.network": ["/networks/gas_dryer"],
    "networks.network_list": ["/networks"],
    "owner.audit": ["/shop/audit", "/shop/audit?day=today"],
    "owner.closed_job": [f"/shop/closed/{job}" for job in (REPAIRED, BY_PHONE, CALLS_BACK - 5)],
    "owner.closed_jobs": ["/shop/closed", "/shop/closed?page=7"],
    "owner.erase_customer": ["/shop/customers/1/erase"],
    "owner.new_person": ["/shop/people/new"],
    "owner.overview": ["/shop"],
    "owner.people": ["/shop/people"],
    "owner.person": ["/shop/people/tarn"],
    "owner.plates": ["/shop/plates"],
    "owner.recalls": ["/shop/recalls"],
    "owner.settings": ["/shop/settings"],
    "owner.settings_as_text": ["/shop/settings/text"],
    "owner.settings_history_list": ["/shop/settings/history"],
    "owner.settings_minutes": ["/shop/settings/minutes"],
    "owner.settings_parts": ["/shop/settings/parts"],
    "owner.settings_version": ["/shop/settings/history/1"],
    "owner.tokens": ["/shop/tokens"],
}
NOWHERE = "/nowhere"
REFUSED = {f"/calls/{NEW}/questions": 409, NOWHERE: 404}

# A column of a file or a key of a settings file is called by its name where that is what it is.
WITH_NAMES = ("/learning/files", "/shop/settings/history/1", "/shop/settings/text", "/shop/tokens")
RAW_NUMBER = re.compile(r"\d\.\d{3,}")
MEASURED = re.compile(r"\d\.\d{5,}")  # measures are told with four significant digits
IDENTIFIER = re.compile(r"\b[a-z]+(?:_[a-z0-9]+)+\b|\b\w+Error\b|\b[a-z_]+\.[a-z]+_[a-z_]+\b")
OF_THE_PROGRAM = re.compile(r"\b(None|True|False|nan|inf|undefined|null)\b")

LOOK = """() => {
  const fields = [...document.querySelectorAll('input, select, textarea')]
  const unnamed = fields.filter(one => one.type !== 'hidden' && one.labels.length === 0
    && !one.getAttribute('aria-label') && !one.getAttribute('aria-labelledby'))
  const ids = [...document.querySelectorAll('[id]')].map(one => one.id)
  return {
    headings: document.querySelectorAll('h1').length,
    heading: (document.querySelector('h1') || document.body).innerText.trim(),
    title: document.title,
    unnamed: unnamed.map(one => one.outerHTML.slice(0, 120)),
    twice: ids.filter((id, place) => ids.indexOf(id) !== place),
    text: document.body.innerText,
  }
}"""


@dataclass(frozen=True, slots=True)
class Example:
    """A page of the demo and who opens it."""

    path: str
    role: str


def examples() -> Iterator[Example]:
    """Every example, as a dispatcher, a technician, or the owner where nobody else may."""
    for endpoint, paths in PAGES.items():
        for path in paths:
            yield Example(path, role_of(endpoint))
    yield Example(NOWHERE, Role.DISPATCHER)


def role_of(endpoint: str) -> str:
    """Who works with a page; empty for one that is open to everybody."""
    access = ACCESS[endpoint]
    if access.is_open:
        return ""
    order = (Role.DISPATCHER, Role.TECHNICIAN, Role.OWNER)
    if endpoint.startswith(("jobsheet.", "checks.", "closing.")):
        order = (Role.TECHNICIAN, Role.OWNER, Role.DISPATCHER)
    return next(role.value for role in order if role in access.roles)


def faults_of(page: Page, path: str) -> Iterator[str]:
    """What is wrong with a page that is open in a wide window and in the light theme."""
    found: dict[str, Any] = page.evaluate(LOOK)
    if found["headings"] != 1:
        yield f"{found['headings']} headings of the first order"
    if not found["title"].startswith(found["heading"]):
        yield f"title {found['title']!r} does not begin with {found['heading']!r}"
    yield from (f"without a label: {field}" for field in found["unnamed"])
    yield from (f"id twice: {name}" for name in found["twice"])
    yield from words_of_the_program(found["text"], path)
    yield from axe_findings(page)
    page.emulate_media(color_scheme="dark")
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        inner = page.evaluate("document.documentElement.scrollWidth")
        if inner > width:
            yield f"{inner} wide in a window of {width}"
    yield from (f"dark, narrow: {one}" for one in axe_findings(page, only_looks=True))
    page.set_viewport_size(DESKTOP)  # type: ignore[arg-type]
    page.emulate_media(color_scheme="light")


def words_of_the_program(text: str, path: str) -> Iterator[str]:
    """What no page may say: numbers as the machine holds them, names of the program."""
    patterns = [MEASURED if path.startswith("/checks/") else RAW_NUMBER, OF_THE_PROGRAM]
    if not path.startswith(WITH_NAMES):
        patterns.append(IDENTIFIER)
    for pattern in patterns:
        for found in pattern.finditer(text):
            begin, end = max(0, found.start() - 30), found.end() + 30
            yield f"says {found.group()!r} in {' '.join(text[begin:end].split())!r}"


def test_every_page_that_can_be_opened_has_an_example(shop_app: Flask) -> None:
    opened = {
        rule.endpoint
        for rule in shop_app.url_map.iter_rules()
        if "GET" in (rule.methods or ()) and not rule.endpoint.startswith("api.")
    }

    assert opened == set(PAGES) | (NO_PAGES & opened)
    assert not set(PAGES) & NO_PAGES


def test_every_page_is_whole_named_and_fit_for_everybody(
    browser: Browser, shop_app: Flask, shop: str
) -> None:
    faults: dict[str, list[str]] = {}
    said: list[str] = []
    pages: dict[str, Page] = {}
    seen = 0
    for example in examples():
        page = pages.get(example.role)
        if page is None:
            page = pages[example.role] = _page_of(browser, shop_app, shop, example.role, said)
        response = page.goto(example.path, wait_until="load")
        assert response is not None
        found = list(faults_of(page, example.path))
        if response.status != REFUSED.get(example.path, 200):
            found.insert(0, f"status {response.status}")
        found += [f"console: {one}" for one in said if not EXPECTED.search(one)]
        said.clear()
        if found:
            faults[example.path] = found
        seen += 1

    for page in pages.values():
        page.context.close()
    assert seen > len(PAGES)
    assert faults == {}


def _page_of(browser: Browser, app: Flask, url: str, role: str, said: list[str]) -> Page:
    context = browser.new_context(base_url=url, viewport=DESKTOP)  # type: ignore[arg-type]
    if role:
        context.add_cookies(cookies_of(app, url, role))
    page = context.new_page()
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda one: said.append(one.text) if one.type == "error" else None)
    return page


def test_words_of_the_program_are_found() -> None:
    text = "It is 0.12345 of says_no_spin, None of UnknownCallError"

    assert len(list(words_of_the_program(text, "/"))) == 4
    assert list(words_of_the_program("2.50 of the washer's 12.5 minutes", "/")) == []
