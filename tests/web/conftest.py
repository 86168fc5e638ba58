"""The app on a fresh data folder, at nine in the morning, and a visitor without JavaScript."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask

from tests.web.page import Visitor
from webform.app import create_app
from webform.config import Config
from webform.desk import EXTENSION

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def make_app(folder: Path, database_url: str = "") -> Flask:
    config = Config(data_folder=folder, database_url=database_url, uses_https=False)
    app = create_app(config, clock=lambda: NINE)
    app.testing = True
    return app


@pytest.fixture
def app(tmp_path: Path, database_address: str) -> Iterator[Flask]:
    made = make_app(tmp_path / "data", database_address)
    yield made
    made.extensions[EXTENSION].database.close()


@pytest.fixture
def visitor(app: Flask) -> Visitor:
    return Visitor(app.test_client())
