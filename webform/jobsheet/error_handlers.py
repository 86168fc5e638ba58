"""Handlers of the errors of the technician's pages, and how large a photo may be.

What was sent comes back on the page it came from, as the ``Refusal`` says: the message at its
field, what was typed kept.
"""

from collections.abc import Mapping
from http import HTTPStatus

from flask import Blueprint, Response, jsonify, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import RequestEntityTooLarge

from triage.errors import (
    EvidenceError,
    JobError,
    PhotoError,
    StaleCallError,
    TriageError,
    UnknownPhotoError,
    UnknownVanError,
)
from triage.services.job.photos import PHOTO_MAX_BYTES
from triage.services.job.record import Reception
from webform.jobsheet import texts
from webform.jobsheet.refusal import PHOTO, refusal_of
from webform.jobsheet.refused_screen import refused_screen
from webform.jobsheet.showing import show_sheet, show_stock

UNKNOWN = (UnknownPhotoError, UnknownVanError)
PHOTO_POST_MAX_BYTES = PHOTO_MAX_BYTES + 64 * 1024  # the photo, and its form around it
ADD_PHOTO, KEPT_PHOTO = "jobsheet.add_photo", "jobsheet.kept_photo"
OF_SHEET = ("jobsheet.enter", ADD_PHOTO)
OF_STOCK = ("jobsheet.count", "jobsheet.refill")
TEXT_MAX = 4000


def allow_photos(endpoint: str | None, _: object) -> None:
    """Let a photo be larger than a form; before the token, which is inside it, is looked for."""
    if endpoint in (ADD_PHOTO, KEPT_PHOTO):
        request.max_content_length = PHOTO_POST_MAX_BYTES


def refused(error: TriageError) -> ResponseReturnValue:
    """Show the page again with the reason; without one, a page that leads back."""
    if isinstance(error, UNKNOWN):
        screen = refused_screen(str(error), HTTPStatus.NOT_FOUND)
        return render_template("jobsheet/refused.html", screen=screen), HTTPStatus.NOT_FOUND
    if request.endpoint == KEPT_PHOTO:
        return _to_device(str(error)), HTTPStatus.BAD_REQUEST
    if request.endpoint in OF_SHEET + OF_STOCK:
        return _page_again(error, request.form), _status(error)
    return render_template("jobsheet/refused.html", screen=refused_screen(str(error))), 400


def too_large(_: RequestEntityTooLarge) -> ResponseReturnValue:
    """Say that a photo, or what else was sent, is too large; none of it can be shown again."""
    status = HTTPStatus.REQUEST_ENTITY_TOO_LARGE
    if request.endpoint == KEPT_PHOTO:
        return _to_device(texts.TOO_LARGE), status
    if request.endpoint == ADD_PHOTO:
        return _page_again(PhotoError(texts.PHOTO_TOO_LARGE, texts.FEWER_DOTS), {}), status
    page = render_template("jobsheet/refused.html", screen=refused_screen(texts.TOO_LARGE))
    return page, status


def _to_device(message: str) -> Response:
    """What a device keeps beside what was refused."""
    return jsonify(reception=Reception.REFUSED.value, message=message)


def _page_again(error: TriageError, form: Mapping[str, str]) -> str:
    known = request.view_args or {}
    fields = {name: form[name][:TEXT_MAX] for name in form}
    if request.endpoint in OF_STOCK:
        return show_stock(known["van_id"], refusal_of(error, str(request.endpoint), fields))
    kind = PHOTO if request.endpoint == ADD_PHOTO else fields.get("kind", "")
    return show_sheet(known["call_id"], refusal_of(error, kind, fields))


def _status(error: TriageError) -> HTTPStatus:
    return HTTPStatus.CONFLICT if isinstance(error, StaleCallError) else HTTPStatus.BAD_REQUEST


def handle_errors(bp: Blueprint) -> None:
    """Give the pages of a blueprint these handlers."""
    bp.url_value_preprocessor(allow_photos)
    for kind in (JobError, EvidenceError, StaleCallError):
        bp.register_error_handler(kind, refused)
    bp.register_error_handler(RequestEntityTooLarge, too_large)
