"""Claims about who may use the API: a token and its role, never a cookie."""

import re
from collections.abc import Iterator

import pytest
from flask import Flask

from tests.web.conftest import NINE, VisitorAs
from tests.web.program import STAMP, Program, opened, program, token_of
from triage.services.calls.calls import find_call
from triage.services.people.roles import Role
from triage.services.people.tokens import find_tokens, revoke_token
from webform.access import ACCESS, OPEN
from webform.desk import EXTENSION
from webform.problems import API_ROOT


def routes(app: Flask) -> Iterator[tuple[str, str, str]]:
    """Endpoint, method and an address of every operation."""
    for rule in app.url_map.iter_rules():
        if rule.endpoint.startswith("api."):
            path = re.sub(r"<int[^>]*>", "1", rule.rule.removeprefix(API_ROOT))
            for method in sorted(rule.methods - {"HEAD"}):
                yield rule.endpoint, method, path.replace("<network>", "gas_dryer")


def status(desk: Program, method: str, path: str) -> int:
    return desk.ask(method, path, json={} if method in ("POST", "PUT") else None).status_code


@pytest.mark.parametrize("token", ["", "triage_", "triage_" + "0" * 64, "é"])
def test_no_operation_is_open_to_a_wrong_token(app: Flask, token: str) -> None:
    desk = Program(app.test_client(), token)

    refused = {status(desk, method, path) for _, method, path in routes(app)}

    assert refused == {401}


@pytest.mark.parametrize("header", ["", "Basic b3duZXI6cGFzc3dvcmQ=", "Bearer", "triage_1"])
def test_answer_to_a_stranger_says_how_to_sign_in(app: Flask, header: str) -> None:
    response = app.test_client().get(f"{API_ROOT}/calls", headers={"Authorization": header})

    assert response.status_code == 401
    assert response.headers["WWW-Authenticate"].startswith("Bearer")
    assert response.content_type == "application/problem+json"


def test_cookie_of_somebody_who_is_signed_in_opens_nothing(visitor_as: VisitorAs) -> None:
    client = visitor_as("owner").client

    response = client.get(f"{API_ROOT}/calls")

    assert response.status_code == 401
    assert "Set-Cookie" not in response.headers


def test_token_needs_no_form_token_and_gets_no_cookie(app: Flask) -> None:
    app.config["WTF_CSRF_ENABLED"] = True
    desk = program(app)

    response = desk.ask("POST", "/customers", json={"name": "Mill cottage"})

    assert response.status_code == 201
    assert response.headers["Location"] == "/api/v1/customers/1"
    assert "Set-Cookie" not in response.headers
    assert response.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize("role", Role)
def test_every_operation_takes_or_refuses_a_role_as_the_table_says(app: Flask, role: Role) -> None:
    desk = program(app, role)

    refused = {one for one, method, path in routes(app) if status(desk, method, path) == 403}

    walked = {endpoint for endpoint, _, _ in routes(app)}
    assert refused == {one for one in walked if role not in ACCESS[one].roles}
    assert len(walked) > 40
    assert OPEN not in [ACCESS[one] for one in walked]


def test_operation_that_is_not_in_the_table_is_refused_even_to_the_owner(app: Flask) -> None:
    app.add_url_rule("/api/v1/forgotten", "api.forgotten", lambda: "customers")

    problem = program(app).refused("GET", "/forgotten")

    assert (problem["status"], problem["title"]) == (403, "Forbidden")


def test_revoked_token_opens_nothing_from_the_next_request_on(app: Flask) -> None:
    desk = program(app)
    database = app.extensions[EXTENSION].database
    desk.get("/vans")

    revoke_token(database, find_tokens(database)[0].id, STAMP)

    assert desk.refused("GET", "/vans")["status"] == 401


def test_what_a_program_enters_carries_its_name_and_that_of_its_person(app: Flask) -> None:
    desk = Program(app.test_client(), token_of(app, "dispatcher", "Night line"))

    call_id = opened(desk)["call"]

    state = find_call(app.extensions[EXTENSION].database, call_id)
    assert (state.last_by, state.last_at) == ("Night line for Ivo Brandt", NINE)
