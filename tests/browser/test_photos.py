"""Photos of a visit in a real browser: made small, kept without signal, sent once."""

import io
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from PIL import Image
from playwright.sync_api import Dialog, Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.shop import PHONE
from tests.browser.site import add_day, database_of, shop_of_the_day
from tests.triage.job.test_job_photos import SECRET, tagged_photo
from triage.services.job.photos import StoredPhoto, photo_image
from triage.services.job.sheet import job_sheet
from triage.services.shop.settings import current_settings

pytestmark = pytest.mark.browser

NO_ROOM = """() => {
  IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError") }
}"""


@pytest.fixture
def shop_app(tmp_path: Path) -> Flask:
    return shop_of_the_day(tmp_path)


@pytest.fixture
def job(shop_app: Flask) -> int:
    return add_day(shop_app)["top_load_washer"]


@pytest.fixture
def phone(job: int, open_page: OpenPage) -> Page:
    """A sheet on the technician's phone, kept for when there is no signal."""
    page = open_page("/day", role="technician", viewport=PHONE)
    expect(page.locator("#kept")).to_contain_text("kept on this device", timeout=60_000)
    page.goto(f"/jobs/{job}")
    return page


def photos(app: Flask, call_id: int) -> tuple[StoredPhoto, ...]:
    database = database_of(app)
    return job_sheet(database, call_id, current_settings(database)).photos


def large_photo() -> bytes:
    """A photo of 3000 by 2000 dots."""
    out = io.BytesIO()
    Image.linear_gradient("L").resize((3000, 2000)).convert("RGB").save(out, "JPEG")
    return out.getvalue()


def take_photo(page: Page, content: bytes, note: str = "The plate") -> None:
    if page.locator("#photos").get_attribute("open") is None:
        page.locator("#photos > summary").click()
    file: Any = {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": content}
    page.get_by_label("Photo", exact=True).set_input_files(file)
    page.get_by_label("What it shows").fill(note)
    page.get_by_role("button", name="Keep the photo").click()


def go_off_line(page: Page) -> None:
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("#stored")).to_contain_text("No signal.")


def test_photo_without_signal_waits_and_goes_in_once(
    shop_app: Flask, job: int, phone: Page
) -> None:
    go_off_line(phone)

    take_photo(phone, tagged_photo())
    expect(phone.locator("#unsent")).to_contain_text("1 waiting to be sent.")
    expect(phone.locator("#unsent li")).to_contain_text("The plate")
    phone.reload()
    expect(phone.locator("#unsent li")).to_contain_text("The plate")  # it is not lost by a reload
    assert photos(shop_app, job) == ()
    phone.context.set_offline(False)
    expect(phone.locator("#unsent")).to_be_hidden(timeout=60_000)

    (kept,) = photos(shop_app, job)
    image, _ = photo_image(database_of(shop_app), job, kept.id)
    assert kept.note == "The plate"
    assert SECRET not in image
    phone.reload()
    assert len(photos(shop_app, job)) == 1
    assert phone.evaluate("localStorage.getItem('triage.photos')") is None


def test_photo_whose_answer_was_lost_is_kept_once(shop_app: Flask, job: int, phone: Page) -> None:
    lost: list[str] = []

    def lose_first(route: Any) -> None:
        if lost:
            route.continue_()
            return
        lost.append(str(route.fetch().status))
        route.abort()

    phone.route("**/kept-photos", lose_first)

    take_photo(phone, tagged_photo())
    expect(phone.locator("#unsent li")).to_contain_text("The plate")
    assert len(photos(shop_app, job)) == 1
    phone.get_by_role("button", name="Send now").click()

    expect(phone.locator("#unsent")).to_be_hidden(timeout=60_000)
    assert lost == ["200"]
    assert len(photos(shop_app, job)) == 1


def test_photo_is_made_small_before_it_is_kept(phone: Page) -> None:
    go_off_line(phone)

    take_photo(phone, large_photo())
    expect(phone.locator("#unsent li")).to_have_count(1)

    size = phone.evaluate(
        """async () => {
          const [photo] = await readPhotos()
          const drawn = await createImageBitmap(new Blob([photo.picture]))
          return [drawn.width, drawn.height]
        }"""
    )
    assert size == [1600, 1067]


def test_file_that_is_no_photo_is_told_beside_the_field(phone: Page) -> None:
    go_off_line(phone)

    take_photo(phone, b"no photo at all")

    field = phone.get_by_label("Photo", exact=True)
    expect(field).to_be_focused()
    expect(phone.locator("#photos .error")).to_contain_text("Choose a photo in JPEG, PNG or WebP.")
    expect(phone.get_by_label("What it shows")).to_have_value("The plate")
    expect(phone.locator("#unsent")).to_be_hidden()


def test_device_without_room_says_so(phone: Page) -> None:
    go_off_line(phone)
    phone.evaluate(NO_ROOM)

    take_photo(phone, tagged_photo())

    expect(phone.locator("#photos .error")).to_contain_text("There is no room for another photo")
    expect(phone.get_by_label("What it shows")).to_have_value("The plate")


def test_signing_out_asks_first_and_leaves_no_photo(phone: Page) -> None:
    go_off_line(phone)
    take_photo(phone, tagged_photo())
    expect(phone.locator("#unsent li")).to_have_count(1)
    asked: list[str] = []

    def agree(dialog: Dialog) -> None:
        asked.append(dialog.message)
        dialog.accept()

    phone.on("dialog", agree)
    phone.route("**/kept-photos", lambda route: route.abort())  # too weak a signal to send
    phone.context.set_offline(False)

    phone.goto("/account")
    phone.get_by_role("button", name="Sign out", exact=True).click()
    expect(phone.locator("h1")).to_have_text("Sign in")

    assert asked == ["1 entry is not sent yet and will be lost. Sign out all the same?"]
    assert phone.evaluate("indexedDB.databases()") == []
    assert phone.evaluate("localStorage.length") == 0
