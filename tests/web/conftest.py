"""The app on a fresh data folder, at nine in the morning, and visitors without JavaScript."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask

from tests.web.kept import keep_what_is_compiled
from tests.web.page import Visitor
from tests.web.technician import booked_call, booked_visit, van_of
from triage.services.calls.calls import Database
from triage.services.people.accounts import add_person_with_password, find_people
from triage.services.people.audit import Stamp
from triage.services.people.passwords import Passwords
from triage.services.people.roles import Person, Role
from webform.app import create_app
from webform.config import Config
from webform.desk import EXTENSION

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
CHEAP = Passwords(passes=1, memory_kib=8, lanes=1)  # a ten-thousandth of what a shop spends
PASSWORD = "nine o'clock sharp"
NAMES = {Role.DISPATCHER: "Ivo Brandt", Role.TECHNICIAN: "Tova Lind", Role.OWNER: "Olin Marsh"}

keep_what_is_compiled()

VisitorAs = Callable[[str], Visitor]


def make_app(folder: Path, database_url: str = "") -> Flask:
    config = Config(data_folder=folder, database_url=database_url, uses_https=False)
    app = create_app(config, clock=lambda: NINE, passwords=CHEAP)
    app.testing = True
    return app


def signed_in_visitor(app: Flask, role: str = "owner") -> Visitor:
    """Somebody of a role, whose login is the role, on the page on which their work begins."""
    database = app.extensions[EXTENSION].database
    person = Person(role, NAMES[Role(role)], Role(role))
    if role not in [account.login for account in find_people(database)]:
        add_person_with_password(database, person, PASSWORD, CHEAP, Stamp(NINE, "a test"))
    visitor = Visitor(app.test_client())
    visitor.send(visitor.open("/sign-in"), {"login": role, "password": PASSWORD})
    return visitor


@pytest.fixture
def app(tmp_path: Path, database_address: str) -> Iterator[Flask]:
    made = make_app(tmp_path / "data", database_address)
    yield made
    made.extensions[EXTENSION].database.close()


@pytest.fixture
def database(app: Flask) -> Database:
    """Database of the app."""
    found: Database = app.extensions[EXTENSION].database
    return found


@pytest.fixture
def visitor(app: Flask) -> Visitor:
    """The owner, who may open every page."""
    return signed_in_visitor(app)


@pytest.fixture
def visitor_as(app: Flask) -> VisitorAs:
    """Somebody of the role that is asked for: ``visitor_as("technician")``."""
    return lambda role: signed_in_visitor(app, role)


@pytest.fixture
def stranger(app: Flask) -> Visitor:
    """Somebody who is not signed in."""
    return Visitor(app.test_client())


@pytest.fixture
def technician(visitor_as: VisitorAs) -> Visitor:
    return visitor_as("technician")


@pytest.fixture
def job(database: Database, technician: Visitor) -> int:
    """A job with a visit at ten on the technician's van."""
    call_id = booked_call(database)
    booked_visit(database, call_id, van_of(database))
    return call_id
