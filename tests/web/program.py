"""Another program of the shop, as it meets the API: with a token, and nothing but JSON."""

from dataclasses import dataclass
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.web.conftest import CHEAP, NAMES, NINE
from triage.services.booking.vans import VanEntered, add_van
from triage.services.calls.calls import Entry, Submission
from triage.services.people.accounts import add_person_with_password, find_people
from triage.services.people.audit import Stamp
from triage.services.people.roles import Person, Role
from triage.services.people.tokens import make_token
from webform.desk import EXTENSION
from webform.problems import API_ROOT, MEDIA_TYPE

WASHER = "top_load_washer"
STAMP = Stamp(NINE, "a test")
WORDS = "It won't drain, it just hums and the clothes are swimming in it"


def token_of(app: Flask, role: str = "owner", name: str = "Parts desk") -> str:
    """Token of a person of a role, who is there already or added."""
    database = app.extensions[EXTENSION].database
    if role not in [account.login for account in find_people(database)]:
        person = Person(role, NAMES[Role(role)], Role(role))
        add_person_with_password(database, person, "nine o'clock sharp", CHEAP, STAMP)
    return make_token(database, role, name, Role(role), STAMP).secret


@dataclass
class Program:
    """A program with a token; every answer must be JSON, and a refusal a problem."""

    client: FlaskClient
    token: str

    def ask(self, method: str, path: str, **sent: Any) -> TestResponse:
        headers = {"Authorization": f"Bearer {self.token}", **sent.pop("headers", {})}
        response = self.client.open(API_ROOT + path, method=method, headers=headers, **sent)
        is_refused = response.status_code >= 400
        assert response.content_type == (MEDIA_TYPE if is_refused else "application/json")
        return response

    def get(self, path: str) -> Any:
        """Answer of an operation that must succeed."""
        response = self.ask("GET", path)
        assert response.status_code == 200, response.text
        return response.get_json()

    def post(self, path: str, body: Any) -> Any:
        """Answer of an operation that must succeed."""
        response = self.ask("POST", path, json=body)
        assert response.status_code in (200, 201), response.text
        return response.get_json()

    def put(self, path: str, body: Any) -> Any:
        """Answer of an operation that must succeed."""
        response = self.ask("PUT", path, json=body)
        assert response.status_code == 200, response.text
        return response.get_json()

    def refused(self, method: str, path: str, **sent: Any) -> Any:
        """Problem of an operation that must be refused."""
        response = self.ask(method, path, **sent)
        assert response.status_code >= 400, response.text
        problem = response.get_json()
        assert problem["status"] == response.status_code
        return problem


def program(app: Flask, role: str = "owner", name: str = "Parts desk") -> Program:
    """Program of the shop that acts in a role."""
    return Program(app.test_client(), token_of(app, role, name))


def safe(desk: Program, network: str = WASHER) -> dict[str, bool]:
    """Answers to every safety question of an appliance: no danger."""
    questions = desk.get(f"/appliances/{network}")["safety_questions"]
    return {one["flag"]: False for one in questions}


def opened(desk: Program, client_id: str = "open-1") -> Any:
    """A call that was just opened."""
    body = {"client_id": client_id, "network": WASHER, "caller": "Blue door", "words": WORDS}
    return desk.post("/calls", body)


def step(desk: Program, shown: Any, path: str, **fields: Any) -> Any:
    """Send something on top of what was shown last."""
    version = shown["version"]
    ticket = {"client_id": f"{path.replace('/', '-')}-{version}", "shown_version": version}
    return desk.post(f"/calls/{shown['call']}/{path}", {**ticket, **fields})


def to_questions(desk: Program) -> Any:
    """A call whose safety questions were answered and whose signs were confirmed."""
    shown = opened(desk)
    shown = step(desk, shown, "safety", answers=safe(desk))
    return step(desk, shown, "signs", observations=["says_water_left"])


def with_van(app: Flask, name: str = "North") -> int:
    """A van that can be booked."""
    page = Entry(submission=Submission("a van", 0), at=NINE, by="a test")
    return add_van(app.extensions[EXTENSION].database, VanEntered(name=name), page)
