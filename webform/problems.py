"""What a program of the shop is told when something was not done: Problem Details [RFC9457]_.

The type of a problem is the name of the error of the library, in small letters: ``StaleCallError``
is ``/api/v1/problems#stale-call``. At that address stands the list of all types.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from http import HTTPStatus
from typing import Any

from flask import Response, json, request
from werkzeug.exceptions import HTTPException

from triage.errors import StaleCallError, TriageError, UnknownNetworkError

API_ROOT = "/api/v1"
MEDIA_TYPE = "application/problem+json"
GOT_MAX = 80  # characters of what was sent that are given back
SENTENCES = {
    HTTPStatus.BAD_REQUEST: "The request is not JSON, or not HTTP as this server takes it.",
    HTTPStatus.UNAUTHORIZED: (
        "Send a token that is in force: Authorization: Bearer triage_... The owner of the shop "
        "makes one under Shop, Tokens."
    ),
    HTTPStatus.FORBIDDEN: "The role of this token may not do this. Ask the owner for another one.",
    HTTPStatus.NOT_FOUND: "There is nothing at this address; see /api/v1/openapi.json.",
    HTTPStatus.METHOD_NOT_ALLOWED: "This address takes another method; see /api/v1/openapi.json.",
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE: "What was sent is too long. Send it in smaller pieces.",
    HTTPStatus.UNSUPPORTED_MEDIA_TYPE: "Send JSON, with Content-Type: application/json.",
    HTTPStatus.TOO_MANY_REQUESTS: (
        "This token asks too often. Wait as many seconds as Retry-After says, then send the same "
        "again; nothing was recorded."
    ),
    HTTPStatus.INTERNAL_SERVER_ERROR: (
        "The program could not finish this. What was recorded before is kept; send the same again, "
        "and if it happens again, the log of the server says why."
    ),
}

# What the library says of these is for people at a page, or at a terminal.
REWORDED: Mapping[type[TriageError], str] = {
    StaleCallError: (
        "The call has gone on since the version that was sent. Nothing was recorded; read the call "
        "and decide anew."
    ),
    UnknownNetworkError: (
        "There is no kind of machine of that name; /api/v1/appliances lists those there are."
    ),
}


@dataclass(frozen=True, slots=True)
class Mistake:
    """Something wrong in a request: where, what was found, what was expected."""

    path: str
    got: str
    expected: str


class UnusableRequestError(TriageError):
    """Raised when what a program sent does not fit the document of the API."""

    def __init__(self, mistakes: Sequence[Mistake]) -> None:
        self.mistakes = tuple(mistakes)
        count = len(self.mistakes)
        places = ", ".join(one.path or "the whole" for one in self.mistakes[:5])
        super().__init__(
            f"{count} {'entry does' if count == 1 else 'entries do'} not fit: {places}. "
            "Nothing was recorded; /api/v1/openapi.json says what is expected."
        )


def is_for_program() -> bool:
    """Whether the request came to the API, so that no page may answer it."""
    return request.path.startswith("/api/") or request.path == "/api"


def type_of(kind: type[Exception] | HTTPStatus) -> str:
    """Name of a type of problem.

    >>> type_of(StaleCallError), type_of(HTTPStatus.NOT_FOUND)
    ('stale-call', 'not-found')
    """
    if isinstance(kind, HTTPStatus):
        return kind.phrase.lower().replace(" ", "-").replace("'", "")
    words = re.findall(r"[A-Z][a-z]*", kind.__name__.removesuffix("Error"))
    return "-".join(words).lower()


def title_of(name: str) -> str:
    """Title of a type of problem: its name as a word.

    >>> title_of("stale-call")
    'Stale call'
    """
    return name.replace("-", " ").capitalize()


def problem_of_error(error: TriageError, status: HTTPStatus | None) -> Response:
    """Answer to what the library refused; a request that merely cannot be done is 422."""
    found = status or HTTPStatus.UNPROCESSABLE_ENTITY
    more: dict[str, Any] = {}
    if isinstance(error, UnusableRequestError):
        more["errors"] = [asdict(one) for one in error.mistakes]
    if isinstance(error, StaleCallError):
        more |= {"shown_version": error.shown, "current_version": error.current}
    detail = REWORDED.get(type(error), str(error))
    return _problem(found, type_of(type(error)), detail, more)


def problem_of_http(error: HTTPException) -> Response:
    """Answer to a request that reached nothing; a redirect is none for a program."""
    code = error.code or HTTPStatus.BAD_REQUEST
    status = HTTPStatus.NOT_FOUND if code < HTTPStatus.BAD_REQUEST else HTTPStatus(code)
    response = _problem(status, type_of(status), SENTENCES.get(status, status.description), {})
    for name, value in error.get_headers():
        if name in ("Allow", "Retry-After", "WWW-Authenticate"):
            response.headers[name] = value
    return response


def problem_of_crash() -> Response:
    """Answer when the program itself is at fault."""
    status = HTTPStatus.INTERNAL_SERVER_ERROR
    return _problem(status, type_of(status), SENTENCES[status], {})


def _problem(status: HTTPStatus, name: str, detail: str, more: Mapping[str, Any]) -> Response:
    body = {
        "type": f"{API_ROOT}/problems#{name}",
        "title": title_of(name),
        "status": status.value,
        "detail": detail,
        "errors": [],
        **more,
    }
    return Response(json.dumps(body), status=status, content_type=MEDIA_TYPE)
