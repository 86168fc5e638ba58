"""Errors as pages: one handler for everything the library raises on purpose."""

from collections.abc import Mapping
from http import HTTPStatus

from flask import Flask, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException, SecurityError

from triage.errors import (
    AlreadyClosedError,
    LastOwnerError,
    NotClosedError,
    OutOfScopeError,
    SafetyFirstError,
    SlotTakenError,
    StaleCallError,
    StaleCustomerError,
    StaleSettingsError,
    TriageError,
    UnfinishedJobsError,
    UnknownAnswerError,
    UnknownCalculatorError,
    UnknownCallError,
    UnknownChangeError,
    UnknownCustomerError,
    UnknownFeedError,
    UnknownJobFileError,
    UnknownMachineError,
    UnknownNetworkError,
    UnknownNodeError,
    UnknownObservationError,
    UnknownPersonError,
    UnknownRunError,
    UnknownTokenError,
    UnknownVanError,
    UnknownVersionError,
    UnknownVisitError,
    VersionStateError,
    VisitStateError,
)
from webform.access import home, may_open
from webform.problems import is_for_program, problem_of_crash, problem_of_error, problem_of_http


class IncompletePageError(TriageError):
    """Raised when a page that was sent lacks what every page has, or what its button stands for."""

    def __init__(self) -> None:
        super().__init__(
            "Something was missing from what was sent. Nothing was recorded; "
            "look at the call as it is now and answer again."
        )


STATUS = {
    UnknownCallError: HTTPStatus.NOT_FOUND,
    UnknownCalculatorError: HTTPStatus.NOT_FOUND,
    UnknownNetworkError: HTTPStatus.NOT_FOUND,
    UnknownNodeError: HTTPStatus.NOT_FOUND,
    UnknownVersionError: HTTPStatus.NOT_FOUND,
    UnknownChangeError: HTTPStatus.NOT_FOUND,
    UnknownRunError: HTTPStatus.NOT_FOUND,
    UnknownJobFileError: HTTPStatus.NOT_FOUND,
    VersionStateError: HTTPStatus.CONFLICT,
    UnknownPersonError: HTTPStatus.NOT_FOUND,
    UnknownTokenError: HTTPStatus.NOT_FOUND,
    NotClosedError: HTTPStatus.NOT_FOUND,
    UnfinishedJobsError: HTTPStatus.CONFLICT,
    AlreadyClosedError: HTTPStatus.CONFLICT,
    StaleSettingsError: HTTPStatus.CONFLICT,
    StaleCallError: HTTPStatus.CONFLICT,
    StaleCustomerError: HTTPStatus.CONFLICT,
    SlotTakenError: HTTPStatus.CONFLICT,
    VisitStateError: HTTPStatus.CONFLICT,
    UnknownCustomerError: HTTPStatus.NOT_FOUND,
    UnknownMachineError: HTTPStatus.NOT_FOUND,
    UnknownVisitError: HTTPStatus.NOT_FOUND,
    UnknownVanError: HTTPStatus.NOT_FOUND,
    UnknownFeedError: HTTPStatus.NOT_FOUND,
    LastOwnerError: HTTPStatus.CONFLICT,
    SafetyFirstError: HTTPStatus.CONFLICT,
    OutOfScopeError: HTTPStatus.CONFLICT,
}
HEADING_OF: Mapping[type[TriageError], str] = {
    SafetyFirstError: "Safety first",
    OutOfScopeError: "Not one of our machines",
}
HEADINGS = {
    HTTPStatus.BAD_REQUEST: "That cannot be recorded",
    HTTPStatus.FORBIDDEN: "Not part of your work",
    HTTPStatus.NOT_FOUND: "Not found",
    HTTPStatus.CONFLICT: "Not recorded",
    HTTPStatus.TOO_MANY_REQUESTS: "Too many attempts",
}
SENTENCES = {
    HTTPStatus.FORBIDDEN: (
        "This page is for another role. Ask the owner of the shop if you need it."
    ),
    HTTPStatus.TOO_MANY_REQUESTS: (
        "Signing in failed too often from here or with this login. Wait ten minutes and try again; "
        "the owner of the shop can give you a new password."
    ),
    HTTPStatus.NOT_FOUND: "There is no page at this address. Choose a call from the list.",
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE: "What was sent is too long. Shorten it and send it again.",
}
IMPOSSIBLE = (
    "This address does not take what was sent. Choose a call from the list and go on there."
)
NOT_IN_NETWORK = (
    "This appliance has no such question or answer. Nothing was recorded; "
    "look at the call as it is now and answer again."
)
# What the library says of these is for people who write programs.
REWORDED = {
    UnknownObservationError: NOT_IN_NETWORK,
    UnknownAnswerError: NOT_IN_NETWORK,
    UnknownCalculatorError: "There is no such check. Choose one from the list.",
    UnknownNetworkError: "There is no network of that name. Choose one from the list.",
    UnknownNodeError: "This network has no such part. Choose one from the list.",
    UnknownVersionError: "There is no version of that number. Choose one from the list.",
    UnknownChangeError: "This network has no such number. Choose one from the list.",
    VersionStateError: (
        "This version was decided about meanwhile. Nothing was changed; look at it as it is now."
    ),
}
LISTS = {
    "learning": ("learning.overview", "Learning"),
    "checks": ("checks.check_list", "List of checks"),
    "networks": ("networks.network_list", "List of networks"),
    "owner": ("owner.overview", "Shop"),
}
START = "Start page"
LIST_OF_CALLS = ("intake.call_list", "List of calls")
WRONG_HOST = "The form does not answer to this host name."
EXPIRED = "This page has expired, and nothing was recorded. Open it again and answer again."
BROKEN = (
    "The program could not finish this. What was recorded before is kept. "
    "Try again; if it happens again, the log of the server says why."
)


