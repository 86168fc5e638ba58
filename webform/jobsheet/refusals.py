"""What the technician's pages do with what cannot be recorded, and how large a photo may be."""

from http import HTTPStatus

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import RequestEntityTooLarge

from triage.errors import EvidenceError, JobError, TriageError, UnknownPhotoError, UnknownVanError
from triage.services.job.photos import PHOTO_MAX_BYTES
from webform.jobsheet import texts
from webform.jobsheet.refused_screen import refused_screen

UNKNOWN = (UnknownPhotoError, UnknownVanError)
PHOTO_POST_MAX_BYTES = PHOTO_MAX_BYTES + 64 * 1024  # the photo, and its form around it


def allow_photos(endpoint: str | None, _: object) -> None:
    """Let a photo be larger than a form; before the token, which is inside it, is looked for."""
    if endpoint == "jobsheet.add_photo":
        request.max_content_length = PHOTO_POST_MAX_BYTES


def refused(error: TriageError) -> ResponseReturnValue:
    """Say why an entry was not recorded, and lead back to where it was made."""
    status = HTTPStatus.NOT_FOUND if isinstance(error, UNKNOWN) else HTTPStatus.BAD_REQUEST
    page = render_template("jobsheet/refused.html", screen=refused_screen(str(error), status))
    return page, status


def too_large(_: RequestEntityTooLarge) -> ResponseReturnValue:
    """Say that a photo, or what else was sent, is too large."""
    page = render_template("jobsheet/refused.html", screen=refused_screen(texts.TOO_LARGE))
    return page, HTTPStatus.REQUEST_ENTITY_TOO_LARGE


def prepare(bp: Blueprint) -> None:
    """Give the pages of a blueprint these answers."""
    bp.url_value_preprocessor(allow_photos)
    bp.register_error_handler(JobError, refused)
    bp.register_error_handler(EvidenceError, refused)
    bp.register_error_handler(RequestEntityTooLarge, too_large)
