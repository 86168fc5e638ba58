"""Photos of a job."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from triage.errors import UnknownPhotoError
from triage.store.tables.calls import PhotoRow


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPhoto:
    """A photo as it is added, already without what it should not tell."""

    client_id: str
    call_id: int
    at: datetime
    by: str
    note: str
    media_type: str
    image: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPhoto:
    """A photo in the list of a job; the image itself is read apart."""

    id: int
    at: datetime
    by: str
    note: str


def add_photo(session: Session, new: NewPhoto) -> int:
    """Number of the photo; the same ``client_id`` finds the same photo."""
    found = session.scalar(select(PhotoRow.id).where(PhotoRow.client_id == new.client_id))
    if found is not None:
        return found
    row = PhotoRow(
        client_id=new.client_id,
        call_id=new.call_id,
        at=new.at,
        by=new.by,
        note=new.note,
        media_type=new.media_type,
        image=new.image,
    )
    session.add(row)
    session.flush()
    return row.id


def photos_of(session: Session, call_id: int) -> tuple[StoredPhoto, ...]:
    """Photos of a job, oldest first."""
    rows = session.execute(
        select(PhotoRow.id, PhotoRow.at, PhotoRow.by, PhotoRow.note)
        .where(PhotoRow.call_id == call_id)
        .order_by(PhotoRow.at, PhotoRow.id)
    )
    return tuple(StoredPhoto(id=row.id, at=row.at, by=row.by, note=row.note) for row in rows)


def read_image(session: Session, call_id: int, photo_id: int) -> tuple[bytes, str]:
    """Image of a photo of a job and its media type, or ``UnknownPhotoError``."""
    row = session.get(PhotoRow, photo_id)
    if row is None or row.call_id != call_id:
        raise UnknownPhotoError(photo_id)
    return row.image, row.media_type
