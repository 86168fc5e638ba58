"""Who is signed in: a cookie of the browser, until it is closed or the day is over.

The cookie holds the number of the account and its session number (see
``triage.services.people.accounts``), signed with the key of the data folder. The account is read
anew for every page, so a role that was taken away is gone with the next click.
"""

from datetime import timedelta

from flask import Flask, g, session
from flask_login import LoginManager, UserMixin, current_user, login_user, logout_user

from triage.services.calls.calls import Database
from triage.services.people.accounts import Account, account_of_session
from triage.services.people.roles import Person

LONGEST = timedelta(hours=16)  # a long working day; then one signs in again
BETWEEN = ":"  # account and session number


class SignedIn(UserMixin):
    """An account as Flask-Login wants it."""

    def __init__(self, account: Account) -> None:
        self.account = account

    def get_id(self) -> str:
        """Return what the cookie holds."""
        return f"{self.account.id}{BETWEEN}{self.account.session_number}"


def begin_session(account: Account) -> None:
    """Sign somebody in; nothing of an earlier session is kept, not even its form tokens."""
    session.clear()
    login_user(SignedIn(account))
    g.account = account


def end_session() -> None:
    """Sign out on this device."""
    logout_user()
    session.clear()
    g.account = None


def read_account() -> Account | None:
    """Read who is signed in, and keep it for as long as the page is being built."""
    g.account = current_user.account if current_user.is_authenticated else None
    return signed_in()


def signed_in() -> Account | None:
    """Account that is signed in, as far as it was read; it asks no database."""
    account = g.get("account")
    assert account is None or isinstance(account, Account)
    return account


def act_as(person: Person) -> None:
    """Let a program be at work for a person, for this one request; no cookie comes of it."""
    g.person = person


def at_work() -> Person | None:
    """Who is at work: who is signed in, or for whom a program is."""
    account = signed_in()
    found = account.person if account is not None else g.get("person")
    assert found is None or isinstance(found, Person)
    return found


def init_session(app: Flask, database: Database) -> None:
    """Let the app know who is signed in."""
    app.config.update(
        SESSION_COOKIE_NAME="triage",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        PERMANENT_SESSION_LIFETIME=LONGEST,  # holds for every cookie: older ones are not believed
    )
    manager = LoginManager(app)
    # The address of a phone changes on the way: a session is bound to its cookie alone.
    manager.session_protection = None

    @manager.user_loader  # type: ignore[untyped-decorator]
    def load(text: str) -> SignedIn | None:
        user_id, _, number = text.partition(BETWEEN)
        if not (user_id.isdecimal() and number.isdecimal()):
            return None
        account = account_of_session(database, int(user_id), int(number))
        return None if account is None else SignedIn(account)
