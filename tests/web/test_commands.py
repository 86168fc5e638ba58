"""Claims about ``triage serve`` and ``triage demo``."""

import json
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask import Flask

from tests.web.conftest import CHEAP, signed_in_visitor
from webform.app import create_app
from webform.commands import demo, serve
from webform.demo import DEMO_CALLS, NotADemoError, demo_config, prepare_demo
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
    prepare_demo(tmp_path, reset=False, passwords=CHEAP)

    page = signed_in_visitor(create_app(demo_config(tmp_path), passwords=CHEAP)).open("/")
    listed = page.root.all("a", class_="call-line")
    assert len(listed) == len(DEMO_CALLS)
    for status in (
        "Safety questions open",
        "Waiting until",
        "Questions",
        "Stopped",
        "Visit booked",
    ):
        assert status in page.text


def test_demo_keeps_its_calls_until_it_is_reset(tmp_path: Path) -> None:
    prepare_demo(tmp_path, reset=False, passwords=CHEAP)
    before = (tmp_path / "calls.sqlite").read_bytes()

    prepare_demo(tmp_path, reset=False, passwords=CHEAP)
    kept = (tmp_path / "calls.sqlite").read_bytes()
    prepare_demo(tmp_path, reset=True, passwords=CHEAP)

    assert kept == before
    assert (tmp_path / "calls.sqlite").read_bytes() != before


def test_demo_never_touches_the_calls_of_a_shop(tmp_path: Path) -> None:
    (tmp_path / "calls.sqlite").write_text("a shop's calls")

    with pytest.raises(NotADemoError, match="nothing was changed"):
        prepare_demo(tmp_path, reset=True)

    assert (tmp_path / "calls.sqlite").read_text() == "a shop's calls"


def test_serve_without_a_data_folder_says_which_option_is_missing() -> None:
    result = CliRunner().invoke(serve, [], env={"TRIAGE_DATA": ""})

    assert result.exit_code == 2
    assert "--data" in result.output


@pytest.mark.parametrize("command", [serve, demo])
def test_command_says_in_its_help_what_it_does(command) -> None:
    result = CliRunner().invoke(command, ["--help"])

    assert result.exit_code == 0
    assert "--port" in result.output


@pytest.mark.parametrize("words", [["demo", "--no-open"], ["serve"]])
def test_command_serves_pages_until_it_is_stopped(tmp_path: Path, words: list[str]) -> None:
    program = "from triage.cli.main import main; main()"
    options = ["--data", str(tmp_path / "data"), "--port", "0", "--json"]
    process = subprocess.Popen(
        [sys.executable, "-c", program, *words, *options], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        url = json.loads(process.stdout.readline())["url"]
        with urllib.request.urlopen(url, timeout=20) as response:
            page = response.read().decode()
    finally:
        process.send_signal(signal.SIGTERM)
        code = process.wait(timeout=20)
        process.stdout.close()

    assert "<h1>Sign in</h1>" in page
    assert code == 0
