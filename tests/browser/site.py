"""A shop with the demo's people, a van of its technician, and a visit for each appliance today."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask import Flask

from tests.browser.shop import CHEAP
from tests.web.technician import SIGNS, booked_call, booked_visit, van_of
from triage.services.calls.calls import Database
from webform.app import create_app
from webform.demo import demo_config
from webform.demo_people import add_people
from webform.desk import EXTENSION

TECHNICIAN = "tarn"  # login of the demo's technician


def shop_of_the_day(folder: Path) -> Flask:
    """A shop whose people are those of the demo; it has no calls yet."""
    app = create_app(demo_config(folder), passwords=CHEAP)
    add_people(database_of(app), datetime.now(UTC), CHEAP)
    return app


def database_of(app: Flask) -> Database:
    """Database of an app."""
    found: Database = app.extensions[EXTENSION].database
    return found


def add_day(app: Flask) -> dict[str, int]:
    """Numbers of the calls, by appliance kind; the first visit of the day first."""
    database = database_of(app)
    van_id = van_of(database, TECHNICIAN)
    morning = datetime.now(UTC).replace(hour=0, minute=5, second=0, microsecond=0)
    calls = {}
    for number, kind in enumerate(SIGNS, start=1):
        calls[kind] = booked_call(database, kind, number)
        begins = morning + timedelta(hours=2 * number)
        booked_visit(database, calls[kind], van_id, starts_at=begins)
    return calls
