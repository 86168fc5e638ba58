"""Pictures of the pages for the documents: ``python -m tests.browser.pictures``.

The demo's calls on a fixed day, so that a picture changes only when a page does.
"""

import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser

from tests.browser.shop import CHEAP, DESKTOP, PHONE, Cookies, chromium, cookies_of, serving
from triage.services.calls import Database
from webform.app import create_app
from webform.config import Config
from webform.demo import SHOP, fill
from webform.demo_people import add_people

FOLDER = Path(__file__).parents[2] / "docs" / "pictures"
MORNING = datetime(2026, 3, 2, 10, 30, tzinfo=UTC)
PICTURES = {
    "intake-calls": "/",
    "intake-new-call": "/calls/new",
    "intake-safety": "/calls/5/safety",
    "intake-help": "/calls/6/help",
    "intake-customer": "/calls/6/customer?q=oak",
    "booking-slots": "/calls/4/book",
    "booking-visit": "/visits/1",
    "booking-day": "/visits?day=2026-03-03",
    "booking-week": "/visits/week",
    "customers-customer": "/customers/1",
    "intake-danger": "/calls/3/danger",
    "intake-signs": "/calls/4/signs",
    "intake-questions": "/calls/4/questions",
    "intake-plan": "/calls/4/plan",
    "intake-refer": "/calls/7/refer",
    "jobsheet-day": "/day",
    "jobsheet-job": "/jobs/1",
    "jobsheet-stock": "/stock/1",
    "checks-list": "/checks",
    "checks-duct": "/checks/dryer_duct?rule=irc&elbows_4in_90=2&elbows_4in_45=1&length=18+ft+6+in",
    "networks-list": "/networks",
    "networks-gas-dryer": "/networks/gas_dryer",
    "closing-close": "/calls/1/close",
    "owner-closed": "/shop/closed",
    "owner-settings": "/shop/settings",
    "owner-people": "/shop/people",
    "owner-audit": "/shop/audit",
    "networks-around": "/networks/top_load_washer/around?node=drain_pump",
}
SCREENS: dict[str, dict[str, Any]] = {
    "desktop": {"viewport": DESKTOP},
    "phone": {"viewport": PHONE, "device_scale_factor": 2},
}


def take(browser: Browser, url: str, cookies: Cookies) -> None:
    """Take every picture on every screen; no more of a page than the screen shows."""
    for screen, options in SCREENS.items():
        context = browser.new_context(base_url=url, **options)
        context.add_cookies(cookies)
        page = context.new_page()
        for name, path in PICTURES.items():
            page.goto(path)
            page.wait_for_load_state("networkidle")
            page.screenshot(path=FOLDER / f"{name}-{screen}.png")
        context.close()


def main() -> None:
    """Take the pictures of a demo shop on a fixed morning."""
    with tempfile.TemporaryDirectory() as folder:
        config = Config(data_folder=Path(folder), uses_https=False, shop=SHOP, is_demo=True)
        app = create_app(config, clock=lambda: MORNING, passwords=CHEAP)
        database = Database(config.database_address)
        add_people(database, MORNING, CHEAP)
        fill(database, MORNING)
        database.close()
        with serving(app) as url, chromium() as browser:
            take(browser, url, cookies_of(app, url, "owner"))


if __name__ == "__main__":
    main()
