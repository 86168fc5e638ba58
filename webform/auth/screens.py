"""Read models of the pages of people: every value a finished text."""

from dataclasses import dataclass

from werkzeug.wrappers import Response

from triage.services.people.roles import Person
from webform.auth.texts import ROLES, WORK
from webform.session import signed_in

# Job sheets are kept on phones for places without signal; who signs out takes them along.
CLEARED = '"cache", "storage"'


@dataclass(frozen=True, slots=True)
class AccountScreen:
    """Who is signed in; ``must_change`` if the password was given by somebody else."""

    name: str
    login: str
    role: str
    work: str
    must_change: bool


def account_screen(person: Person) -> AccountScreen:
    """Account of the person at work."""
    account = signed_in()
    return AccountScreen(
        name=person.name,
        login=person.login,
        role=ROLES[person.role],
        work=WORK[person.role],
        must_change=account is not None and account.must_change_password,
    )


def signed_out(response: Response) -> Response:
    """Tell the browser to drop what it kept of this form."""
    response.headers["Clear-Site-Data"] = CLEARED
    return response
