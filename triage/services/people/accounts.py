"""Accounts of the people of the shop: who may sign in, and as what.

Everything that is done here stands in the audit trail. A digest of a password takes a fifth of a
second, so it is made before the database is locked.

A session carries the **session number** of its person. The number goes up when the person is
deactivated or gets another password, and with it every older session ends.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from triage.errors import (
    LastOwnerError,
    LoginRuleError,
    LoginTakenError,
    NameRuleError,
    PasswordRuleError,
    UnknownPersonError,
    WrongPasswordError,
    WrongPresentPasswordError,
)
from triage.services.people.audit import Action, Stamp, act
from triage.services.people.passwords import Passwords, check_new_password
from triage.services.people.roles import Person, Role, written
from triage.store.audit import StoredAct, add_act
from triage.store.database import Database
from triage.store.people import (
    NewUser,
    StoredUser,
    active_with_role,
    add_user,
    list_users,
    save_user,
    users_named,
    users_numbered,
)

LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{1,59}")
NAME_MAX = 100
FIRST_LOGIN = "owner"
FIRST_NAME = "Owner"
NOBODY = ""  # in the audit trail, where nobody is signed in
PROGRAM = "the program"  # in the audit trail, where no person acts

Changed = tuple[StoredUser, Sequence[StoredAct]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """A person of the shop as others may see them: everything but the digest of the password."""

    id: int
    login: str
    name: str
    role: Role
    is_active: bool
    must_change_password: bool
    session_number: int
    added_at: datetime

    @property
    def person(self) -> Person:
        """Who it is, as pages and events name them."""
        return Person(self.login, self.name, self.role)


@dataclass(frozen=True, slots=True)
class OneTimePassword:
    """An account with the password that lets its person in once; it is kept nowhere in clear."""

    account: Account
    password: str


def find_people(database: Database) -> tuple[Account, ...]:
    """Everybody, those who may sign in first, by name."""
    with database.reading() as session:
        return tuple(_account(user) for user in list_users(session))


def find_person(database: Database, login: str) -> Account:
    """Account of a login, or ``UnknownPersonError``."""
    with database.reading() as session:
        found = users_named(session, _folded(login))
    if not found:
        raise UnknownPersonError(login)
    return _account(found[0])


def technicians(database: Database) -> tuple[tuple[int, str], ...]:
    """Number and name of those who may drive a van: technicians and owners who may sign in."""
    may_drive = (Role.TECHNICIAN, Role.OWNER)
    everybody = find_people(database)
    return tuple((one.id, one.name) for one in everybody if one.is_active and one.role in may_drive)


def has_people(database: Database) -> bool:
    """Whether anybody has an account."""
    with database.reading() as session:
        return bool(list_users(session))


def add_person(
    database: Database, person: Person, passwords: Passwords, stamp: Stamp
) -> OneTimePassword:
    """Add somebody with a one-time password, to be changed when they first sign in.

    Raises
    ------
    LoginRuleError, NameRuleError, LoginTakenError
    """
    password = passwords.one_time()
    account = _add(database, person, passwords.digest(password), stamp, Action.PERSON_ADDED)
    return OneTimePassword(account, password)


def add_person_with_password(
    database: Database, person: Person, password: str, passwords: Passwords, stamp: Stamp
) -> Account:
    """Add somebody with a password of their own.

    Raises
    ------
    LoginRuleError, NameRuleError, LoginTakenError, PasswordRuleError
    """
    check_new_password(password, person.login)
    digest = passwords.digest(password)
    return _add(database, person, digest, stamp, Action.PERSON_ADDED, must_change_password=False)


def make_first_owner(database: Database, passwords: Passwords, at: datetime) -> OneTimePassword:
    """Add the owner of a shop that has nobody yet.

    Raises
    ------
    LoginTakenError
        There is an owner already.
    """
    password = passwords.one_time()
    person = Person(FIRST_LOGIN, FIRST_NAME, Role.OWNER)
    digest = passwords.digest(password)
    return OneTimePassword(
        _add(database, person, digest, Stamp(at, PROGRAM), Action.OWNER_MADE), password
    )


def change_person(database: Database, login: str, name: str, role: Role, stamp: Stamp) -> Account:
    """Give a person another name or role; the role counts from their next page on.

    What is on record keeps the name it was entered under.

    Raises
    ------
    UnknownPersonError, NameRuleError, LastOwnerError
    """
    new_name = _checked_name(name)

    def change(user: StoredUser) -> Changed:
        acts = []
        if new_name != user.name:
            names = {"before": user.name, "after": new_name}
            acts.append(act(Action.PERSON_RENAMED, stamp, user.login, **names))
        if role.value != user.role:
            roles = {"before": user.role, "after": role.value}
            acts.append(act(Action.ROLE_CHANGED, stamp, user.login, **roles))
        return replace(user, name=new_name, role=role.value), acts

    return _change(database, login, change)


def deactivate(database: Database, login: str, stamp: Stamp) -> Account:
    """Let a person in no more, and end their sessions; what they did stays on record.

    Raises
    ------
    UnknownPersonError, LastOwnerError
    """

    def change(user: StoredUser) -> Changed:
        ended = replace(user, is_active=False, session_number=user.session_number + 1)
        return ended, [act(Action.PERSON_DEACTIVATED, stamp, user.login)]

    return _change(database, login, change)


def activate(database: Database, login: str, stamp: Stamp) -> Account:
    """Let a person in again, with the password they had.

    Raises
    ------
    UnknownPersonError
    """

    def change(user: StoredUser) -> Changed:
        return replace(user, is_active=True), [act(Action.PERSON_ACTIVATED, stamp, user.login)]

    return _change(database, login, change)


def reset_password(
    database: Database, login: str, passwords: Passwords, stamp: Stamp
) -> OneTimePassword:
    """Give a person a one-time password, and end their sessions.

    Raises
    ------
    UnknownPersonError
    """
    password = passwords.one_time()
    digest = passwords.digest(password)

    def change(user: StoredUser) -> Changed:
        reset = _with_digest(user, digest, must_change_password=True)
        return reset, [act(Action.PASSWORD_RESET, stamp, user.login)]

    return OneTimePassword(_change(database, login, change), password)


def change_password(
    database: Database, login: str, present: str, new: str, passwords: Passwords, at: datetime
) -> Account:
    """Change one's own password, and end one's other sessions.

    Raises
    ------
    UnknownPersonError, WrongPresentPasswordError, PasswordRuleError
    """
    user = _user(database, login)
    if not passwords.is_right(user.password_hash, present):
        raise WrongPresentPasswordError
    check_new_password(new, user.login)
    if new == present:
        raise PasswordRuleError("must be another than the present one")
    digest = passwords.digest(new)

    def change(user: StoredUser) -> Changed:
        changed = _with_digest(user, digest, must_change_password=False)
        return changed, [act(Action.PASSWORD_CHANGED, Stamp(at, user.name), user.login)]

    return _change(database, login, change)


def end_sessions(database: Database, login: str, at: datetime) -> Account:
    """Sign a person out on every device.

    Raises
    ------
    UnknownPersonError
    """

    def change(user: StoredUser) -> Changed:
        ended = replace(user, session_number=user.session_number + 1)
        return ended, [act(Action.SESSIONS_ENDED, Stamp(at, user.name), user.login)]

    return _change(database, login, change)


def sign_in(
    database: Database, login: str, password: str, passwords: Passwords, at: datetime
) -> Account:
    """Account of the person whose login and password these are.

    A login that nobody has is not kept: it may be a password in the wrong field.

    Raises
    ------
    WrongPasswordError
        Nobody has that login, the password is another, or the person may not sign in any more.
    """
    with database.reading() as session:
        found = users_named(session, _folded(login))
    digest = found[0].password_hash if found else ""
    is_right = passwords.is_right(digest, password)
    if not found or not is_right or not found[0].is_active:
        known = found[0].login if found else ""
        reason = "deactivated" if is_right else "password" if found else "login"
        with database.writing() as session:
            failed = act(Action.SIGN_IN_FAILED, Stamp(at, NOBODY), known, reason=reason)
            add_act(session, failed)
        raise WrongPasswordError
    new_digest = passwords.digest(password) if passwords.is_due(digest) else digest

    def change(user: StoredUser) -> Changed:
        is_same = user.password_hash == digest
        kept = replace(user, password_hash=new_digest) if is_same else user
        return kept, [act(Action.SIGNED_IN, Stamp(at, user.name), user.login)]

    return _change(database, found[0].login, change)


def account_of_session(database: Database, user_id: int, session_number: int) -> Account | None:
    """Account a session belongs to; None if the session has ended."""
    with database.reading() as session:
        found = users_numbered(session, user_id)
    is_alive = found and found[0].is_active and found[0].session_number == session_number
    return _account(found[0]) if is_alive else None


def _add(
    database: Database,
    person: Person,
    digest: str,
    stamp: Stamp,
    action: Action,
    *,
    must_change_password: bool = True,
) -> Account:
    login = _folded(person.login)
    if not login:
        raise LoginRuleError(person.login)
    new = NewUser(
        login=login,
        name=_checked_name(person.name),
        role=person.role.value,
        password_hash=digest,
        must_change_password=must_change_password,
        added_at=stamp.at,
    )
    with database.writing() as session:
        if users_named(session, login):
            raise LoginTakenError(login)
        user = add_user(session, new)
        add_act(session, act(action, stamp, login, name=user.name, role=user.role))
    return _account(user)


def _change(database: Database, login: str, change: Callable[[StoredUser], Changed]) -> Account:
    """Change a person and note it; the shop keeps an owner who can sign in."""
    with database.writing() as session:
        owners = active_with_role(session, Role.OWNER.value)
        found = users_named(session, _folded(login), lock=True)
        if not found:
            raise UnknownPersonError(login)
        changed, acts = change(found[0])
        stays_owner = changed.is_active and changed.role == Role.OWNER.value
        if [owner.id for owner in owners] == [changed.id] and not stays_owner:
            raise LastOwnerError(changed.login)
        save_user(session, changed)
        for done in acts:
            add_act(session, done)
    return _account(changed)


def _user(database: Database, login: str) -> StoredUser:
    with database.reading() as session:
        found = users_named(session, _folded(login))
    if not found:
        raise UnknownPersonError(login)
    return found[0]


def _with_digest(user: StoredUser, digest: str, *, must_change_password: bool) -> StoredUser:
    return replace(
        user,
        password_hash=digest,
        must_change_password=must_change_password,
        session_number=user.session_number + 1,
    )


def _folded(login: str) -> str:
    """Login as it is stored; empty, which nobody has, if it cannot be one."""
    folded = login.strip().casefold()
    return folded if LOGIN.fullmatch(folded) else ""


def _checked_name(name: str) -> str:
    plain = written(name)
    if not 0 < len(plain) <= NAME_MAX:
        raise NameRuleError(NAME_MAX)
    return plain


def _account(user: StoredUser) -> Account:
    return Account(
        id=user.id,
        login=user.login,
        name=user.name,
        role=Role(user.role),
        is_active=user.is_active,
        must_change_password=user.must_change_password,
        session_number=user.session_number,
        added_at=user.added_at,
    )
