"""Learning in a real browser: nothing for axe to find, nothing wider than the screen, print."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from playwright.sync_api import expect

from tests.browser.axe import axe_findings
from tests.browser.conftest import OpenPage
from tests.browser.shop import CHEAP, DESKTOP, PHONE
from tests.triage.learning.learning_shop import made_up_jobs, take_in
from triage.services.calls.calls import Entry, Submission
from triage.services.learning.files import send_file
from triage.services.learning.job_file import jobs_as_text
from triage.services.learning.work import Work, ask_for, work_off
from webform.app import create_app
from webform.demo import demo_config
from webform.desk import EXTENSION
from webform.learning.worker import wait_for_all

pytestmark = pytest.mark.browser

WASHER = "top_load_washer"
TABLET = {"width": 820, "height": 1180}
SCREENS = {"desktop": DESKTOP, "tablet": TABLET, "phone": PHONE}
PAGES = {
    "learning": "/learning",
    "files": "/learning/files",
    "file": "/learning/files/1",
    "file with wrong lines": "/learning/files/2",
    "propose": f"/learning/{WASHER}/propose",
    "versions": f"/learning/{WASHER}/versions",
    "version": f"/learning/{WASHER}/versions/2",
    "scores": "/learning/scores",
    "measure": f"/learning/{WASHER}/measure",
    "stock": "/learning/stock?holding=x",
    "numbers": f"/learning/{WASHER}/numbers?kind=link",
    "number": f"/learning/{WASHER}/number?number=share:drive_belt.broken",
    "work": "/learning/work/1",
}


@pytest.fixture(scope="module")
def learned_folder(made_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop that has closed jobs, a proposal, scores and two files; nobody writes into it."""
    folder = tmp_path_factory.mktemp("learned") / "demo"
    shutil.copytree(made_demo, folder)
    app = create_app(demo_config(folder), passwords=CHEAP)
    database = app.extensions[EXTENSION].database
    take_in(database, 80)
    now = datetime.now(UTC)
    text = jobs_as_text(made_up_jobs(90)[80:])
    for place, content in enumerate((text, text.replace("repaired", "mended"))):
        entry = Entry(submission=Submission(f"file-{place}", 0), at=now, by="demo")
        send_file(database, "jobs.csv", content.encode(), entry)
    for place, (kind, name) in enumerate(
        ((Work.PROPOSE, WASHER), (Work.EVALUATE, ""), (Work.SENSITIVITY, WASHER))
    ):
        entry = Entry(submission=Submission(f"work-{place}", 0), at=now, by="demo")
        number, _ = ask_for(database, kind, name, {}, entry)
        work_off(database, number, lambda: now)
    database.close()
    return folder


@pytest.fixture
def shop_app(learned_folder: Path, tmp_path: Path) -> Iterator[Flask]:
    folder = tmp_path / "demo"
    shutil.copytree(learned_folder, folder)
    app = create_app(demo_config(folder), passwords=CHEAP)
    yield app
    wait_for_all()
    app.extensions[EXTENSION].database.close()


def test_axe_finds_nothing_and_nothing_is_wider_than_the_screen(open_page: OpenPage) -> None:
    page = open_page("/learning")

    found, wide = {}, {}
    for name, path in PAGES.items():
        page.goto(path)
        for screen, size in SCREENS.items():
            page.set_viewport_size(size)  # type: ignore[arg-type]
            for closed in page.locator("main details:not([open]) > summary").all()[:2]:
                closed.click()
            found[name, screen] = axe_findings(page)
            inner = page.evaluate("document.documentElement.scrollWidth")
            if inner > size["width"]:
                wide[name, screen] = inner

    assert {place: findings for place, findings in found.items() if findings} == {}
    assert wide == {}
    assert len(found) == len(PAGES) * len(SCREENS)


def test_owner_takes_a_file_in_and_sees_it_go_on_without_javascript(open_page: OpenPage) -> None:
    page = open_page("/learning/files/1", java_script_enabled=False)
    expect(page.get_by_text("10 jobs are new and can be taken in.")).to_be_visible()

    page.get_by_role("button", name="Take the jobs in").click()

    expect(page.locator("h1")).to_have_text("Take a file of closed jobs in")
    wait_for_all()
    page.reload()
    expect(page.get_by_text("10 jobs were taken in.")).to_be_visible()


def test_version_is_printed_with_its_picture_and_table(open_page: OpenPage) -> None:
    page = open_page(f"/learning/{WASHER}/versions/2")

    page.emulate_media(media="print")

    expect(page.locator(".chart").first).to_be_visible()
    expect(page.get_by_role("heading", name="What moves most")).to_be_visible()
    expect(page.locator("form").first).to_be_hidden()
    assert len(page.pdf()) > 30_000
