"""A shop with the demo's calls on a real server, and pages that report every fault they meet."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from playwright.sync_api import Browser, Page, expect

from tests.browser.shop import CHEAP, DESKTOP, Cookies, chromium, cookies_of, serving
from webform.app import create_app
from webform.demo import demo_config
from webform.desk import EXTENSION

OpenPage = Callable[..., Page]
PATIENCE_MS = 20_000  # a page may be slow on a machine that does other things; tests time nothing

# What a browser reports by itself where a test asks for it: a page refused, no connection.
EXPECTED = re.compile(r"status of 40[049]|ERR_INTERNET_DISCONNECTED|ERR_FAILED|Failed to fetch")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    expect.set_options(timeout=PATIENCE_MS)
    with chromium() as started:
        yield started


@pytest.fixture
def shop_app(demo_copy: Path) -> Iterator[Flask]:
    """A shop of its own with the people and the calls of the demo."""
    app = create_app(demo_config(demo_copy), passwords=CHEAP)
    yield app
    app.extensions[EXTENSION].database.close()


@pytest.fixture
def shop(shop_app: Flask) -> Iterator[str]:
    """Address of the shop."""
    with serving(shop_app) as url:
        yield url


@pytest.fixture
def open_page(browser: Browser, shop_app: Flask, shop: str) -> Iterator[OpenPage]:
    """Open a page of the shop; at the end no page may have reported a fault.

    ``role`` says who is signed in, the owner if it is left out; empty means nobody.
    """
    contexts, faults = [], []
    cookies: dict[str, Cookies] = {"": []}

    def open_at(path: str = "/", role: str = "owner", **options: Any) -> Page:
        if role not in cookies:
            cookies[role] = cookies_of(shop_app, shop, role)
        context = browser.new_context(base_url=shop, **{"viewport": DESKTOP, **options})
        context.add_cookies(cookies[role])
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on(
            "console",
            lambda message: faults.append(message.text) if message.type == "error" else None,
        )
        page.goto(path)
        return page

    yield open_at
    for context in contexts:
        context.close()
    assert [fault for fault in faults if not EXPECTED.search(fault)] == []
