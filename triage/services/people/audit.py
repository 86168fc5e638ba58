"""The audit trail: who changed the shop, when, what, on what; and who failed to sign in.

What belongs to a call stands in its events. A service that changes the shop itself adds an ``act``
in the transaction of the change, so that one is never stored without the other::

    with database.writing() as session:
        ...
        add_act(session, act(Action.ROLE_CHANGED, stamp, user.login, role=role))
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from triage.store.audit import ActFilter, StoredAct, list_acts, names_in_trail
from triage.store.database import Database

__all__ = ["Act", "ActFilter", "Action", "Stamp", "Trail", "act", "find_acts"]

PAGE_LENGTH = 50  # acts
SUBJECT_MAX = 200
Act = StoredAct


class Action(StrEnum):
    """What can be done to the shop; other services add theirs here."""

    OWNER_MADE = "owner_made"
    PERSON_ADDED = "person_added"
    PERSON_RENAMED = "person_renamed"
    ROLE_CHANGED = "role_changed"
    PERSON_DEACTIVATED = "person_deactivated"
    PERSON_ACTIVATED = "person_activated"
    PASSWORD_RESET = "password_reset"
    PASSWORD_CHANGED = "password_changed"
    SESSIONS_ENDED = "sessions_ended"
    SIGNED_IN = "signed_in"
    SIGN_IN_FAILED = "sign_in_failed"
    TOKEN_MADE = "token_made"
    TOKEN_REVOKED = "token_revoked"
    SETTINGS_SAVED = "settings_saved"
    CLOSING_CORRECTED = "closing_corrected"
    JOBS_EXPORTED = "jobs_exported"
    JOBS_IMPORTED = "jobs_imported"
    VERSION_PROPOSED = "version_proposed"
    VERSION_APPROVED = "version_approved"
    VERSION_REJECTED = "version_rejected"
    VERSION_IN_USE = "version_in_use"
    CUSTOMER_EXPORTED = "customer_exported"
    CUSTOMER_ERASED = "customer_erased"
    PLATE_NOTE_ADDED = "plate_note_added"
    PLATE_NOTE_REMOVED = "plate_note_removed"
    VAN_ADDED = "van_added"
    VAN_CHANGED = "van_changed"
    CALENDAR_RENEWED = "calendar_renewed"


@dataclass(frozen=True, slots=True)
class Stamp:
    """When something is done, and by whom."""

    at: datetime
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """A page of the audit trail, newest first; pages count from 1."""

    acts: tuple[Act, ...]
    page: int
    has_more: bool
    names: tuple[str, ...]


def act(action: Action, stamp: Stamp, subject: str, **detail: Any) -> Act:
    """Act to be added to the trail; ``detail`` holds what JSON can hold."""
    kept: Mapping[str, Any] = detail
    return Act(
        at=stamp.at, by=stamp.by, action=action.value, subject=subject[:SUBJECT_MAX], detail=kept
    )


def find_acts(database: Database, wanted: ActFilter, *, page: int = 1) -> Trail:
    """Page of the acts that pass a filter."""
    with database.reading() as session:
        found = list_acts(session, wanted, offset=(page - 1) * PAGE_LENGTH, limit=PAGE_LENGTH + 1)
        names = names_in_trail(session)
    return Trail(
        acts=found[:PAGE_LENGTH], page=page, has_more=len(found) > PAGE_LENGTH, names=names
    )
