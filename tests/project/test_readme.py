"""The two commands of README.md are single lines, and continuous integration runs the second."""

import re
import subprocess

import click
import pytest

from tests.project.tree import ROOT
from triage.cli.main import main

README = (ROOT / "README.md").read_text(encoding="utf-8")
RUN = ROOT / ".ci" / "run"


def command_between(name: str) -> str:
    """The command in the block between ``<!-- name:begin -->`` and ``<!-- name:end -->``."""
    block = re.search(
        rf"<!-- {name}:begin -->\n```\w*\n(.*?)\n```\n<!-- {name}:end -->", README, re.S
    )
    assert block is not None, f"README.md has no block {name!r}"
    return block.group(1)


@pytest.mark.parametrize("name", ["run", "check"])
def test_readme_command_is_one_line_that_starts_from_nothing(name: str) -> None:
    command = command_between(name)

    assert "\n" not in command
    assert command.startswith("python3 -m venv .venv && ")


def test_readme_run_command_ends_in_the_demo_shop() -> None:
    assert command_between("run").endswith(" && .venv/bin/triage demo")


def test_continuous_integration_runs_the_check_command_of_the_readme() -> None:
    reading = next(line for line in RUN.read_text().splitlines() if line.startswith("command="))

    words = ["bash", "-euo", "pipefail", "-c", f'{reading}; printf %s "$command"']
    read = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True).stdout

    assert read == command_between("check")
    assert 'bash -euo pipefail -c "$command"' in RUN.read_text()


def test_readme_names_exactly_the_commands_there_are() -> None:
    listed = set(re.findall(r"^\| `triage (\w+)", README, re.M))

    assert isinstance(main, click.Group)
    assert listed == set(main.list_commands(click.Context(main)))
