"""Read model of the page that says why something was not recorded."""

from dataclasses import dataclass
from http import HTTPStatus

from flask import request, url_for

from webform.jobsheet import texts


@dataclass(frozen=True, slots=True)
class RefusedScreen:
    """Why it was not recorded, and where to go on."""

    heading: str
    message: str
    url: str
    link: str


def refused_screen(message: str, status: HTTPStatus = HTTPStatus.BAD_REQUEST) -> RefusedScreen:
    """Put the page together; it leads back to the job, the stock or the day."""
    known = request.view_args or {}
    heading = texts.NOT_FOUND if status is HTTPStatus.NOT_FOUND else texts.NOT_RECORDED
    if "call_id" in known:
        url = url_for("jobsheet.job", call_id=known["call_id"])
        return RefusedScreen(heading, message, url, texts.TO_JOB)
    if "van_id" in known and status is not HTTPStatus.NOT_FOUND:
        url = url_for("jobsheet.van_stock", van_id=known["van_id"])
        return RefusedScreen(heading, message, url, texts.TO_STOCK)
    return RefusedScreen(heading, message, url_for("jobsheet.day"), texts.TO_DAY)
