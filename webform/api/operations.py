"""What an operation of the API is: address, what it takes, what it gives, whom it may refuse.

``operation`` puts a view at an address, reads what was sent with the model of the operation, and
gives the answer as the other model says. The same list makes the document (``document.py``), so
that the two cannot differ.
"""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from http import HTTPStatus
from typing import Any

from flask import Blueprint, Response, request
from pydantic import BaseModel, ValidationError
from werkzeug.exceptions import BadRequest, UnsupportedMediaType

from triage.services.calls.calls import Entry, Submission
from webform.api.models.base import NUMBER_MAX, Nothing
from webform.desk import desk
from webform.problems import API_ROOT, GOT_MAX, Mistake, UnusableRequestError

bp = Blueprint("api", __name__, url_prefix=API_ROOT)

JSON = "application/json"
CALL = f"<int(max={NUMBER_MAX}):call_id>"
VISIT = f"<int(max={NUMBER_MAX}):visit_id>"
CUSTOMER = f"<int(max={NUMBER_MAX}):customer_id>"
MACHINE = f"<int(max={NUMBER_MAX}):machine_id>"
View = Callable[..., Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """An operation; ``rule`` is its address as Flask knows it, ``location`` that of what is made.

    ``can_conflict`` says that the state of what is asked for may forbid it (409).
    """

    method: str
    rule: str
    endpoint: str
    area: str
    says: str
    gives: type[BaseModel]
    body: type[BaseModel] | None
    asked: type[BaseModel]
    status: HTTPStatus
    location: str
    can_conflict: bool


OPERATIONS: list[Operation] = []


def operation(
    method: str,
    rule: str,
    *,
    gives: type[BaseModel],
    body: type[BaseModel] | None = None,
    asked: type[BaseModel] = Nothing,
    makes: str = "",
    can_conflict: bool = False,
) -> Callable[[View], View]:
    """Put a view at an address; it gets ``sent`` if there is a body, ``asked`` if that asks.

    ``makes`` is the address of what is made, with the keys of the answer in braces; such an
    operation answers 201.
    """

    def put(view: View) -> View:
        found = Operation(
            method=method,
            rule=rule,
            endpoint=view.__name__,
            area=view.__module__.rsplit(".", 1)[-1],
            says=(view.__doc__ or "").strip(),
            gives=gives,
            body=body,
            asked=asked,
            status=HTTPStatus.CREATED if makes else HTTPStatus.OK,
            location=makes,
            can_conflict=can_conflict or body is not None,
        )
        OPERATIONS.append(found)
        bp.add_url_rule(
            rule,
            found.endpoint,
            _answering(found, view),
            methods=[method],
            provide_automatic_options=False,
        )
        return view

    return put


def entry_for(client_id: str, shown_version: int = 0) -> Entry:
    """Entry of something that was sent, by whom and when.

    A ``client_id`` counts within one token and one address: two programs that number their requests
    alike do not meet.
    """
    return desk().entry(Submission(own_id(client_id), shown_version))


def own_id(client_id: str) -> str:
    """Id under which something is kept that a program sent under an id of its own."""
    scope = "\n".join((desk().who().name, request.path, client_id))
    return hashlib.sha256(scope.encode()).hexdigest()[:32]


def _answering(found: Operation, view: View) -> View:
    @wraps(view)
    def answer(**path: Any) -> Response:
        words = dict(path)
        asked = _read_query(found.asked)
        if found.asked is not Nothing:
            words["asked"] = asked
        if found.body is not None:
            words["sent"] = _read_body(found.body)
        shown = found.gives.model_validate(view(**words))
        response = Response(
            shown.model_dump_json(by_alias=True), status=found.status, content_type=JSON
        )
        if found.location:
            response.headers["Location"] = API_ROOT + found.location.format(**shown.model_dump())
        return response

    return answer


def _read_query(model: type[BaseModel]) -> BaseModel:
    try:
        return model.model_validate(request.args.to_dict())
    except ValidationError as error:
        raise UnusableRequestError(_mistakes(error, "?")) from None


def _read_body(model: type[BaseModel]) -> BaseModel:
    if request.mimetype != JSON:
        raise UnsupportedMediaType
    try:
        return model.model_validate_json(request.get_data())
    except ValidationError as error:
        if any(one["type"] == "json_invalid" for one in error.errors()):
            raise BadRequest from None
        raise UnusableRequestError(_mistakes(error, "/")) from None


def _mistakes(error: ValidationError, root: str) -> list[Mistake]:
    return [
        Mistake(root + "/".join(_place(one["loc"])), _got(one), _expected(one))
        for one in error.errors(include_url=False)
    ]


def _place(loc: tuple[int | str, ...]) -> list[str]:
    return [str(one).replace("~", "~0").replace("/", "~1") for one in loc]


def _got(one: Mapping[str, Any]) -> str:
    if one["type"] == "missing":
        return "nothing"
    return json.dumps(one["input"], default=str, ensure_ascii=False)[:GOT_MAX]


def _expected(one: Mapping[str, Any]) -> str:
    text = str(one["msg"])
    return {
        "missing": "a value: the field is needed",
        "extra_forbidden": "no such field",
    }.get(one["type"], text[:1].lower() + text[1:])
