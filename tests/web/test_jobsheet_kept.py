"""Claims about what reaches a job besides its forms: photos, and entries kept without signal."""

import io
from typing import Any
from uuid import uuid4

import pytest
from PIL import Image
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from tests.triage.job.test_job_photos import SECRET, a_photo, tagged_photo
from tests.web.page import Visitor
from tests.web.sheet_forms import enter, take_step
from triage.services.calls.calls import Database
from triage.services.job.photos import PHOTO_MAX_BYTES
from triage.services.job.sheet import find_job

PUMP = "tests_drain_pump"


def token(visitor: Visitor) -> str:
    answer = visitor.client.get("/jobs/token")
    assert answer.json is not None
    return str(answer.json["token"])


def send_kept(visitor: Visitor, call_id: int, entries: object, **more: Any) -> Any:
    headers = {"X-CSRFToken": token(visitor)}
    body = {"sent_at": "2026-03-02T09:00:00Z", "entries": entries, **more}
    return visitor.client.post(f"/jobs/{call_id}/entries", json=body, headers=headers)


def a_finding(answer: str = "hums", **more: object) -> dict[str, object]:
    return {
        "id": uuid4().hex,
        "kind": "finding",
        "fields": {"observation": PUMP, "answer": answer},
        "made_at": "2026-03-02T08:59:00Z",
        "shown_version": 0,
        **more,
    }


def post_photo(visitor: Visitor, call_id: int, content: bytes, note: str = "Plate") -> Any:
    page = visitor.open(f"/jobs/{call_id}")
    form = page.forms("/photos")[0]
    fields: dict[str, Any] = {
        one.attributes["name"]: one.attributes["value"] for one in form.all("input", type="hidden")
    }
    fields |= {"note": note, "photo": FileStorage(io.BytesIO(content), "IMG_1.jpg")}
    path = f"/jobs/{call_id}/photos"
    boundary, body = encode_multipart(fields)
    kind = f"multipart/form-data; boundary={boundary}"
    return visitor.client.post(path, data=body, content_type=kind)


def test_photo_with_its_place_comes_out_clean(technician: Visitor, job: int) -> None:
    assert post_photo(technician, job, tagged_photo()).status_code == 303

    page = technician.open(f"/jobs/{job}")
    shown = page.root.all("details", id="photos")[0].all("img")[0]
    image = technician.client.get(shown.attributes["src"])

    assert shown.attributes["alt"] == "Plate"
    assert image.content_type == "image/jpeg"
    assert image.headers["Cache-Control"] == "no-store"
    assert dict(Image.open(io.BytesIO(image.data)).getexif()) == {}
    assert SECRET not in image.data


def test_photo_may_be_larger_than_a_form_and_no_larger_than_eight_megabytes(
    technician: Visitor, job: int
) -> None:
    large = a_photo() + b"\0" * 2_000_000  # what follows the picture is not kept
    huge = a_photo() + b"\0" * (PHOTO_MAX_BYTES + 100_000)

    taken, refused = post_photo(technician, job, large), post_photo(technician, job, huge)

    assert taken.status_code == 303
    assert refused.status_code == 413
    assert "A photo must be 8 MB or smaller." in refused.text


@pytest.mark.parametrize("content", [b"", b"<html></html>", a_photo()[:300]])
def test_file_that_is_no_photo_is_refused(technician: Visitor, job: int, content: bytes) -> None:
    response = post_photo(technician, job, content)

    assert response.status_code == 400
    assert "Choose a photo in JPEG, PNG or WebP" in response.text


def send_photo(visitor: Visitor, call_id: int, content: bytes, **more: str) -> Any:
    fields: dict[str, Any] = {
        "client_id": "a" * 32,
        "shown_version": "0",
        "note": "Plate",
        "made_at": "2026-03-02T08:30:00Z",
        "sent_at": "2026-03-02T09:00:00Z",
        **more,
    }
    fields["photo"] = FileStorage(io.BytesIO(content), "photo.jpg")
    boundary, body = encode_multipart(fields)
    kind, headers = f"multipart/form-data; boundary={boundary}", {"X-CSRFToken": token(visitor)}
    path = f"/jobs/{call_id}/kept-photos"
    return visitor.client.post(path, data=body, content_type=kind, headers=headers)


def test_photo_that_a_device_kept_goes_in_once_with_its_time_and_without_its_place(
    technician: Visitor, job: int
) -> None:
    first = send_photo(technician, job, tagged_photo())
    again = send_photo(technician, job, tagged_photo())

    shown = technician.open(f"/jobs/{job}").root.all("details", id="photos")[0]
    (image,) = shown.all("img")

    assert [one.json["reception"] for one in (first, again)] == ["stored", "stored"]
    assert "Plate 08:30" in shown.text
    assert SECRET not in technician.client.get(image.attributes["src"]).data


