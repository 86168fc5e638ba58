"""Vans, who drives them, and the secret addresses of their calendars."""

import secrets
from dataclasses import dataclass

from triage.services.call_log.change import Entry
from triage.services.people.accounts import find_people
from triage.services.people.audit import Act, Action, Stamp, act
from triage.services.people.roles import Role
from triage.store import visits as store
from triage.store.audit import add_act
from triage.store.database import Database
from triage.store.visits import StoredVan

__all__ = [
    "StoredVan",
    "VanEntered",
    "add_van",
    "change_van",
    "drivers",
    "find_van",
    "find_vans",
    "renew_feed",
]

SECRET_BYTES = 32  # 256 bits: nobody guesses an address


@dataclass(frozen=True, slots=True, kw_only=True)
class VanEntered:
    """What is entered of a van; ``technician_id`` 0 is nobody."""

    name: str
    technician_id: int = 0
    is_active: bool = True


def find_vans(database: Database, *, only_active: bool = False) -> tuple[StoredVan, ...]:
    """Vans by name."""
    with database.reading() as session:
        return store.list_vans(session, only_active=only_active)


def find_van(database: Database, van_id: int) -> StoredVan:
    """Van of a number, or ``UnknownVanError``."""
    with database.reading() as session:
        return store.read_van(session, van_id)


def drivers(database: Database) -> tuple[tuple[int, str], ...]:
    """Who can be given a van, with their numbers: active technicians, then owners."""
    people = [account for account in find_people(database) if account.is_active]
    return tuple(
        (account.id, account.name)
        for role in (Role.TECHNICIAN, Role.OWNER)
        for account in people
        if account.role is role
    )


def add_van(database: Database, entered: VanEntered, entry: Entry) -> int:
    """Add a van and return its number.

    Raises
    ------
    VanNameTakenError
    """
    with database.writing() as session:
        van_id = store.add_van(
            session,
            entered.name.strip(),
            entered.technician_id,
            secrets.token_urlsafe(SECRET_BYTES),
        )
        add_act(session, _act(Action.VAN_ADDED, entered.name.strip(), entry))
    return van_id


def change_van(database: Database, van_id: int, entered: VanEntered, entry: Entry) -> None:
    """Rename a van, give it to somebody, take it out of use or back.

    Raises
    ------
    UnknownVanError, VanNameTakenError
    """
    with database.writing() as session:
        store.change_van(
            session,
            van_id,
            name=entered.name.strip(),
            technician_id=entered.technician_id,
            is_active=entered.is_active,
        )
        add_act(session, _act(Action.VAN_CHANGED, entered.name.strip(), entry))


def renew_feed(database: Database, van_id: int, entry: Entry) -> None:
    """Give the calendar of a van a new secret address; the old one shows nothing from then on.

    Raises
    ------
    UnknownVanError
    """
    with database.writing() as session:
        van = store.read_van(session, van_id)
        store.replace_secret(session, van_id, secrets.token_urlsafe(SECRET_BYTES))
        add_act(session, _act(Action.CALENDAR_RENEWED, van.name, entry))


def _act(action: Action, van: str, entry: Entry) -> Act:
    return act(action, Stamp(entry.at, entry.by), van)
