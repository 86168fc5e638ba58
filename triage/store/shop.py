"""What the owner keeps: versions of the settings, the own list by plate."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from triage.errors import StaleSettingsError
from triage.store.tables.shop import PlateNoteRow, SettingsRow


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


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateNote:
    """An entry of the owner's own list by plate; see ``PlateNoteRow``."""

    id: int
    kind: str
    plate: str
    part_id: str
    variant: str
    text: str
    source: str


def plate_notes(session: Session, kind: str = "") -> tuple[PlateNote, ...]:
    """Entries of the list by plate, of one kind or of both, by plate."""
    query = select(PlateNoteRow).order_by(PlateNoteRow.plate, PlateNoteRow.id)
    if kind:
        query = query.where(PlateNoteRow.kind == kind)
    return tuple(
        PlateNote(
            id=row.id,
            kind=row.kind,
            plate=row.plate,
            part_id=row.part_id,
            variant=row.variant,
            text=row.text,
            source=row.source,
        )
        for row in session.scalars(query)
    )


def add_plate_note(session: Session, note: PlateNote, at: datetime, by: str) -> bool:
    """Add an entry unless the same stands there, whatever its ``id``; whether it is new."""
    same = select(PlateNoteRow.id).where(
        PlateNoteRow.kind == note.kind,
        PlateNoteRow.plate == note.plate,
        PlateNoteRow.part_id == note.part_id,
        PlateNoteRow.variant == note.variant,
        PlateNoteRow.text == note.text,
    )
    if session.scalar(same.limit(1)) is not None:
        return False
    session.add(
        PlateNoteRow(
            kind=note.kind,
            plate=note.plate,
            part_id=note.part_id,
            variant=note.variant,
            text=note.text,
            source=note.source,
            at=at,
            by=by,
        )
    )
    session.flush()
    return True


def remove_plate_note(session: Session, note_id: int) -> PlateNote | None:
    """Take an entry from the list; None if it is not there any more."""
    row = session.get(PlateNoteRow, note_id)
    if row is None:
        return None
    found = next(note for note in plate_notes(session) if note.id == note_id)
    session.delete(row)
    session.flush()
    return found
