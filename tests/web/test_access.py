"""Claims about who may open what: every route against the one table."""

import re
from collections.abc import Iterator

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.web.conftest import VisitorAs
from tests.web.page import Visitor
from triage.services.people.roles import Role
from webform.access import ACCESS, HOMES, Access, own_path


def requests(app: Flask) -> Iterator[tuple[str, str, str]]:
    """Endpoint, method and an address of every route; test_api_access.py walks those of the API."""
    for rule in app.url_map.iter_rules():
        if rule.endpoint.startswith("api."):
            continue
        path = re.sub(r"<int[^>]*>", "1", rule.rule)
        for method in sorted(rule.methods - {"HEAD", "OPTIONS"}):
            yield rule.endpoint, method, re.sub(r"<[^>]*>", "name", path)


def asked(client: FlaskClient, method: str, path: str) -> TestResponse:
    return client.open(path, method=method, buffered=True)


def was_sent_to_sign_in(response: TestResponse) -> bool:
    return response.status_code == 303 and response.location.startswith("/sign-in")


def test_table_holds_every_endpoint_and_no_other(app: Flask) -> None:
    endpoints = {rule.endpoint for rule in app.url_map.iter_rules()}

    assert set(ACCESS) == endpoints


def test_only_the_sign_in_page_and_files_of_the_program_are_open_to_everybody() -> None:
    open_to_all = {name for name, access in ACCESS.items() if access.is_open}

    assert open_to_all >= {"static", "auth.sign_in", "booking.van_feed"}
    assert open_to_all <= {"static", "auth.sign_in", "booking.van_feed", "jobsheet.service_worker"}


def test_owner_may_open_everything() -> None:
    assert [name for name, access in ACCESS.items() if not may(access, Role.OWNER)] == []


def may(access: Access, role: Role) -> bool:
    return access.is_open or role in access.roles


def test_every_route_sends_a_stranger_to_the_sign_in_page(app: Flask, stranger: Visitor) -> None:
    walked = 0
    for endpoint, method, path in requests(app):
        if not ACCESS[endpoint].is_open:
            assert was_sent_to_sign_in(asked(stranger.client, method, path)), path
            walked += 1

    assert walked > 20


@pytest.mark.parametrize("role", Role)
def test_every_route_takes_or_refuses_a_role_as_the_table_says(
    app: Flask, visitor_as: VisitorAs, role: Role
) -> None:
    client = visitor_as(role).client

    refused = {
        (endpoint, method)
        for endpoint, method, path in requests(app)
        if is_refusal(asked(client, method, path), path, role)
    }

    routes = [(endpoint, method) for endpoint, method, _ in requests(app)]
    assert refused == {route for route in routes if not may(ACCESS[route[0]], role)}


def is_refusal(response: TestResponse, path: str, role: Role) -> bool:
    """Whether a role was not let in; from the first page it is sent to its own."""
    assert not was_sent_to_sign_in(response), path
    is_sent_home = path == "/" and response.status_code == 303
    assert not is_sent_home or HOMES[role] != "intake.call_list"
    return response.status_code == 403 or is_sent_home


@pytest.mark.parametrize("role", ["", "owner"])
def test_every_response_is_strict_and_only_files_of_the_program_are_kept(
    app: Flask, stranger: Visitor, visitor_as: VisitorAs, role: str
) -> None:
    client = visitor_as(role).client if role else stranger.client
    seen = [(endpoint, asked(client, *line)) for endpoint, *line in requests(app)]
    seen.append(("nothing", client.get("/nowhere")))

    for endpoint, response in seen:
        policy = response.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'"), endpoint
        assert "unsafe" not in policy
        assert response.headers["X-Content-Type-Options"] == "nosniff"
        assert response.headers["Referrer-Policy"] == "same-origin"
        assert response.headers["X-Frame-Options"] == "DENY"
        is_file = endpoint in ("static", "jobsheet.service_worker")
        assert is_file or response.headers["Cache-Control"] == "no-store", endpoint


def test_endpoint_that_is_not_in_the_table_is_refused_even_to_the_owner(
    app: Flask, stranger: Visitor
) -> None:
    app.add_url_rule("/forgotten", "forgotten", lambda: "customers")

    response = stranger.client.get("/forgotten")

    assert response.status_code == 403
    assert "customers" not in response.text


def test_refused_page_says_so_and_leads_back_to_ones_own_work(visitor_as: VisitorAs) -> None:
    page = visitor_as("technician").open("/calls/new")

    assert (page.status, page.heading) == (403, "Not part of your work")
    assert "/checks" in page.links()
    assert "/calls/new" not in page.links()


def test_first_page_leads_each_role_to_its_work(visitor_as: VisitorAs) -> None:
    headings = {role: visitor_as(role).open("/").heading for role in Role}

    assert headings == {
        Role.DISPATCHER: "Calls",
        Role.TECHNICIAN: "Today",
        Role.OWNER: "Calls",
    }


def test_page_that_does_not_exist_tells_a_stranger_nothing_and_has_no_links_but_sign_in(
    stranger: Visitor,
) -> None:
    page = stranger.open("/nowhere")

    assert (page.status, page.heading) == (404, "Not found")
    assert {link for link in page.links() if link.startswith("/")} == {"/sign-in"}


def test_form_of_somebody_whose_session_has_ended_leads_back_to_its_page(
    stranger: Visitor,
) -> None:
    page = "http://localhost/calls/1/questions?ask=says_no_spin"

    sent = stranger.client.post("/calls/1/answer", headers={"Referer": page})
    from_elsewhere = stranger.client.post(
        "/calls/1/answer", headers={"Referer": "http://elsewhere.example/calls/1"}
    )

    assert sent.location == "/sign-in?next=/calls/1/questions?ask%3Dsays_no_spin"
    assert from_elsewhere.location == "/sign-in"


@pytest.mark.parametrize(
    "path",
    [
        "https://elsewhere.example/",
        "//elsewhere.example",
        "/\\elsewhere.example",
        "/\t/elsewhere.example",
        "\n/calls",
        "javascript:alert(1)",
        "calls",
        "",
    ],
)
def test_path_that_leads_elsewhere_is_not_followed(path: str) -> None:
    assert own_path(path) == ""
