"""Pictures of the pages for the documents: ``python -m tests.browser.pictures``.

The demo on a fixed day, so that a picture changes only when a page does; each page on a phone, a
tablet and a desktop. With names of pictures, only these are taken.
"""

import io
import sys
import tempfile
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page

from tests.browser.shop import CHEAP, DESKTOP, PHONE, chromium, cookies_of, serving
from tests.browser.test_every_page import CALLS_BACK, DONE, NEXT, REPAIRED, UNDER_WAY
from triage.services.calls.calls import Database
from triage.services.people.roles import Role
from webform.app import create_app
from webform.config import Config
from webform.demo import SHOP, fill
from webform.demo.learning import learn
from webform.demo_people import add_people

FOLDER = Path(__file__).parents[2] / "docs" / "pictures"
MORNING = datetime(2026, 3, 2, 10, 50, tzinfo=UTC)
WASHER = "top_load_washer"
DUCT = "/checks/dryer_duct?rule=irc&elbows_4in_90=2&elbows_4in_45=1&length=18+ft+6+in"
PICTURES: Mapping[Role, Mapping[str, str]] = {
    Role.DISPATCHER: {
        "intake-calls": "/",
        "intake-new-call": "/calls/new",
        "intake-safety": "/calls/5/safety",
        "intake-danger": "/calls/3/danger",
        "intake-help": f"/calls/{CALLS_BACK}/help",
        "intake-signs": "/calls/4/signs",
        "intake-questions": "/calls/4/questions",
        "intake-plan": "/calls/4/plan",
        "intake-refer": "/calls/7/refer",
        "booking-slots": "/calls/4/book",
        "booking-visit": "/visits/1",
        "booking-day": "/visits",
        "booking-week": "/visits/week",
        "customers-customer": "/customers/1",
    },
    Role.TECHNICIAN: {
        "jobsheet-day": "/day",
        "jobsheet-job": f"/jobs/{NEXT}",
        "jobsheet-under-way": f"/jobs/{UNDER_WAY}",
        "jobsheet-stock": "/stock/1",
        "closing-close": f"/calls/{DONE}/close",
        "closing-invoice": f"/calls/{REPAIRED}/invoice",
        "checks-list": "/checks",
        "checks-duct": DUCT,
        "networks-gas-dryer": "/networks/gas_dryer",
        "networks-around": f"/networks/{WASHER}/around?node=drain_pump",
    },
    Role.OWNER: {
        "owner-shop": "/shop",
        "owner-closed": "/shop/closed",
        "owner-job": f"/shop/closed/{REPAIRED}",
        "owner-settings": "/shop/settings",
        "owner-people": "/shop/people",
        "owner-audit": "/shop/audit",
        "learning-overview": "/learning",
        "learning-version": f"/learning/{WASHER}/versions/2",
        "learning-scores": "/learning/scores",
        "learning-stock": "/learning/stock",
    },
}
SCREENS = {"phone": PHONE, "tablet": {"width": 820, "height": 1180}, "desktop": DESKTOP}
COLOURS = 96  # of a picture; the pages have few


def take(page: Page, url: str, pictures: Mapping[str, str]) -> None:
    """Take pictures on every screen; no more of a page than the screen shows."""
    for name, path in pictures.items():
        for screen, size in SCREENS.items():
            page.set_viewport_size(size)  # type: ignore[arg-type]
            page.goto(f"{url}{path}")
            page.wait_for_load_state("networkidle")
            shot = Image.open(io.BytesIO(page.screenshot()))
            small = shot.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
            small.save(FOLDER / f"{name}-{screen}.png", optimize=True)


def main() -> None:
    """Take the pictures of a demo shop on a fixed morning."""
    wanted = set(sys.argv[1:])
    with tempfile.TemporaryDirectory() as folder:
        config = Config(data_folder=Path(folder), uses_https=False, shop=SHOP, is_demo=True)
        app = create_app(config, clock=lambda: MORNING, passwords=CHEAP)
        database = Database(config.database_address)
        add_people(database, MORNING, CHEAP)
        fill(database, MORNING)
        learn(database, MORNING)
        database.close()
        with serving(app) as url, chromium() as browser:
            for role, pictures in PICTURES.items():
                context = browser.new_context(reduced_motion="reduce")
                context.add_cookies(cookies_of(app, url, role))
                chosen = {name: pictures[name] for name in pictures if name in wanted or not wanted}
                take(context.new_page(), url, chosen)
                context.close()


if __name__ == "__main__":
    main()
