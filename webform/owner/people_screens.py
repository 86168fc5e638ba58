"""Read models of the pages about people: every value a finished text."""

from collections.abc import Iterable
from dataclasses import dataclass

from triage.services.people.accounts import Account, OneTimePassword
from webform.auth.texts import ROLES
from webform.formatting import day_and_time
from webform.owner.people_texts import STATUS_ACTIVE, STATUS_AWAY, STATUS_NEW


@dataclass(frozen=True, slots=True)
class PersonLine:
    """A person as a line of the list."""

    login: str
    name: str
    role: str
    status: str
    added: str
    is_active: bool


@dataclass(frozen=True, slots=True)
class OnceScreen:
    """A one-time password, shown once."""

    login: str
    name: str
    password: str


def person_line(account: Account) -> PersonLine:
    """Person with role and status in words."""
    return PersonLine(
        login=account.login,
        name=account.name,
        role=ROLES[account.role],
        status=_status(account),
        added=day_and_time(account.added_at),
        is_active=account.is_active,
    )


def person_lines(accounts: Iterable[Account]) -> list[PersonLine]:
    """Lines of the list of people."""
    return [person_line(account) for account in accounts]


def once_screen(made: OneTimePassword) -> OnceScreen:
    """One-time password with whom it is for."""
    return OnceScreen(made.account.login, made.account.name, made.password)


def _status(account: Account) -> str:
    if not account.is_active:
        return STATUS_AWAY
    return STATUS_NEW if account.must_change_password else STATUS_ACTIVE
