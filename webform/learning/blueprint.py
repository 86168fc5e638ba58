"""The blueprint of the pages of learning."""

from http import HTTPStatus

from flask import Blueprint, request

from triage.services.learning.job_file import LARGEST_BYTES

SEE_OTHER = HTTPStatus.SEE_OTHER
NUMBER = "int(max=999999999)"

bp = Blueprint("learning", __name__, template_folder="templates", url_prefix="/learning")

UPLOAD = "learning.files"
# What the largest file comes to with the parts of its form around it.
LARGEST_UPLOAD_BYTES = LARGEST_BYTES + 100_000
LARGEST_LIST_BYTES = 500_000  # a form with a tick for each row of a difference table


def let_files_in(endpoint: str | None, values: object) -> None:
    """Let a file be larger than any form; before the form token is looked for in what was sent."""
    if endpoint == UPLOAD and request.method == "POST":
        request.max_content_length = LARGEST_UPLOAD_BYTES
    if endpoint == "learning.approve":
        request.max_content_length = LARGEST_LIST_BYTES


bp.url_value_preprocessor(let_files_in)
