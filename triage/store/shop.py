"""What the owner keeps: versions of the settings."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from triage.errors import StaleSettingsError
from triage.store.tables.shop import SettingsRow


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredSettings:
    """A version of the settings, as the text of a settings file, and why it was made."""

    version: int
    text: str
    at: datetime
    by: str
    reason: str


def newest_settings(session: Session) -> StoredSettings | None:
    """Version of the settings that holds, or None if the owner never saved any."""
    row = session.scalar(select(SettingsRow).order_by(SettingsRow.version.desc()).limit(1))
    return None if row is None else _stored(row)


def settings_at(session: Session, moment: datetime) -> StoredSettings | None:
    """Version of the settings that held at a moment, or None if there was none yet."""
    row = session.scalar(
        select(SettingsRow)
        .where(SettingsRow.at <= moment)
        .order_by(SettingsRow.version.desc())
        .limit(1)
    )
    return None if row is None else _stored(row)


def settings_versions(session: Session) -> tuple[StoredSettings, ...]:
    """Every version of the settings, newest first."""
    rows = session.scalars(select(SettingsRow).order_by(SettingsRow.version.desc()))
    return tuple(_stored(row) for row in rows)


def add_settings(session: Session, new: StoredSettings) -> None:
    """Add a version.

    Raises
    ------
    StaleSettingsError
        Somebody else added that version at the same moment.
    """
    session.add(
        SettingsRow(version=new.version, text=new.text, at=new.at, by=new.by, reason=new.reason)
    )
    try:
        session.flush()
    except IntegrityError:
        raise StaleSettingsError(new.version - 1, new.version) from None


def _stored(row: SettingsRow) -> StoredSettings:
    return StoredSettings(
        version=row.version, text=row.text, at=row.at, by=row.by, reason=row.reason
    )