def refused(error: TriageError) -> ResponseReturnValue:
    """Show what the library refused, and why."""
    if is_for_program():
        return problem_of_error(error, STATUS.get(type(error)))
    status = STATUS.get(type(error), HTTPStatus.BAD_REQUEST)
    heading = HEADING_OF.get(type(error), HEADINGS[status])
    return _page(status, heading, REWORDED.get(type(error), str(error)))


def expired(error: CSRFError) -> ResponseReturnValue:
    """Show that the page was too old to be trusted."""
    return _page(HTTPStatus.BAD_REQUEST, "Page expired", EXPIRED)


def not_taken(error: HTTPException) -> ResponseReturnValue:
    """Show why an address, or what was sent to it, is not taken."""
    if isinstance(error, SecurityError):  # no page: it could not link to anything
        return WRONG_HOST, HTTPStatus.BAD_REQUEST, {"Content-Type": "text/plain"}
    if is_for_program():
        return problem_of_http(error)
    status = HTTPStatus(error.code or HTTPStatus.BAD_REQUEST)
    if status < HTTPStatus.BAD_REQUEST:
        return error.get_response()  # a redirect to the right address
    heading = HEADINGS.get(status, HEADINGS[HTTPStatus.BAD_REQUEST])
    return _page(status, heading, SENTENCES.get(status, IMPOSSIBLE))


def broken(error: Exception) -> ResponseReturnValue:
    """Show that something went wrong in the program itself."""
    if is_for_program():
        return problem_of_crash()
    return _page(HTTPStatus.INTERNAL_SERVER_ERROR, "Something went wrong", BROKEN)


def _page(status: HTTPStatus, heading: str, message: str) -> ResponseReturnValue:
    call_id = (request.view_args or {}).get("call_id") if status != HTTPStatus.NOT_FOUND else None
    endpoint, title = LISTS.get(request.blueprint or "", LIST_OF_CALLS)
    if not may_open(endpoint):
        endpoint, title = home(), START
    page = render_template(
        "error.html",
        heading=heading,
        message=message,
        call_id=call_id,
        list_url=url_for(endpoint),
        list_title=title,
    )
    return page, status


def init_errors(app: Flask) -> None:
    """Register the error pages."""
    app.register_error_handler(TriageError, refused)
    app.register_error_handler(CSRFError, expired)
    app.register_error_handler(HTTPException, not_taken)
    app.register_error_handler(HTTPStatus.INTERNAL_SERVER_ERROR, broken)
