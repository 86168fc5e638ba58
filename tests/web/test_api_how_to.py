"""The page that tells how to use the API: every command on it works, in its order."""

import re
import shlex
from dataclasses import dataclass

from flask import Flask
from werkzeug.test import TestResponse

from tests.project.tree import ROOT
from tests.web.program import Program, program, with_van
from webform.problems import API_ROOT

PAGE = ROOT / "docs" / "how-to" / "use-the-api.md"
BLOCK = re.compile(r"^```sh\n(curl .*?)```$", re.MULTILINE | re.DOTALL)
WITH_TOKEN = "Authorization: Bearer $TOKEN"
AS_JSON = "Content-Type: application/json"


@dataclass
class Command:
    """A curl command, as the page writes it."""

    path: str
    body: str
    headers: list[str]


def commands() -> list[Command]:
    return [command(shlex.split(block)) for block in BLOCK.findall(PAGE.read_text("utf-8"))]


def command(words: list[str]) -> Command:
    """Read the words that the page uses; another one would not be understood here."""
    found = Command("", "", [])
    places = iter(words)
    assert next(places) == "curl"
    for word in places:
        if word == "-H":
            found.headers.append(next(places))
        elif word == "-d":
            found.body = next(places)
        elif word.startswith("$API/"):
            found.path = word.removeprefix("$API")
        else:
            assert word == "-s", word
    return found


def sent(desk: Program, one: Command) -> TestResponse:
    method = "POST" if one.body else "GET"  # as curl does
    content_type = "application/json" if AS_JSON in one.headers else "text/plain"
    assert WITH_TOKEN in one.headers
    return desk.ask(method, one.path, data=one.body, content_type=content_type)


def test_commands_of_the_page_work_in_their_order(app: Flask) -> None:
    with_van(app)
    desk = program(app)

    answers = {one.path: sent(desk, one) for one in commands()}

    assert len(answers) > 15
    assert {path: one.text for path, one in answers.items() if one.status_code >= 400} == {}
    kept = answers["/jobs/1/entries"].get_json()["entries"]
    assert [one["reception"] for one in kept] == ["stored"]
    assert answers["/closed-jobs?since=2026-03-01T00:00:00Z"].get_json()["count"] == 1
    assert API_ROOT in PAGE.read_text("utf-8")
