"""Claims about photos: nothing but the picture is kept, and what is none is refused."""

import io
from uuid import uuid4

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from tests.triage.job.job_shop import TEN, job_of_the_morning
from triage.errors import PhotoError, UnknownCallError, UnknownPhotoError
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.job import photos
from triage.services.job.photos import SentPhoto, cleaned, keep_photo, photo_image
from triage.store.photos import photos_of

GPS, MAKE, TURNED = 0x8825, 0x010F, 0x0112  # tags of [Exif]_
SECRET = b"Larkham Hollow"


def a_photo(kind: str = "JPEG", size: tuple[int, int] = (640, 480), **options: object) -> bytes:
    """A photo with a red corner at the upper left."""
    image = Image.new("RGB", size, "navy")
    image.paste("red", (0, 0, size[0] // 4, size[1] // 4))
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def tagged_photo() -> bytes:
    """A photo that tells where it was taken, and lies on its side."""
    exif = Image.Exif()
    exif[MAKE] = SECRET.decode()
    exif[TURNED] = 6
    exif.get_ifd(GPS).update({1: "N", 2: (41.0, 52.0, 41.0), 3: "W", 4: (87.0, 37.0, 45.0)})
    return a_photo(exif=exif.tobytes(), comment=SECRET)


def page() -> Entry:
    return Entry(submission=Submission(uuid4().hex, 0), at=TEN, by="Tova Lind")


def test_place_and_device_in_a_photo_are_gone() -> None:
    sent = tagged_photo()
    assert dict(Image.open(io.BytesIO(sent)).getexif().get_ifd(GPS))
    assert SECRET in sent

    kept = cleaned(sent)

    image = Image.open(io.BytesIO(kept))
    assert dict(image.getexif()) == {}
    assert {"exif", "comment", "icc_profile", "xmp"} & set(image.info) == set()
    assert SECRET not in kept
    assert b"Exif" not in kept


def test_photo_that_lies_on_its_side_is_turned_upright() -> None:
    image = Image.open(io.BytesIO(cleaned(tagged_photo())))

    assert image.size == (480, 640)
    red, green, blue = image.convert("RGB").getpixel((470, 10))  # type: ignore[misc]
    assert red > 200
    assert green < 60
    assert blue < 60


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_large_photo_is_made_small(kind: str) -> None:
    image = Image.open(io.BytesIO(cleaned(a_photo(kind, (4000, 1000)))))

    assert (image.format, image.size) == ("JPEG", (1600, 400))


def test_text_in_a_png_is_gone_and_what_was_transparent_is_white() -> None:
    info = PngInfo()
    info.add_text("Comment", SECRET.decode())
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG", pnginfo=info)

    kept = cleaned(out.getvalue())

    assert SECRET not in kept
    assert Image.open(io.BytesIO(kept)).getpixel((10, 10)) == (255, 255, 255)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "no photo that can be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no photo that can be read"),
        (a_photo("GIF"), "no photo that can be read"),
        (a_photo()[:400], "damaged"),
        (a_photo("PNG")[:80], "damaged|no photo"),
        (b"\xff\xd8\xff" + b"0" * photos.PHOTO_MAX_BYTES, "larger than 8 MB"),
    ],
)
def test_file_that_is_no_photo_is_refused(content: bytes, message: str) -> None:
    with pytest.raises(PhotoError, match=message):
        cleaned(content)


@pytest.mark.parametrize("side", [7500, 12000, 20000])
def test_picture_that_unpacks_to_too_many_dots_is_refused(side: int) -> None:
    """A small file of one colour that would fill the memory."""
    out = io.BytesIO()
    Image.new("1", (side, side)).save(out, "PNG")
    assert len(out.getvalue()) < 100_000

    with pytest.raises(PhotoError, match=r"dots|no photo"):
        cleaned(out.getvalue())


def test_photo_sent_twice_is_kept_once(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    same, photo = page(), SentPhoto(a_photo(), " Plate ")

    first = keep_photo(database, call_id, photo, same)
    second = keep_photo(database, call_id, photo, same)

    assert first == second
    with database.reading() as session:
        kept = photos_of(session, call_id)
    assert [(one.id, one.note, one.by) for one in kept] == [(first, "Plate", "Tova Lind")]


def test_photo_is_given_back_as_a_jpeg(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)

    image, media_type = photo_image(
        database, call_id, keep_photo(database, call_id, SentPhoto(a_photo("WEBP")), page())
    )

    assert media_type == "image/jpeg"
    assert Image.open(io.BytesIO(image)).format == "JPEG"


def test_photo_of_another_job_is_not_given(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    photo_id = keep_photo(database, call_id, SentPhoto(a_photo()), page())

    with pytest.raises(UnknownPhotoError, match="has no photo"):
        photo_image(database, call_id + 1, photo_id)


def test_photo_of_an_unknown_job_and_a_long_note_are_refused(database: Database) -> None:
    with pytest.raises(UnknownCallError, match="No call"):
        keep_photo(database, 99, SentPhoto(a_photo()), page())
    with pytest.raises(PhotoError, match="note is too long"):
        keep_photo(database, 99, SentPhoto(a_photo(), "x" * 501), page())
