"""The web form: ``create_app(config)`` makes a Flask app that keeps its calls in a data folder."""

from collections.abc import Callable
from datetime import UTC, datetime

from flask import Flask
from flask_wtf import CSRFProtect

from triage.services.calls.calls import Database
from triage.services.people.passwords import STRONG, Passwords
from webform import (
    api,
    auth,
    booking,
    checks,
    closing,
    customers,
    intake,
    jobsheet,
    learning,
    networks,
    owner,
)
from webform.access import init_access
from webform.config import Config
from webform.demo_people import DEMO_PEOPLE
from webform.desk import EXTENSION, Desk, desk
from webform.errors import init_errors
from webform.formatting import init_formatting
from webform.headers import init_headers
from webform.navigation import init_navigation
from webform.recalls import init_recalls
from webform.secret_key import secret_key
from webform.session import init_session
from webform.texts_sent import init_texts_sent

LARGEST_POST_BYTES = 100_000  # a form with its longest texts has under 10,000


def utc_now() -> datetime:
    """Read the clock of this machine."""
    return datetime.now(UTC)


def create_app(
    config: Config, *, clock: Callable[[], datetime] = utc_now, passwords: Passwords = STRONG
) -> Flask:
    """Make the app.

    Parameters
    ----------
    config : Config
        Its data folder, with key and database, is made if it is not there.
    clock : callable
        Gives the time, with its zone.
    passwords : Passwords
        Makes the digests of passwords; a cheap one is for tests.

    Raises
    ------
    ConfigError
        The secret key in the data folder cannot be used.
    """
    config.data_folder.mkdir(parents=True, exist_ok=True)
    app = Flask(__name__)
    app.config.update(
        SECRET_KEY=secret_key(config.data_folder),
        SESSION_COOKIE_SECURE=config.uses_https,
        WTF_CSRF_TIME_LIMIT=None,  # a call may last longer than any limit; bound to the session
        MAX_CONTENT_LENGTH=LARGEST_POST_BYTES,
        TRUSTED_HOSTS=list(config.hosts) or None,
        SEND_FILE_MAX_AGE_DEFAULT=3600,
    )
    database = Database(config.database_address)
    app.extensions[EXTENSION] = Desk(database, clock, config.time_zone, passwords, config.shop)
    init_session(app, database)
    init_access(app)
    init_texts_sent(app)
    CSRFProtect(app).exempt(api.bp)  # no cookie counts there, so nothing can be forged
    init_headers(app)
    init_errors(app)
    init_formatting(app)
    init_navigation(app)
    init_recalls(app)
    work = (intake, customers, booking, jobsheet, closing)
    for feature in (auth, *work, checks, networks, learning, owner, api):
        app.register_blueprint(feature.bp)
    auth.init_limits(app)
    api.init_limits(app, config.api_limit)
    fixed = {
        "is_demo": config.is_demo,
        "demo_people": DEMO_PEOPLE if config.is_demo else (),
    }
    app.context_processor(lambda: {**fixed, "shop": desk().shop_name()})
    return app
