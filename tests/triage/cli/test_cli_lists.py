"""The commands ``observations`` and ``check``."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from triage.cli.main import main

FOLDER = Path(__file__).parents[1] / "network" / "networks_files"
SMALL_WASHER = str(FOLDER / "small_washer.yaml")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words)


def test_observations_lists_id_wording_answers_and_minutes() -> None:
    result = run("observations", SMALL_WASHER, "--search", "full of water")

    assert result.exit_code == 0
    assert result.stdout.splitlines() == [
        "says_water_left  [caller, 0.5 min]",
        "  Water left in the tub",
        "  Is there still water standing in the tub when it has finished?",
        "  Answers: yes, no",
        "",
        "1 of 6 observations.",
    ]


def test_observations_fit_into_80_columns() -> None:
    result = run("observations", "top_load_washer")

    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize(
    ("filters", "expected"),
    [
        (["--channel", "meter"], ["meters_pump_winding"]),
        (["--sign", "hum"], ["says_hum"]),
        (["--sign", "drive"], ["says_drive"]),
        (["--search", "DRIVE"], ["says_drive"]),
        (["--channel", "meter", "--sign", "hum"], []),
    ],
)
def test_observations_are_those_that_pass_every_filter(
    filters: list[str], expected: list[str]
) -> None:
    result = run("observations", SMALL_WASHER, *filters, "--json")

    assert [entry["id"] for entry in json.loads(result.stdout)["observations"]] == expected


def test_observations_of_an_unknown_sign_names_the_nearest() -> None:
    result = run("observations", SMALL_WASHER, "--sign", "cold_flo")

    assert result.exit_code == 2
    assert 'unknown sign or context "cold_flo". Did you mean "cold_flow"?' in result.stderr


def test_check_of_good_files_says_so() -> None:
    fragment = str(FOLDER / "fragments" / "small_drain.yaml")

    result = run("check", SMALL_WASHER, fragment)

    assert result.exit_code == 0
    assert [line.split(": ")[1] for line in result.stdout.splitlines()] == ["good", "good"]


def test_check_takes_the_name_of_a_shipped_network() -> None:
    result = run("check", "top_load_washer")

    assert result.stdout == "networks/top_load_washer.yaml: good\n"
    assert result.exit_code == 0


def test_check_reports_every_problem_of_every_file_and_fails(tmp_path: Path) -> None:
    broken = tmp_path / "broken.yaml"
    broken.write_text("format: 1\nnetwork: other\ncolour: red\n", encoding="utf-8")
    absent = tmp_path / "absent.yaml"

    result = run("check", str(broken), str(absent), SMALL_WASHER)

    assert result.exit_code == 1
    lines = result.stdout.splitlines()
    assert [line for line in lines if line.startswith(f"{broken}:2: ")]
    assert [line for line in lines if line.startswith(f"{broken}:3: ")]
    assert [line for line in lines if line.startswith(f"{absent}:1: ")]
    assert lines[-1].endswith("small_washer.yaml: good")
    assert result.stderr == f"{len(lines) - 1} problems found.\n"


def test_check_as_json_still_fails_on_a_problem(tmp_path: Path) -> None:
    result = run("check", str(tmp_path / "absent.yaml"), "--json")

    report = json.loads(result.stdout)
    assert result.exit_code == 1
    assert report["is_good"] is False
    assert report["problem_count"] == 1
    assert len(report["files"][0]["problems"]) == 1


def test_check_of_an_unknown_name_names_the_nearest() -> None:
    result = run("check", "top_load_wahser")

    assert result.exit_code == 2
    assert 'Did you mean "top_load_washer"?' in result.stderr
