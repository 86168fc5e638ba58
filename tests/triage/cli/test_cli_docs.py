"""docs/cli.md and docs/json.md say what the commands do."""

import json
import re
import shlex
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from triage.cli.main import OWN_COMMANDS, main

DOCS = Path(__file__).resolve().parents[3] / "docs"
CLI_PAGE = (DOCS / "cli.md").read_text(encoding="utf-8")
JSON_PAGE = (DOCS / "json.md").read_text(encoding="utf-8")
BY_ID = "answers"  # objects under this key are keyed by ids, which differ from one to the next


def section(page: str, name: str) -> str:
    """Text below the heading of a command, up to the next heading."""
    found = re.search(rf"^## `?triage {name}\b.*?\n(.*?)(?=^## |\Z)", page, re.M | re.S)
    assert found is not None, f"no section about triage {name}"
    return found.group(1)


def block(text: str, language: str) -> str:
    """Return the first code block in a language."""
    found = re.search(rf"^```{language}\n(.*?)^```", text, re.M | re.S)
    assert found is not None, f"no {language} block"
    return found.group(1)


def printed(line: str) -> Any:
    """Run a line such as ``printf 'y\\n' | triage ...`` and return the JSON that it prints."""
    typed, _, command = line.rpartition(" | ")
    text = shlex.split(typed)[1].replace("\\n", "\n") if typed else ""
    words = shlex.split(command)
    assert words[0] == "triage"
    result = CliRunner().invoke(main, words[1:], input=text)
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def differences(example: Any, actual: Any, place: str = "") -> list[str]:
    """Where two JSON values have other keys or types; ``null`` goes with everything."""
    if example is None or actual is None:
        return []
    if isinstance(example, dict) and isinstance(actual, dict):
        if place.endswith(BY_ID):
            return differences(list(example.values()), list(actual.values()), place)
        if example.keys() != actual.keys():
            return [f"{place}: keys {sorted(example.keys() ^ actual.keys())}"]
        return [
            d for key in example for d in differences(example[key], actual[key], f"{place}.{key}")
        ]
    if isinstance(example, list) and isinstance(actual, list):
        pairs = [(example[0], entry) for entry in actual if example]
        return [d for first, entry in pairs for d in differences(first, entry, f"{place}[]")]
    kinds = [float if type(value) is int else type(value) for value in (example, actual)]
    return [] if kinds[0] is kinds[1] else [f"{place}: {kinds[0].__name__}, {kinds[1].__name__}"]


def keys_of(value: Any, key: str = "") -> set[str]:
    """Every key of a JSON value, ids left out."""
    if isinstance(value, list):
        return {name for entry in value for name in keys_of(entry, key)}
    if not isinstance(value, dict):
        return set()
    own = set() if key == BY_ID else set(value)
    return own | {name for inner in value for name in keys_of(value[inner], inner)}


@pytest.mark.parametrize("name", OWN_COMMANDS)
def test_json_example_has_the_keys_and_types_that_the_command_prints(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)  # export writes a file
    text = section(JSON_PAGE, name)
    example = json.loads(block(text, "json"))

    actual = printed(block(text, "sh").strip())

    assert differences(example, actual) == []


@pytest.mark.parametrize("name", OWN_COMMANDS)
def test_json_keys_are_explained(name: str) -> None:
    example = json.loads(block(section(JSON_PAGE, name), "json"))

    explained = set(re.findall(r"`(\w+)`", JSON_PAGE))

    assert keys_of(example)
    assert keys_of(example) - explained == set()


@pytest.mark.parametrize("name", OWN_COMMANDS)
def test_page_names_every_option_of_the_command(name: str) -> None:
    command = main.get_command(click.Context(main), name)
    assert command is not None
    options = [option for option in command.params if isinstance(option, click.Option)]

    described = section(CLI_PAGE, name) + CLI_PAGE.split("\n## ")[0] + section(CLI_PAGE, "rank")

    assert [option.opts for option in options if option.opts[0] not in described] == []


def test_page_names_every_key_of_the_interview() -> None:
    keys = set(re.findall(r"^\| `(.)` \|", section(CLI_PAGE, "ask"), re.M))

    assert keys == {"?", "w", "u", "q"}
