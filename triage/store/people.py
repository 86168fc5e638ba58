"""People of the shop and their tokens: add, find, change."""

from dataclasses import dataclass, fields
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from triage.store.tables.people import TokenRow, UserRow


@dataclass(frozen=True, slots=True, kw_only=True)
class NewUser:
    """A person as they are added."""

    login: str
    name: str
    role: str
    password_hash: str
    must_change_password: bool
    added_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredUser:
    """A person as they are stored; see ``UserRow``."""

    id: int
    login: str
    name: str
    role: str
    password_hash: str
    must_change_password: bool
    is_active: bool
    session_number: int
    added_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class NewToken:
    """A token as it is added; ``digest`` is all that is kept of it."""

    name: str
    digest: str
    user_id: int
    role: str
    added_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredToken:
    """A token as it is stored, with the person it acts for."""

    id: int
    name: str
    role: str
    added_at: datetime
    used_at: datetime | None
    revoked_at: datetime | None
    user: StoredUser


def add_user(session: Session, new: NewUser) -> StoredUser:
    """Add a person."""
    row = UserRow(
        login=new.login,
        name=new.name,
        role=new.role,
        password_hash=new.password_hash,
        must_change_password=new.must_change_password,
        is_active=True,
        session_number=1,
        added_at=new.added_at,
    )
    session.add(row)
    session.flush()
    return _user(row)


def users_named(session: Session, login: str, *, lock: bool = False) -> tuple[StoredUser, ...]:
    """Person with a login, none or one; ``lock`` keeps every other writer away from them."""
    query = select(UserRow).where(UserRow.login == login)
    return tuple(_user(row) for row in session.scalars(query.with_for_update() if lock else query))


def users_numbered(session: Session, user_id: int) -> tuple[StoredUser, ...]:
    """Person of a number, none or one."""
    query = select(UserRow).where(UserRow.id == user_id)
    return tuple(_user(row) for row in session.scalars(query))


def list_users(session: Session) -> tuple[StoredUser, ...]:
    """Everybody, those who may sign in first, by name."""
    order = (UserRow.is_active.desc(), UserRow.name, UserRow.id)
    return tuple(_user(row) for row in session.scalars(select(UserRow).order_by(*order)))


def active_with_role(session: Session, role: str) -> tuple[StoredUser, ...]:
    """Those of a role who may sign in; no other writer changes them until the session ends."""
    query = select(UserRow).where(UserRow.role == role, UserRow.is_active).order_by(UserRow.id)
    return tuple(_user(row) for row in session.scalars(query.with_for_update()))


def save_user(session: Session, user: StoredUser) -> None:
    """Write a person as they are now."""
    row = session.get_one(UserRow, user.id)
    for field in fields(StoredUser):
        setattr(row, field.name, getattr(user, field.name))
    session.flush()


def add_token(session: Session, new: NewToken) -> int:
    """Add a token and return its number."""
    row = TokenRow(
        name=new.name,
        digest=new.digest,
        user_id=new.user_id,
        role=new.role,
        added_at=new.added_at,
        used_at=None,
        revoked_at=None,
    )
    session.add(row)
    session.flush()
    return row.id


def list_tokens(session: Session) -> tuple[StoredToken, ...]:
    """Every token, newest first."""
    query = select(TokenRow, UserRow).join(UserRow, TokenRow.user_id == UserRow.id)
    newest_first = query.order_by(TokenRow.added_at.desc(), TokenRow.id.desc())
    return tuple(_token(token, user) for token, user in session.execute(newest_first))


def tokens_with(session: Session, digest: str) -> tuple[StoredToken, ...]:
    """Token of a digest, none or one."""
    query = select(TokenRow, UserRow).join(UserRow, TokenRow.user_id == UserRow.id)
    found = session.execute(query.where(TokenRow.digest == digest))
    return tuple(_token(token, user) for token, user in found)


def tokens_numbered(session: Session, token_id: int) -> tuple[StoredToken, ...]:
    """Token of a number, none or one."""
    query = select(TokenRow, UserRow).join(UserRow, TokenRow.user_id == UserRow.id)
    found = session.execute(query.where(TokenRow.id == token_id))
    return tuple(_token(token, user) for token, user in found)


def note_use(session: Session, token_id: int, at: datetime) -> None:
    """Keep when a token was last used."""
    session.get_one(TokenRow, token_id).used_at = at
    session.flush()


def revoke(session: Session, token_id: int, at: datetime) -> None:
    """Keep since when a token is worth nothing."""
    session.get_one(TokenRow, token_id).revoked_at = at
    session.flush()


def _user(row: UserRow) -> StoredUser:
    return StoredUser(**{field.name: getattr(row, field.name) for field in fields(StoredUser)})


def _token(row: TokenRow, user: UserRow) -> StoredToken:
    return StoredToken(
        id=row.id,
        name=row.name,
        role=row.role,
        added_at=row.added_at,
        used_at=row.used_at,
        revoked_at=row.revoked_at,
        user=_user(user),
    )
