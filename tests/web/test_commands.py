"""Claims about ``triage serve`` and ``triage demo``."""

import json
import os
import pty
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask import Flask, request

from tests.serving import serving
from tests.web.conftest import CHEAP, make_app, signed_in_visitor
from tests.web.page import Visitor
from triage.services.people.accounts import find_people
from triage.store.database import Database
from webform.app import create_app
from webform.backup_commands import backup, restore
from webform.commands import demo, serve
from webform.demo import DEMO_CALLS, NotADemoError, demo_config, prepare_demo
from webform.demo_people import DEMO_PEOPLE, DemoPerson
from webform.people_commands import people
from webform.server import PortError, listen


@contextmanager
def taken_port() -> Iterator[int]:
    """A port of this machine that something listens on."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        yield taken.getsockname()[1]


def test_busy_port_is_named_with_what_to_do(app: Flask) -> None:
    with taken_port() as port, pytest.raises(PortError, match="in use"):
        listen(app, "127.0.0.1", [port])


def test_next_free_port_is_taken(app: Flask) -> None:
    with taken_port() as port:
        listening = listen(app, "127.0.0.1", [port, 0])

    assert listening.port != port
    listening.server.close()  # type: ignore[attr-defined]


def test_demo_holds_a_call_in_every_state(tmp_path: Path) -> None:
    afternoon = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)  # shortly after midnight "today" is empty
    prepare_demo(tmp_path, reset=False, passwords=CHEAP, now=afternoon)

    app = create_app(demo_config(tmp_path), passwords=CHEAP, clock=lambda: afternoon)
    page = signed_in_visitor(app).open("/")
    listed = page.root.all("a", class_="call-line")
    assert len(listed) > len(DEMO_CALLS)
    for status in (
        "Safety questions open",
        "Waiting until",
        "Questions",
        "Stopped",
        "Visit booked",
    ):
        assert status in page.text


def test_demo_keeps_its_calls_until_it_is_reset(demo_copy: Path) -> None:
    before = (demo_copy / "calls.sqlite").read_bytes()

    prepare_demo(demo_copy, reset=False, passwords=CHEAP)
    kept = (demo_copy / "calls.sqlite").read_bytes()
    prepare_demo(demo_copy, reset=True, passwords=CHEAP)

    assert kept == before
    assert (demo_copy / "calls.sqlite").read_bytes() != before


def test_demo_never_touches_the_calls_of_a_shop(tmp_path: Path) -> None:
    (tmp_path / "calls.sqlite").write_text("a shop's calls")

    with pytest.raises(NotADemoError, match="nothing was changed"):
        prepare_demo(tmp_path, reset=True)

    assert (tmp_path / "calls.sqlite").read_text() == "a shop's calls"


def test_serve_without_a_data_folder_says_which_option_is_missing() -> None:
    result = CliRunner().invoke(serve, [], env={"TRIAGE_DATA": ""})

    assert result.exit_code == 2
    assert "--data" in result.output


@pytest.mark.parametrize("command", [serve, demo, *people.commands.values(), backup, restore])
def test_command_says_in_its_help_what_it_does(command) -> None:
    result = CliRunner().invoke(command, ["--help"])

    assert result.exit_code == 0
    assert "--data" in result.output
    assert "--json" in result.output


PROGRAM = [sys.executable, "-c", "from triage.cli.main import main; main()"]


def until_stopped(process: "subprocess.Popen[str]", read: Callable[[], str]) -> tuple[str, int]:
    """What is read of a running program, which is stopped afterwards; and its exit code."""
    try:
        found = read()
    finally:
        process.send_signal(signal.SIGTERM)
        code = process.wait(timeout=20)
    return found, code


@pytest.mark.parametrize("words", [["demo", "--no-open"], ["serve"]])
def test_command_serves_pages_until_it_is_stopped(tmp_path: Path, words: list[str]) -> None:
    options = ["--data", str(tmp_path / "data"), "--port", "0", "--json"]
    with subprocess.Popen(
        [*PROGRAM, *words, *options], stdout=subprocess.PIPE, text=True
    ) as process:

        def read() -> str:
            assert process.stdout is not None
            said = json.loads(process.stdout.readline())
            assert said["needs_owner"] is (words == ["serve"])
            assert len(said["people"]) == (0 if words == ["serve"] else len(DEMO_PEOPLE))
            with urllib.request.urlopen(said["url"], timeout=20) as response:
                return str(response.read().decode())

        page, code = until_stopped(process, read)

    assert "<h1>Sign in</h1>" in page
    assert code == 0


def said_at_a_terminal(folder: Path, words: list[str], last_line: str) -> str:
    """What a command prints on a terminal, up to a line."""
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [*PROGRAM, *words, "--data", str(folder), "--port", "0"], stdout=theirs, text=True
    ) as process:
        os.close(theirs)

        def read() -> str:
            said = ""
            while last_line not in said:
                said += os.read(ours, 4096).decode()
            return said

        said, _ = until_stopped(process, read)
    os.close(ours)
    return said


def test_first_start_at_a_terminal_shows_the_password_of_the_owner_once(tmp_path: Path) -> None:
    folder = tmp_path / "data"

    first = said_at_a_terminal(folder, ["serve"], "only now.")
    second = said_at_a_terminal(folder, ["serve"], "Ctrl+C.")

    password = re.search(r"password +(\S+)", first)
    assert password is not None
    assert "password" not in second
    app = make_app(folder)
    visitor = Visitor(app.test_client())
    page = visitor.send(visitor.open("/sign-in"), {"login": "owner", "password": password[1]})
    assert page.heading == "Choose your own password"
    kept = b"".join(one.read_bytes() for one in folder.rglob("*") if one.is_file())
    assert password[1].encode() not in kept


def test_first_start_without_a_terminal_shows_no_password_and_says_how_to_go_on(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "data"
    words = [*PROGRAM, "serve", "--data", str(folder), "--port", "0"]
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"}
    ) as process:

        def read() -> str:
            assert process.stdout is not None
            return "".join(process.stdout.readline() for _ in range(5))

        said, _ = until_stopped(process, read)

    assert "triage people add owner --role owner" in said
    assert "one-time password" not in said
    assert signing_in(folder) == []


def signing_in(folder: Path) -> list[str]:
    """Logins of a shop."""
    database = Database.at(folder / "calls.sqlite")
    logins = [account.login for account in find_people(database)]
    database.close()
    return logins


def test_demo_shows_its_people_with_their_passwords(demo_copy: Path) -> None:
    said = said_at_a_terminal(demo_copy, ["demo", "--no-open"], DEMO_PEOPLE[-1].password)

    assert all(person.login in said and person.password in said for person in DEMO_PEOPLE)


def test_people_of_the_demo_sign_in_with_a_button(demo_copy: Path) -> None:
    app = create_app(demo_config(demo_copy), passwords=CHEAP)

    headings = set()
    for number in range(len(DEMO_PEOPLE)):
        visitor = Visitor(app.test_client())
        page = visitor.send(visitor.open("/sign-in"), {}, action="/sign-in", number=number + 1)
        headings.add(page.heading)

    assert "Sign in" not in headings
    assert "Calls" in headings


def test_shop_shows_no_passwords_on_its_sign_in_page(stranger: Visitor) -> None:
    page = stranger.open("/sign-in")

    assert len(page.forms("/sign-in")) == 1
    assert "invented" not in page.text


def test_demo_that_has_nobody_yet_gets_its_people_and_keeps_its_calls(demo_copy: Path) -> None:
    with sqlite3.connect(demo_copy / "calls.sqlite") as connection:
        connection.execute("DELETE FROM users")
        before = connection.execute("SELECT count(*), max(opened_at) FROM calls").fetchall()
    connection.close()

    prepare_demo(demo_copy, reset=False, passwords=CHEAP)

    assert signing_in(demo_copy) == [one.login for one in sorted(DEMO_PEOPLE, key=_name)]
    with sqlite3.connect(demo_copy / "calls.sqlite") as connection:
        after = connection.execute("SELECT count(*), max(opened_at) FROM calls").fetchall()
    connection.close()
    assert after == before


def _name(person: DemoPerson) -> str:
    return person.name


def test_proxy_is_believed_for_whom_it_asks_and_nobody_else_is(app: Flask) -> None:
    seen = []
    app.view_functions["auth.sign_in"] = lambda: (
        seen.append((request.remote_addr, request.scheme, request.host)) or "seen"
    )
    headers = {
        "X-Forwarded-For": "203.0.113.7",
        "X-Forwarded-Proto": "https",
        "X-Forwarded-Host": "shop.example",
    }

    for proxy in ("127.0.0.1", ""):
        with serving(app, proxy) as url:
            asked = urllib.request.Request(f"{url}/sign-in", headers=headers)
            with urllib.request.urlopen(asked, timeout=20) as response:
                response.read()

    assert seen[0] == ("203.0.113.7", "https", "shop.example")
    assert seen[1][:2] == ("127.0.0.1", "http")