@pytest.mark.parametrize(
    ("content", "status"),
    [(b"<html></html>", 400), (a_photo() + b"\0" * (PHOTO_MAX_BYTES + 100_000), 413)],
)
def test_kept_photo_that_cannot_be_is_told_to_the_device(
    technician: Visitor, job: int, content: bytes, status: int
) -> None:
    answer = send_photo(technician, job, content)

    assert answer.status_code == status
    assert answer.json["reception"] == "refused"
    assert "photo" in answer.json["message"].lower()


@pytest.mark.parametrize("more", [{"made_at": "today"}, {"sent_at": ""}, {"client_id": "x"}])
def test_kept_photo_without_its_ticket_is_refused(
    technician: Visitor, job: int, more: dict[str, str]
) -> None:
    assert send_photo(technician, job, a_photo(), **more).status_code == 400
    assert not technician.open(f"/jobs/{job}").root.all("img", loading="lazy")


def test_device_is_told_the_field_to_be_changed(technician: Visitor, job: int) -> None:
    fields = {"observation": "meters_supply", "reading": "much"}

    (received,) = send_kept(technician, job, [a_finding(fields=fields)]).json["entries"]

    assert received["reception"] == "refused"
    assert received["field"] == "reading"
    assert "“much” cannot be a reading" in received["message"]


def test_other_routes_take_no_more_than_before(technician: Visitor, job: int) -> None:
    response = technician.client.post(f"/jobs/{job}/enter", data={"text": "x" * 200_000})

    assert response.status_code == 413


def test_kept_entries_are_stored_once(database: Database, technician: Visitor, job: int) -> None:
    entries = [a_finding(), a_finding("silent", kind="job_note", fields={"text": "Bell broken"})]

    first = send_kept(technician, job, entries)
    again = send_kept(technician, job, entries)

    assert [one["reception"] for one in first.json["entries"]] == ["stored", "stored"]
    assert [one["reception"] for one in again.json["entries"]] == ["stored_before"] * 2
    state = find_job(database, job)
    assert state.answer_to(PUMP) == "hums"
    assert len(state.told) == 1


def test_answer_given_twice_is_said_on_the_sheet(technician: Visitor, job: int) -> None:
    take_step(technician, job, PUMP)
    enter(technician, job, "finding", answer="silent")

    send_kept(technician, job, [a_finding("hums", made_at="2026-03-02T09:00:00Z")])

    text = technician.open(f"/jobs/{job}").text
    assert "Answered twice: Drain pump on" in text
    assert "Hums only without signal, Silent meanwhile; it counts as Hums only." in text


def test_clock_of_a_device_that_is_off_does_not_matter(
    database: Database, technician: Visitor, job: int
) -> None:
    entry = a_finding(kind="job_note", fields={"text": "x"}, made_at="2031-01-01T11:59:00Z")

    send_kept(technician, job, [entry], sent_at="2031-01-01T11:59:00Z")

    assert f"{find_job(database, job).told[0].at:%Y %H:%M}" == "2026 09:00"


@pytest.mark.parametrize(
    "entries",
    [
        "none",
        [{}],
        [a_finding(id="x")],
        [a_finding(made_at="yesterday")],
        [a_finding(made_at="2026-03-02T08:59:00")],
        [a_finding(shown_version=-1)],
        [a_finding(fields={"observation": 5})],
        [a_finding() for _ in range(301)],
    ],
)
def test_what_is_no_list_of_entries_is_refused_whole(
    database: Database, technician: Visitor, job: int, entries: object
) -> None:
    before = find_job(database, job)

    response = send_kept(technician, job, entries)

    assert response.status_code == 400
    assert find_job(database, job) == before


def test_entry_that_cannot_be_is_told_and_the_others_are_stored(
    technician: Visitor, job: int
) -> None:
    entries = [a_finding("perhaps"), a_finding(fields={}), a_finding()]

    received = send_kept(technician, job, entries).json["entries"]

    assert [one["reception"] for one in received] == ["refused", "refused", "stored"]
    assert 'Unknown answer "perhaps"' in received[0]["message"]


def test_entries_need_a_token_and_somebody_signed_in(
    technician: Visitor, stranger: Visitor, job: int
) -> None:
    path, body = f"/jobs/{job}/entries", {"sent_at": "2026-03-02T09:00:00Z", "entries": []}

    without_token = technician.client.post(path, json=body)
    without_person = stranger.client.post(path, json=body)

    assert without_token.status_code == 400
    assert without_person.status_code == 303
    assert stranger.client.get("/jobs/token").status_code == 303


def test_service_worker_serves_every_page_and_is_asked_for_anew(stranger: Visitor) -> None:
    response = stranger.client.get("/sw.js")

    assert response.status_code == 200
    assert response.headers["Service-Worker-Allowed"] == "/"
    assert response.headers["Cache-Control"] == "no-store"
    assert "javascript" in (response.content_type or "")
    response.close()
