"""A real server on a free port and a real Chromium, for tests and for pictures."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from flask import Flask
from playwright.sync_api import Browser, sync_playwright

from tests.serving import serving as serving
from tests.web.conftest import CHEAP as CHEAP
from tests.web.page import Visitor
from webform.demo_people import DEMO_PEOPLE

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DESKTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
Cookies = list[Any]  # as Playwright takes them


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start Chromium; an error if it is not installed."""
    assert Path(CHROMIUM).exists(), f"{CHROMIUM} is not installed: apt-get install -y chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


def cookies_of(app: Flask, url: str, role: str) -> Cookies:
    """Cookies of a browser in which the demo's person of a role is signed in."""
    person = next(one for one in DEMO_PEOPLE if one.role == role)
    client = app.test_client()
    visitor = Visitor(client)
    typed = {"login": person.login, "password": person.password}
    visitor.send(visitor.open("/sign-in"), typed)
    cookie = client.get_cookie(app.config["SESSION_COOKIE_NAME"])
    assert cookie is not None
    return [{"name": cookie.key, "value": cookie.value, "url": url}]
