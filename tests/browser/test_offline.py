"""A visit without signal: the sheet is there, results are kept, and go in once and in order."""

import json
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.shop import PHONE
from tests.browser.site import add_day, database_of, shop_of_the_day
from triage.services.call_log.events import FindingMade
from triage.services.job.sheet import find_job

pytestmark = pytest.mark.browser

WASHER = "top_load_washer"
STEPS = ("tests_drain_pump", "sees_standing_water", "tests_lid_lock")


@pytest.fixture
def shop_app(tmp_path: Path) -> Flask:
    return shop_of_the_day(tmp_path)


@pytest.fixture
def calls(shop_app: Flask) -> dict[str, int]:
    return add_day(shop_app)


@pytest.fixture
def phone(calls: dict[str, int], open_page: OpenPage) -> Page:
    """The day on the technician's phone, kept for when there is no signal."""
    page = open_page("/day", role="technician", viewport=PHONE)
    expect(page.locator("#kept")).to_contain_text("kept on this device", timeout=60_000)
    return page


def waiting(page: Page) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(
        page.evaluate("localStorage.getItem('triage.entries') || '[]'")
    )
    return found


def on_site(app: Flask, call_id: int) -> list[str]:
    """Observations found on site, in the order of the log."""
    made = find_job(database_of(app), call_id).made
    events = [one.event for one in made if isinstance(one.event, FindingMade)]
    return [one.observation for one in events if not one.observation.startswith("says_")]


def go_off_line(page: Page) -> None:
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("#stored")).to_contain_text("No signal. Showing the sheet of")


def choose_step(page: Page, step: str) -> None:
    panel = page.locator("details", has=page.locator("#taken"))
    if panel.get_attribute("open") is None:
        panel.locator("summary").click()
    page.locator("#taken").select_option(step)
    page.locator("#taken-reason").fill("I saw it")
    panel.get_by_role("button", name="Take this step").click()
    expect(page.locator("#now")).to_have_attribute("data-step", step)


def give_first_answer(page: Page) -> None:
    before = len(waiting(page))
    page.locator("#now .answer").first.click()
    page.wait_for_function(
        "count => JSON.parse(localStorage.getItem('triage.entries') || '[]').length > count",
        arg=before,
    )


def test_results_entered_without_signal_go_in_once_and_in_order(
    shop_app: Flask, calls: dict[str, int], phone: Page
) -> None:
    call_id = calls[WASHER]
    phone.goto(f"/jobs/{call_id}")
    go_off_line(phone)

    for step in STEPS:
        choose_step(phone, step)
        give_first_answer(phone)
    assert len(waiting(phone)) == 6  # three steps chosen, three results
    expect(phone.locator("#unsent")).to_contain_text("6 waiting to be sent.")
    assert on_site(shop_app, call_id) == []
    phone.context.set_offline(False)
    expect(phone.locator("#unsent")).to_be_hidden(timeout=60_000)

    assert on_site(shop_app, call_id) == list(STEPS)
    assert waiting(phone) == []
    expect(phone.locator("#stored")).to_be_hidden()
    expect(phone.locator("#log > summary")).to_contain_text("6 entries")


def test_tree_is_walked_without_signal(calls: dict[str, int], phone: Page) -> None:
    phone.goto(f"/jobs/{calls[WASHER]}")
    start = phone.locator("[data-plan] .is-now").get_attribute("data-line")
    step = phone.locator("[data-plan] .is-now").get_attribute("data-step")
    assert phone.locator("#now").get_attribute("data-step") == step
    onward = phone.locator(f"[data-plan] [data-from='{start}']").first
    number, answer = onward.get_attribute("data-line"), onward.get_attribute("data-answer")
    go_off_line(phone)

    phone.locator(f"#now .answer[value='{answer}']").click()

    expect(phone.locator("[data-plan] .is-now")).to_have_attribute("data-line", str(number))
    expect(phone.locator("#now")).to_have_attribute(
        "data-step", str(onward.get_attribute("data-step"))
    )
    expect(phone.locator("#now .label").first).to_contain_text("from the stored plan")


def test_off_the_stored_tree_it_says_so_and_still_takes_findings(
    calls: dict[str, int], phone: Page
) -> None:
    phone.goto(f"/jobs/{calls[WASHER]}")
    go_off_line(phone)
    choose_step(phone, "looks_for_oil")

    give_first_answer(phone)

    expect(phone.locator("#now")).to_contain_text("Off the stored plan here")
    choose_step(phone, "turns_basket")
    give_first_answer(phone)
    assert [one["kind"] for one in waiting(phone)] == ["job_overruled", "finding"] * 2


def test_entries_sent_twice_are_stored_once(
    shop_app: Flask, calls: dict[str, int], phone: Page
) -> None:
    call_id = calls[WASHER]
    phone.goto(f"/jobs/{call_id}")
    go_off_line(phone)
    choose_step(phone, STEPS[0])
    give_first_answer(phone)
    kept = phone.evaluate("localStorage.getItem('triage.entries')")
    phone.context.set_offline(False)
    expect(phone.locator("#unsent")).to_be_hidden(timeout=60_000)

    # The answer of the server was lost on the way: the device still has what it sent.
    phone.evaluate("kept => localStorage.setItem('triage.entries', kept)", kept)
    phone.reload()
    expect(phone.locator("#unsent")).to_be_hidden(timeout=60_000)

    assert on_site(shop_app, call_id) == [STEPS[0]]
    assert len(find_job(database_of(shop_app), call_id).told) == 1


def test_day_and_its_jobs_open_without_signal(calls: dict[str, int], phone: Page) -> None:
    phone.context.set_offline(True)

    phone.goto("/day")
    expect(phone.locator("#stored")).to_contain_text("Showing the day of")
    for number, call_id in enumerate(calls.values(), start=1):
        phone.goto(f"/jobs/{call_id}")
        expect(phone.locator("h1")).to_contain_text(f"Ada Fenwick {number}")


def test_signing_out_leaves_nothing_on_the_device(phone: Page) -> None:
    assert phone.evaluate("caches.keys()") != []

    phone.goto("/account")
    phone.get_by_role("button", name="Sign out", exact=True).click()
    expect(phone.locator("h1")).to_have_text("Sign in")

    assert phone.evaluate("caches.keys()") == []
    assert phone.evaluate("localStorage.length") == 0


def test_signing_out_with_entries_that_wait_asks_first(calls: dict[str, int], phone: Page) -> None:
    phone.goto(f"/jobs/{calls[WASHER]}")
    go_off_line(phone)
    give_first_answer(phone)
    kept = waiting(phone)
    asked: list[str] = []
    phone.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
    phone.route("**/entries", lambda route: route.abort())  # the signal is too weak to send
    phone.context.set_offline(False)

    phone.goto("/account")
    phone.get_by_role("button", name="Sign out", exact=True).click()

    assert asked == ["1 entry is not sent yet and will be lost. Sign out all the same?"]
    assert waiting(phone) == kept
    expect(phone.locator("h1")).not_to_have_text("Sign in")
