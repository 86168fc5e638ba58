"""Photos of a job: taken in, made small, and cleaned of everything but the picture.

A photo of a phone says where it was taken, when, and by which device. None of that is kept: the
picture is drawn anew from its dots, turned upright first, and only that is stored.
"""

import io
from dataclasses import dataclass

from PIL import Image, ImageOps, UnidentifiedImageError

from triage.errors import PhotoError
from triage.services.call_log.change import Entry
from triage.store.calls import read_call
from triage.store.database import Database
from triage.store.photos import NewPhoto, StoredPhoto, add_photo, read_image

__all__ = ["PHOTO_MAX_BYTES", "SentPhoto", "StoredPhoto", "cleaned", "keep_photo", "photo_image"]

PHOTO_MAX_BYTES = 8 * 1024 * 1024
DOTS_MAX = 50_000_000  # more than phones have today; a file that claims more is not opened
SIDE_MAX = 1600  # dots: the small print of a plate is still read
QUALITY = 82
KINDS = ("JPEG", "PNG", "WEBP")
MEDIA_TYPE = "image/jpeg"
NOTE_MAX = 500
TRY_AGAIN = "Choose a photo in JPEG, PNG or WebP"


@dataclass(frozen=True, slots=True)
class SentPhoto:
    """A photo as it was sent."""

    content: bytes
    note: str = ""


def keep_photo(database: Database, call_id: int, photo: SentPhoto, entry: Entry) -> int:
    """Keep a photo of a job, cleaned, and return its number; sent again, it is kept once.

    Raises
    ------
    UnknownCallError
    PhotoError
        The file is too large, or no photo.
    """
    if len(photo.note) > NOTE_MAX:
        raise PhotoError("The note is too long", f"Use {NOTE_MAX} characters or fewer", "note")
    image = cleaned(photo.content)
    new = NewPhoto(
        client_id=entry.submission.client_id,
        call_id=call_id,
        at=entry.at,
        by=entry.by,
        note=photo.note.strip(),
        media_type=MEDIA_TYPE,
        image=image,
    )
    with database.writing() as session:
        read_call(session, call_id)
        return add_photo(session, new)


def photo_image(database: Database, call_id: int, photo_id: int) -> tuple[bytes, str]:
    """Image of a photo and its media type, or ``UnknownPhotoError``."""
    with database.reading() as session:
        return read_image(session, call_id, photo_id)


def cleaned(content: bytes) -> bytes:
    """Picture alone, upright, at most ``SIDE_MAX`` dots long, as JPEG without any other data.

    Raises
    ------
    PhotoError
        The file is too large, or no photo.
    """
    if len(content) > PHOTO_MAX_BYTES:
        limit = PHOTO_MAX_BYTES // (1024 * 1024)
        raise PhotoError(f"The file is larger than {limit} MB", "Take the photo with fewer dots")
    try:
        with Image.open(io.BytesIO(content), formats=KINDS) as opened:
            if opened.width * opened.height > DOTS_MAX:
                raise PhotoError(
                    f"The picture has {opened.width} × {opened.height} dots",
                    "Take the photo with fewer dots",
                )
            opened.draft("RGB", (SIDE_MAX, SIDE_MAX))
            upright = ImageOps.exif_transpose(opened)
            small = upright.convert("RGBA" if _has_alpha(upright) else "RGB")
    except (
        UnidentifiedImageError,
        Image.DecompressionBombError,
        Image.DecompressionBombWarning,
    ):
        raise PhotoError("The file is no photo that can be read", TRY_AGAIN) from None
    except (OSError, ValueError, SyntaxError) as error:
        raise PhotoError("The photo is damaged", TRY_AGAIN) from error
    small.thumbnail((SIDE_MAX, SIDE_MAX))
    return _encoded(small)


def _has_alpha(image: Image.Image) -> bool:
    return image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info


def _encoded(image: Image.Image) -> bytes:
    """JPEG of the dots alone, on white where they were transparent."""
    bare = Image.new("RGB", image.size, "white")
    bare.paste(image, mask=image.getchannel("A") if image.mode == "RGBA" else None)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()
