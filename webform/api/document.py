"""The OpenAPI document: made of the operations and their models, so that it says what is so."""

import re
from collections.abc import Mapping
from functools import lru_cache
from http import HTTPStatus
from typing import Any, Literal

from pydantic import BaseModel, Field
from pydantic.json_schema import models_json_schema

from triage import errors
from triage.errors import TriageError
from webform.access import ACCESS
from webform.api.models.base import NUMBER_MAX, Shown, Told
from webform.api.operations import OPERATIONS, Operation, operation
from webform.errors import STATUS
from webform.problems import (
    API_ROOT,
    MEDIA_TYPE,
    SENTENCES,
    UnusableRequestError,
    title_of,
    type_of,
)

Mode = Literal["validation", "serialization"]
VERSION = "1.0.0"
PARAMETER = re.compile(r"<(?:int\(max=\d+\):)?(\w+)>")
DESCRIPTION = (
    "Safety first: no cause is ranked and nothing is planned before the safety questions of the "
    "appliance are answered. Times are RFC 3339 in UTC; money is in minor units of the currency "
    "beside it; units stand in the names. New keys may come in answers; read past those you do not "
    "know. docs/api.md tells the whole."
)
RETRY_AFTER: Mapping[str, Any] = {
    "description": "seconds to wait",
    "schema": {"type": "integer", "minimum": 0},
}
AREAS: Mapping[str, str] = {
    "appliances": "What the shop repairs, what can be asked, versions of what is known",
    "plans": "Rank and plan without a stored call",
    "calls": "The phone call, from opening to its outcome",
    "customers": "Who calls, and their machines",
    "visits": "Free times, visits of the vans",
    "jobs": "What happens on site",
    "closing": "Close a job; closed jobs",
    "document": "The API about itself",
}


class Mistaken(Shown):
    """Something wrong in a request: where, what was found, what was expected."""

    path: str
    got: str
    expected: str


class Problem(Shown):
    """Why something was not done (RFC 9457)."""

    type: str = Field(description="stable; explained at its address")
    title: str
    status: int
    detail: str = Field(description="for people")
    errors: list[Mistaken]
    shown_version: int | None = Field(None, description="with 409 of a call that has gone on")
    current_version: int | None = Field(None, description="with 409 of a call that has gone on")


class ProblemType(Shown):
    """A type of problem; ``when`` it is told."""

    type: str
    title: str
    status: int
    when: str


class ProblemTypes(Shown):
    """Every type of problem."""

    problems: list[ProblemType]


class Document(Told):
    """An OpenAPI document."""

    openapi: str


@operation("GET", "/openapi.json", gives=Document)
def openapi() -> Mapping[str, Any]:
    """Read this document."""
    return document()


@operation("GET", "/problems", gives=ProblemTypes)
def problems() -> Mapping[str, Any]:
    """Look up what a type of problem means."""
    return {"problems": problem_types()}


def problem_types() -> list[dict[str, Any]]:
    """Types of problems, those of HTTP first."""
    of_http = [_problem_type(type_of(one), one, text) for one, text in SENTENCES.items()]
    found = [getattr(errors, name) for name in errors.__all__] + [UnusableRequestError]
    classes = [kind for kind in found if isinstance(kind, type) and issubclass(kind, TriageError)]
    kinds = [kind for kind in classes if not kind.__subclasses__()]
    of_library = [
        _problem_type(
            type_of(kind),
            STATUS.get(kind, HTTPStatus.UNPROCESSABLE_ENTITY),
            (kind.__doc__ or "").strip().split("\n")[0],
        )
        for kind in sorted(kinds, key=type_of)
    ]
    return [*of_http, *of_library]


def _problem_type(name: str, status: HTTPStatus, when: str) -> dict[str, Any]:
    address = f"{API_ROOT}/problems#{name}"
    return {"type": address, "title": title_of(name), "status": status.value, "when": when}


