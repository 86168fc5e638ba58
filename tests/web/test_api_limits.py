"""Claims about how often a program may ask."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from tests.web.conftest import CHEAP, NINE, signed_in_visitor
from tests.web.program import Program, opened, program
from webform.app import create_app
from webform.config import Config, ConfigError
from webform.desk import EXTENSION

LIMIT = 5


@pytest.fixture
def slow_app(tmp_path: Path) -> Iterator[Flask]:
    """A shop whose programs may ask five times an hour."""
    config = Config(data_folder=tmp_path, uses_https=False, api_limit=f"{LIMIT} per hour")
    app = create_app(config, clock=lambda: NINE, passwords=CHEAP)
    app.testing = True
    yield app
    app.extensions[EXTENSION].database.close()


def exhausted(app: Flask) -> Program:
    """A program that asked as often as it may, whatever it asked for."""
    desk = program(app)
    for _ in range(LIMIT - 1):
        desk.get("/vans")
    assert desk.ask("GET", "/appliances").headers["X-RateLimit-Remaining"] == "0"
    return desk


def test_program_that_asks_too_often_is_told_how_long_to_wait(slow_app: Flask) -> None:
    desk = exhausted(slow_app)

    response = desk.ask("GET", "/customers?q=oak")

    problem = response.get_json()
    assert response.status_code == 429
    assert problem["type"] == "/api/v1/problems#too-many-requests"
    assert "Retry-After" in problem["detail"]
    assert 3000 < int(response.headers["Retry-After"]) <= 3601


def test_nothing_is_recorded_above_the_limit(slow_app: Flask) -> None:
    desk = exhausted(slow_app)

    assert desk.ask("POST", "/customers", json={"name": "Mill cottage"}).status_code == 429

    other = program(slow_app, name="Another desk")
    assert other.get("/customers?q=mill")["customers"] == []


def test_limit_of_one_token_is_not_that_of_another_and_not_that_of_people(slow_app: Flask) -> None:
    exhausted(slow_app)

    other = program(slow_app, name="Another desk")

    assert opened(other)["call"] == 1
    visitor = signed_in_visitor(slow_app)
    assert {visitor.open("/day").status for _ in range(LIMIT + 1)} == {200}


def test_wrong_token_is_refused_and_takes_nothing_from_the_limit(slow_app: Flask) -> None:
    stranger = Program(slow_app.test_client(), "triage_1")

    assert {stranger.ask("GET", "/vans").status_code for _ in range(LIMIT + 2)} == {401}
    assert program(slow_app).get("/vans") is not None


def test_limit_is_read_from_the_environment() -> None:
    read = {"TRIAGE_DATA": "/srv/shop", "TRIAGE_API_LIMIT": "60 per minute"}

    assert Config.from_environment(read).api_limit == "60 per 1 minute"
    assert Config.from_environment({"TRIAGE_DATA": "/srv/shop"}).api_limit == "600 per 1 minute"
    with pytest.raises(ConfigError, match="such as"):
        Config.from_environment({**read, "TRIAGE_API_LIMIT": "often"})
