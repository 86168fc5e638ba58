"""The commands ``rank`` and ``plan``."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from triage.cli.main import main

SMALL_WASHER = str(Path(__file__).parents[1] / "network" / "networks_files" / "small_washer.yaml")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words)


def read(*words: str) -> dict[str, Any]:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.stderr
    data: dict[str, Any] = json.loads(result.stdout)
    return data


def belt_probability(data: dict[str, Any]) -> float:
    by_mode = {cause["mode"]: float(cause["probability"]) for cause in data["causes"]}
    return by_mode["drive_belt.broken"]


def test_rank_without_findings_shows_the_prior() -> None:
    result = run("rank", SMALL_WASHER)

    assert result.exit_code == 0
    assert "Small washer, version 3" in result.stdout
    assert "nothing yet" in result.stdout
    assert "Why" not in result.stdout


def test_rank_shows_word_percent_bar_and_title_of_each_cause() -> None:
    data = read("rank", SMALL_WASHER, "--finding", "says_water_left=yes")
    first = data["causes"][0]

    result = run("rank", SMALL_WASHER, "--finding", "says_water_left=yes")

    line = next(line for line in result.stdout.splitlines() if line.startswith("  1  "))
    assert f"  {first['word']} " in line
    assert f" {first['probability']:.0%} ".replace("%", " %") in line
    assert line.count("#") == round(10 * first["probability"])  # a bar has ten places
    assert first["title"] in line


def test_rank_says_what_is_left_out_why_and_what_to_do_next() -> None:
    words = ("rank", SMALL_WASHER, "-f", "says_water_left=yes")
    data = read(*words)

    text = " ".join(run(*words).stdout.split())

    assert data["missing_mass"]["sentence"] in text
    assert data["explanation"][0]["sentence"] in text
    assert data["next_questions"][0]["wording"] in text
    assert data["next_tests"][0]["observation"] in text


def test_rank_warns_when_findings_hardly_go_together(tmp_path: Path) -> None:
    text = Path(SMALL_WASHER).read_text(encoding="utf-8")
    doubtful = tmp_path / "small_washer.yaml"
    doubtful.write_text(text.replace("{value: 6.5,", "{value: 0.01,"), encoding="utf-8")
    (tmp_path / "fragments").symlink_to(Path(SMALL_WASHER).parent / "fragments")
    findings = ("-f", "says_water_left=no", "-f", "meters_pump_winding=outside")

    warned = run("rank", str(doubtful), *findings)
    calm = run("rank", SMALL_WASHER, *findings)

    assert "Warning" in warned.stdout
    assert "Warning" not in calm.stdout


def test_rank_limit_holds_for_causes_questions_and_tests() -> None:
    data = read("rank", SMALL_WASHER, "--limit", "1")

    assert [len(data[key]) for key in ("causes", "next_questions", "next_tests")] == [1, 1, 1]


def test_rank_takes_a_meter_reading_as_a_number() -> None:
    data = read("rank", SMALL_WASHER, "-f", "meters_pump_winding=900")

    assert data["findings"][0]["answer"] == 900.0
    assert data["causes"][0]["mode"] == "drain_pump.burnt"  # good windings are within 5 to 25 ohm


def test_rank_keeps_the_order_among_findings_and_repairs() -> None:
    failed, passed = ("-f", "runs_full_cycle=bad"), ("-f", "runs_full_cycle=good")
    repair = ("-r", "replace_belt")

    first = read("rank", SMALL_WASHER, *failed, *repair, *passed)
    second = read("rank", SMALL_WASHER, *passed, *repair, *failed)

    assert belt_probability(first) < belt_probability(second)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["-f", "says_watr_left=yes"], 'Did you mean "says_water_left"?'),
        (["-f", "says_water_left=maybe"], 'Unknown answer "maybe" for observation'),
        (["-f", "says_water_left=yess"], 'Did you mean "yes"?'),
        (["-f", "says_water_left"], 'Unknown answer "" for observation'),
        (["-f", "meters_pump_winding=high"], "expected a number in ohm"),
        (["-f", "meters_pump_winding=-3"], "expected 0 to 2000 ohm. Check the number"),
        (["-r", "replace_bolt"], 'Did you mean "replace_belt"?'),
        (["--limit", "0"], "0 is not in the range x>=1"),
    ],
)
@pytest.mark.parametrize("command", ["rank", "plan"])
def test_mistake_is_one_message_and_exit_code_2(
    command: str, words: list[str], message: str
) -> None:
    if command == "plan" and "--limit" in words:
        message = "No such option '--limit'"

    result = run(command, SMALL_WASHER, *words)

    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""


def test_plan_shows_outcome_time_price_tests_and_parts() -> None:
    words = ("plan", SMALL_WASHER, "-f", "says_water_left=yes")
    data = read(*words)

    text = " ".join(run(*words).stdout.split())

    assert text.startswith(data["outcome_title"])
    assert f"{data['minutes_p50']:.0f} min as likely as not" in text
    low, high = (f"{end / 100:.2f}" for end in data["price_range_minor"])
    assert f"Price to the customer: {low} to {high} USD" in text
    assert data["tests"]
    assert all(test["wording"] in text for test in data["tests"])
    assert data["parts"]
    assert all(part["title"] in text for part in data["parts"])
    assert all(caution in text for caution in data["cautions"])


def test_plan_says_what_the_caller_can_try() -> None:
    words = ("plan", SMALL_WASHER, "-f", "tests_cold_valve=dribble", "-f", "says_water_left=no")
    data = read(*words)

    text = " ".join(run(*words).stdout.split())

    assert data["caller_steps"][0]["sentence"].startswith("Close both taps")
    assert data["caller_steps"][0]["sentence"] in text
