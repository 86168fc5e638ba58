"""The command ``calculate`` and the page about the calculators."""

import json
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.triage.cli.test_cli_docs import JSON_PAGE, differences, keys_of, printed, section
from triage.cli.main import main
from triage.services.calculations import calculators

PAGE = (Path(__file__).resolve().parents[3] / "docs" / "calculators.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"^```sh\n([^\n]*)\n```\n\n```\n(.*?)^```", PAGE, re.M | re.S)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["calculate", *words])


def test_calculate_alone_lists_the_calculators() -> None:
    result = run()

    listed = [line.split()[0] for line in result.stdout.splitlines() if line]
    assert listed[:-1] == [entry.id for entry in calculators()]


def test_calculate_with_a_name_says_what_it_asks_for() -> None:
    result = run("thermistor")

    assert "  temperature  [required]\n" in result.stdout
    assert "  reading  [optional]\n" in result.stdout
    assert "A number from 50 to 100 °F (or in °C)." in result.stdout


def test_calculate_says_result_judgement_and_source() -> None:
    result = run("dryer_duct", "elbows_4in_90=3", "length=21.5")

    assert result.exit_code == 0
    assert "Longest duct allowed  20 ft (6.096 m)\n" in result.stdout
    assert "Not good: The duct is 1.5 ft too long" in result.stdout
    assert "Source: IRC M1502" in result.stdout


def test_calculate_takes_hyphens_for_underscores() -> None:
    hyphens = run("dryer-duct", "elbows-4in-90=3")
    underscores = run("dryer_duct", "elbows_4in_90=3")

    assert hyphens.exit_code == 0
    assert hyphens.stdout == underscores.stdout


def test_calculate_as_json_has_unrounded_values_with_units() -> None:
    result = run("heating_element", "rated_power=5400", "--json")

    results = {entry["id"]: entry["measures"] for entry in json.loads(result.stdout)["results"]}
    assert results["resistance"] == [{"value": 240.0**2 / 5400.0, "unit": "ohm"}]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["standpip"], 'Unknown calculator "standpip"'),
        (["standpipe", "trap=8", "top=tall"], 'Input "top": got "tall"; expected a number from 0'),
        (["standpipe", "trap=8"], 'Input "top": got nothing'),
        (["dryer_duct", "18"], '"18" is no entry; expected INPUT=VALUE'),
        (["dryer_duct", "=18"], '"=18" is no entry; expected INPUT=VALUE'),
        (["dryer_duct", "length=18", "length=19"], 'input "length" is entered twice'),
    ],
)
def test_calculate_answers_a_mistake_with_what_is_expected(words: list[str], message: str) -> None:
    result = run(*words)

    assert result.exit_code == 2
    assert result.stdout == ""
    assert message in result.stderr


def test_json_page_shows_what_the_calculators_ask_for() -> None:
    text = section(JSON_PAGE, "calculate")
    example = json.loads(re.findall(r"^```json\n(.*?)^```", text, re.M | re.S)[1])

    actual = printed(re.findall(r"^```sh\n(.*?)\n```", text, re.M)[1])

    assert differences(example, actual) == []
    assert keys_of(example) - set(re.findall(r"`(\w+)`", JSON_PAGE)) == set()


@pytest.mark.parametrize(("command", "shown"), EXAMPLES)
def test_page_shows_what_the_command_prints(
    command: str, shown: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")

    result = run(*shlex.split(command)[2:])

    assert result.stdout == shown


def test_page_has_an_example_of_every_calculator_and_names_every_input() -> None:
    ids = [entry.id for entry in calculators()]
    inputs = {entry.id for chosen in calculators() for entry in chosen.inputs}

    named = set(re.findall(r"`(\w+)(?:=\w+)?`", PAGE))

    assert re.findall(r"^## (\w+)$", PAGE, re.M) == ids
    assert [shlex.split(command)[2] for command, _ in EXAMPLES] == ids
    assert inputs - named == set()
