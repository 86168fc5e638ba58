"""The app on a fresh data folder, at nine in the morning, and a visitor without JavaScript."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask

from tests.web.page import Visitor
from webform.app import create_app
from webform.config import Config

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def make_app(folder: Path) -> Flask:
    app = create_app(Config(data_folder=folder, uses_https=False), clock=lambda: NINE)
    app.testing = True
    return app


@pytest.fixture
def app(tmp_path: Path) -> Flask:
    return make_app(tmp_path / "data")


@pytest.fixture
def visitor(app: Flask) -> Visitor:
    return Visitor(app.test_client())
