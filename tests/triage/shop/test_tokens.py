"""Claims about tokens: they act for a person, within a role, and leave no secret behind."""

from datetime import UTC, datetime, timedelta

import pytest

from triage.errors import NameRuleError, UnknownPersonError, UnknownTokenError
from triage.services.people import accounts, tokens
from triage.services.people.audit import ActFilter, Stamp, find_acts
from triage.services.people.passwords import Passwords
from triage.services.people.roles import Person, Role
from triage.store.database import Database

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
STAMP = Stamp(NINE, "Olin Marsh")
CHEAP = Passwords(passes=1, memory_kib=8, lanes=1)
OLIN = Person("olin", "Olin Marsh", Role.OWNER)


def made(database: Database, role: Role = Role.DISPATCHER, name: str = "Parts desk") -> str:
    """Secret of a token of Olin, who is there already or added."""
    if not accounts.has_people(database):
        accounts.add_person(database, OLIN, CHEAP, STAMP)
    return tokens.make_token(database, "olin", name, role, STAMP).secret


def test_token_acts_for_its_person_in_its_role(database: Database) -> None:
    secret = made(database)

    person = tokens.person_of_token(database, secret, NINE)

    assert person == Person("olin", "Parts desk for Olin Marsh", Role.DISPATCHER)


def test_secret_is_kept_nowhere(database: Database) -> None:
    secret = made(database)

    with database.reading() as session:
        rows = [
            session.connection().exec_driver_sql(f"SELECT * FROM {table}").all()
            for table in ("tokens", "audit")
        ]

    assert secret not in str(rows)
    assert secret.removeprefix("triage_") not in str(rows)
    assert len(secret) > 64


@pytest.mark.parametrize("secret", ["", "triage_", "triage_" + "0" * 64, "\u00e9"])
def test_other_secret_opens_nothing(database: Database, secret: str) -> None:
    made(database)

    assert tokens.person_of_token(database, secret, NINE) is None


def test_revoked_token_opens_nothing_and_says_since_when(database: Database) -> None:
    secret = made(database)
    number = tokens.find_tokens(database)[0].id

    tokens.revoke_token(database, number, STAMP)
    tokens.revoke_token(database, number, Stamp(NINE + timedelta(days=1), "Olin Marsh"))

    assert tokens.person_of_token(database, secret, NINE) is None
    assert [one.revoked_at for one in tokens.find_tokens(database)] == [NINE]
    acts = find_acts(database, ActFilter(action="token_revoked")).acts
    assert [one.subject for one in acts] == ["Parts desk"]


def test_token_ends_with_its_person(database: Database) -> None:
    secret = made(database)
    accounts.add_person(database, Person("una", "Una", Role.OWNER), CHEAP, STAMP)

    accounts.deactivate(database, "olin", STAMP)

    assert tokens.person_of_token(database, secret, NINE) is None
    assert not tokens.find_tokens(database)[0].is_in_force


@pytest.mark.parametrize(
    ("token_role", "new_role", "opens"),
    [
        (Role.OWNER, Role.DISPATCHER, False),
        (Role.DISPATCHER, Role.DISPATCHER, True),
        (Role.DISPATCHER, Role.TECHNICIAN, False),
        (Role.TECHNICIAN, Role.OWNER, True),
    ],
)
def test_token_may_never_do_more_than_its_person(
    database: Database, token_role: Role, new_role: Role, opens: bool
) -> None:
    secret = made(database, token_role)
    accounts.add_person(database, Person("una", "Una", Role.OWNER), CHEAP, STAMP)

    accounts.change_person(database, "olin", "Olin Marsh", new_role, STAMP)

    assert (tokens.person_of_token(database, secret, NINE) is not None) is opens


def test_use_is_noted_once_a_minute(database: Database) -> None:
    secret = made(database)
    assert tokens.find_tokens(database)[0].used_at is None

    for seconds in (0, 59):
        tokens.person_of_token(database, secret, NINE + timedelta(seconds=seconds))
    first = tokens.find_tokens(database)[0].used_at
    tokens.person_of_token(database, secret, NINE + timedelta(seconds=60))

    assert first == NINE
    assert tokens.find_tokens(database)[0].used_at == NINE + timedelta(seconds=60)


def test_name_of_who_acts_fits_into_an_event(database: Database) -> None:
    accounts.add_person(database, Person("olin", "O" * 100, Role.OWNER), CHEAP, STAMP)
    secret = made(database, name="P" * 40)

    person = tokens.person_of_token(database, secret, NINE)

    assert person is not None
    assert len(person.name) == 100


@pytest.mark.parametrize("name", ["", " ", "P" * 41])
def test_token_needs_a_short_name(database: Database, name: str) -> None:
    with pytest.raises(NameRuleError, match="1 to 40 characters"):
        made(database, name=name)


def test_token_of_nobody_is_refused(database: Database) -> None:
    with pytest.raises(UnknownPersonError, match="nobody"):
        tokens.make_token(database, "nobody", "Parts desk", Role.OWNER, STAMP)


def test_unknown_token_is_named(database: Database) -> None:
    with pytest.raises(UnknownTokenError, match="no token of number 7"):
        tokens.revoke_token(database, 7, STAMP)
