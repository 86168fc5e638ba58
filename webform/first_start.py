"""The first start: a shop that has nobody yet gets its owner, if there is somebody to tell."""

from flask import Flask

from triage.services.people.accounts import OneTimePassword, has_people, make_first_owner
from webform.desk import EXTENSION, Desk

TELL = """\
This shop has nobody yet. Sign in with this one-time password, and choose your own:

    login     {login}
    password  {password}

It is shown only here and only now."""
ADD = """\
Nobody can sign in yet. Add the owner at a terminal:

    triage people add owner --role owner --name "YOUR NAME" --data {folder}"""


def needs_owner(app: Flask) -> bool:
    """Whether nobody has an account."""
    return not has_people(_desk(app).database)


def first_owner(app: Flask) -> OneTimePassword:
    """Make the owner; the password is to be shown at once and kept nowhere."""
    desk = _desk(app)
    return make_first_owner(desk.database, desk.passwords, desk.clock())


def _desk(app: Flask) -> Desk:
    found = app.extensions[EXTENSION]
    assert isinstance(found, Desk)
    return found