@lru_cache(maxsize=1)
def document() -> Mapping[str, Any]:
    """Document of every operation."""
    models: dict[str, tuple[type[BaseModel], Mode]] = {}
    shown: list[type[BaseModel]] = [Problem, *(each.gives for each in OPERATIONS)]
    for model in shown:
        models[model.__name__] = (model, "serialization")
    for each in OPERATIONS:
        if each.body is not None:
            models[each.body.__name__] = (each.body, "validation")
    _, definitions = models_json_schema(
        [models[name] for name in sorted(models)], ref_template="#/components/schemas/{model}"
    )
    paths: dict[str, dict[str, Any]] = {}
    for each in OPERATIONS:
        path = API_ROOT + PARAMETER.sub(r"{\1}", each.rule)
        paths.setdefault(path, {})[each.method.lower()] = _described(each)
    return {
        "openapi": "3.1.0",
        "info": {"title": "Washer triage", "version": VERSION, "description": DESCRIPTION},
        "servers": [{"url": "/"}],
        "security": [{"token": []}],
        "tags": [{"name": name, "description": text} for name, text in AREAS.items()],
        "paths": paths,
        "components": {
            "schemas": definitions.get("$defs", {}),
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
    }


def _described(each: Operation) -> dict[str, Any]:
    summary, _, more = each.says.partition("\n")
    roles = sorted(role.value for role in ACCESS[f"api.{each.endpoint}"].roles)
    described: dict[str, Any] = {
        "operationId": each.endpoint,
        "tags": [each.area],
        "summary": summary,
        "description": " ".join(f"{more} Roles: {', '.join(roles)}.".split()),
        "parameters": [*_of_path(each.rule), *_of_query(each)],
        "responses": _responses(each),
    }
    if each.body is not None:
        schema = {"$ref": f"#/components/schemas/{each.body.__name__}"}
        content = {"application/json": {"schema": schema}}
        described["requestBody"] = {"required": True, "content": content}
    return described


def _of_path(rule: str) -> list[dict[str, Any]]:
    found = []
    for match in PARAMETER.finditer(rule):
        is_number = match[0].startswith("<int")
        number = {"type": "integer", "minimum": 1, "maximum": NUMBER_MAX}
        schema = number if is_number else {"type": "string", "pattern": "^[a-z_]+$"}
        found.append({"name": match[1], "in": "path", "required": True, "schema": schema})
    return found


def _of_query(each: Operation) -> list[dict[str, Any]]:
    schema = each.asked.model_json_schema()
    needed = schema.get("required", [])
    return [
        {"name": name, "in": "query", "required": name in needed, "schema": dict(entry)}
        for name, entry in schema.get("properties", {}).items()
    ]


def _responses(each: Operation) -> dict[str, Any]:
    shown = {"$ref": f"#/components/schemas/{each.gives.__name__}"}
    done: dict[str, Any] = {
        "description": "Made" if each.location else "Done",
        "content": {"application/json": {"schema": shown}},
    }
    if each.location:
        done["headers"] = {"Location": {"schema": {"type": "string"}}}
    refusals = [
        HTTPStatus.UNAUTHORIZED,
        HTTPStatus.FORBIDDEN,
        HTTPStatus.UNPROCESSABLE_ENTITY,
        HTTPStatus.TOO_MANY_REQUESTS,
    ]
    if PARAMETER.search(each.rule) or each.body is not None:
        refusals.append(HTTPStatus.NOT_FOUND)
    if each.can_conflict:
        refusals.append(HTTPStatus.CONFLICT)
    if each.body is not None:
        refusals += [
            HTTPStatus.BAD_REQUEST,
            HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
            HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
        ]
    problem = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    refused: dict[str, Any] = {
        str(one.value): {"description": one.phrase, "content": problem} for one in sorted(refusals)
    }
    refused[str(HTTPStatus.TOO_MANY_REQUESTS.value)]["headers"] = {"Retry-After": RETRY_AFTER}
    return {str(each.status.value): done, **refused}
