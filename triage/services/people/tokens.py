"""Tokens with which other programs of the shop sign in.

A token is 32 random bytes, shown once; only its SHA-256 digest is kept, which is enough for a
secret that nobody chose. It acts for a person: it is worth nothing once they may not sign in, or
may not do what its role may.
"""

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from triage.errors import NameRuleError, UnknownPersonError, UnknownTokenError
from triage.services.people.audit import Action, Stamp, act
from triage.services.people.roles import Person, Role, written
from triage.store.audit import add_act
from triage.store.database import Database
from triage.store.people import (
    NewToken,
    StoredToken,
    add_token,
    list_tokens,
    note_use,
    revoke,
    tokens_numbered,
    tokens_with,
    users_named,
)

BYTES = 32
PREFIX = "triage_"  # so that a token that leaks can be told for what it is
NAME_MAX = 40
BY_MAX = 100  # characters that events keep of who did something
USE_PRECISION = timedelta(minutes=1)  # noting every use would make every reading write


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A token as the owner sees it; ``is_in_force`` says whether it opens anything."""

    id: int
    name: str
    role: Role
    person: str
    added_at: datetime
    used_at: datetime | None
    revoked_at: datetime | None
    is_in_force: bool


@dataclass(frozen=True, slots=True)
class NewlyMade:
    """A token with its secret, which is kept nowhere."""

    token: Token
    secret: str


def make_token(
    database: Database,
    login: str,
    name: str,
    role: Role,
    stamp: Stamp,
    *,
    random_bytes: Callable[[int], bytes] = secrets.token_bytes,
) -> NewlyMade:
    """Make a token that acts for a person, in a role.

    Raises
    ------
    NameRuleError, UnknownPersonError
    """
    plain = written(name)
    if not 0 < len(plain) <= NAME_MAX:
        raise NameRuleError(NAME_MAX)
    secret = PREFIX + random_bytes(BYTES).hex()
    with database.writing() as session:
        users = users_named(session, login)
        if not users:
            raise UnknownPersonError(login)
        new = NewToken(
            name=plain,
            digest=_digest(secret),
            user_id=users[0].id,
            role=role.value,
            added_at=stamp.at,
        )
        number = add_token(session, new)
        add_act(session, act(Action.TOKEN_MADE, stamp, plain, number=number, role=role.value))
        made = _token(tokens_numbered(session, number)[0])
    return NewlyMade(made, secret)


def find_tokens(database: Database) -> tuple[Token, ...]:
    """Every token, newest first."""
    with database.reading() as session:
        return tuple(_token(token) for token in list_tokens(session))


def revoke_token(database: Database, token_id: int, stamp: Stamp) -> None:
    """Make a token worthless; once more changes nothing.

    Raises
    ------
    UnknownTokenError
    """
    with database.writing() as session:
        found = tokens_numbered(session, token_id)
        if not found:
            raise UnknownTokenError(str(token_id))
        if found[0].revoked_at is None:
            revoke(session, token_id, stamp.at)
            add_act(session, act(Action.TOKEN_REVOKED, stamp, found[0].name, number=token_id))


def person_of_token(database: Database, secret: str, at: datetime) -> Person | None:
    """Who acts with a token, and notes that it was used; None if it opens nothing.

    The name says both the program and the person it acts for.
    """
    with database.reading() as session:
        found = tokens_with(session, _digest(secret))
    if not found or not _is_in_force(found[0]):
        return None
    token = found[0]
    if token.used_at is None or at - token.used_at >= USE_PRECISION:
        with database.writing() as session:
            note_use(session, token.id, at)
    name = f"{token.name} for {token.user.name}"[:BY_MAX]
    return Person(token.user.login, name, Role(token.role))


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _is_in_force(token: StoredToken) -> bool:
    may = token.user.role in (Role.OWNER.value, token.role)
    return token.revoked_at is None and token.user.is_active and may


def _token(stored: StoredToken) -> Token:
    return Token(
        id=stored.id,
        name=stored.name,
        role=Role(stored.role),
        person=stored.user.name,
        added_at=stored.added_at,
        used_at=stored.used_at,
        revoked_at=stored.revoked_at,
        is_in_force=_is_in_force(stored),
    )
