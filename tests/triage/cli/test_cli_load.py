"""The commands ``load`` and ``settings``."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from triage.cli.main import main

SMALL_WASHER = str(Path(__file__).parents[1] / "network" / "networks_files" / "small_washer.yaml")
SETTINGS = """\
format: 1
source: our books
costs: {return_trip: 150}
parts:
  drain_pump:
    numbers:
      P-100: {plates: ["AB*"], share: 0.6}
      P-200: {plates: ["CD*"], share: 0.4}
"""


@pytest.fixture
def shop(tmp_path: Path) -> str:
    path = tmp_path / "shop.yaml"
    path.write_text(SETTINGS, encoding="utf-8")
    return str(path)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words)


def read(*words: str) -> dict[str, Any]:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.stderr
    data: dict[str, Any] = json.loads(result.stdout)
    return data


def titles(entries: list[dict[str, Any]]) -> set[tuple[str, str]]:
    return {(entry["part"], entry["number"]) for entry in entries}


def test_load_shows_what_to_take_what_to_check_and_what_it_brings(shop: str) -> None:
    words = ("load", "top_load_washer", "-f", "says_water_left=yes", "--settings", shop)
    data = read(*words)

    text = " ".join(run(*words).stdout.split())

    assert data["take"]
    assert data["check"]
    assert all(" ".join(entry["reason"].split()) in text for entry in data["take"])
    assert all(entry["title"] in text for entry in data["check"])
    assert data["visits"][0]["fill_rate"] > data["visits"][0]["fill_rate_of_van"]
    assert "No other load is better." in text
    assert "What more would bring" in text


def test_load_takes_a_number_whose_plate_is_known_and_asks_for_a_photo_otherwise(shop: str) -> None:
    words = ("load", "top_load_washer", "-f", "says_water_left=yes", "--settings", shop)

    unknown = read(*words)
    known = read(*words, "--plate", "cd 17")

    assert "photo" in unknown["visits"][0]["asks"][0]
    assert known["visits"][0]["asks"] == []
    assert ("drain_pump", "P-200") in titles(known["take"])
    assert ("drain_pump", "P-100") not in titles(known["take"])
    assert known["visits"][0]["fill_rate"] > unknown["visits"][0]["fill_rate"] - 1e-9


def test_plan_and_load_show_the_same_list_under_the_same_settings(shop: str) -> None:
    words = ("top_load_washer", "-f", "says_water_left=yes", "--plate", "AB 1", "--settings", shop)

    planned, loaded = read("plan", *words), read("load", *words)

    assert planned["load"] == loaded
    assert titles(planned["parts"]) == titles(loaded["take"] + loaded["check"])
    assert ("drain_pump", "P-100") in titles(planned["parts"])


def test_settings_change_what_endings_cost_and_the_service_fee_that_is_named(
    tmp_path: Path,
) -> None:
    path = tmp_path / "shop.yaml"
    text = "format: 1\ncosts: {trip: 350}\nprices: {service_fee: 120}\n"
    path.write_text(text, encoding="utf-8")
    words = ("plan", "gas_dryer")

    usual, dear = read(*words), read(*words, "--settings", str(path))

    costs = [
        {entry["kind"]: entry["expected_cost_minor"] for entry in plan["endings"]}["visit"]
        for plan in (usual, dear)
    ]
    assert costs[1] - costs[0] == pytest.approx(30000, abs=1500)
    assert "120 USD" in dear["offer"]["price_sentence"]


def test_rank_counts_the_questions_that_pay_at_the_costs_of_the_shop(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    text = "format: 1\ncosts: {dispatcher_per_hour: 500, customer_per_hour: 500}\n"
    path.write_text(text, encoding="utf-8")

    usual, dear = read("rank", "gas_dryer"), read("rank", "gas_dryer", "--settings", str(path))

    assert dear["questions_that_pay"] < usual["questions_that_pay"]
    assert dear["causes"] == usual["causes"]


def test_load_of_a_day_has_a_fill_rate_for_each_visit_and_says_which_need_a_part() -> None:
    findings = ("-f", "says_water_left=yes")
    more = ("--visit", "top_load_washer says_water_left=yes", "--visit", "gas_dryer")

    data = read("load", "top_load_washer", *findings, *more)

    assert [visit["network"] for visit in data["visits"]] == [
        "top_load_washer",
        "top_load_washer",
        "gas_dryer",
    ]
    pump = next(entry for entry in data["take"] + data["check"] if entry["part"] == "drain_pump")
    assert pump["visits"] == [1, 2]
    assert data["visits"][1]["fill_rate"] < data["visits"][0]["fill_rate"]
    assert data["frontier"] == []


def test_frontier_starts_with_the_van_as_it_is_and_rises() -> None:
    frontier = read("load", "electric_dryer")["frontier"]

    assert frontier[0]["added"] == []
    assert frontier[0]["parts_cost_minor"] == 0
    rates = [point["fill_rate"] for point in frontier]
    assert rates == sorted(rates)
    assert len(rates) > 3


def test_plate_of_a_further_visit_stands_among_its_findings(shop: str) -> None:
    visit = 'top_load_washer says_water_left=yes "plate=AB 1"'

    data = read("load", "gas_dryer", "--settings", shop, "--visit", visit)

    assert data["visits"][1]["plate"] == "AB 1"
    assert ("drain_pump", "P-100") in titles(data["take"])


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["-f", "says_watr_left=yes"], 'Did you mean "says_water_left"?'),
        (["--visit", "small_wahser"], 'Unknown network "small_wahser"'),
        (["--visit", "gas_dryer asks_age=overr_12"], 'Did you mean "over_12"?'),
        (["--visit", "asks_age=over_12"], "got no network first; expected NETWORK OBS=ANSWER"),
        (["--visit", 'gas_dryer "plate'], "expected quotes in pairs"),
        (["--settings", "missing.yaml"], "missing.yaml"),
    ],
)
def test_mistake_is_one_message_and_exit_code_2(words: list[str], message: str) -> None:
    result = run("load", SMALL_WASHER, *words)

    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""


def test_load_reports_every_problem_of_the_settings(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text("format: 1\ncosts: {tripp: 5}\nparts: {drain_pmp: {}}\n", encoding="utf-8")

    result = run("load", "gas_dryer", "--settings", str(path))

    assert result.exit_code == 2
    assert f"{path}:2: costs.tripp" in result.stderr
    assert f"{path}:3: parts.drain_pmp" in result.stderr


def test_settings_shown_can_be_checked(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(run("settings", "show").stdout, encoding="utf-8")

    result = run("settings", "check", str(path))

    assert result.exit_code == 0
    assert result.stdout == f"{path}: good\n"


def test_settings_check_reports_problems_with_exit_code_1(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text("format: 1\ncosts: {trip: 4500}\n", encoding="utf-8")

    result = run("settings", "check", str(path), "--json")

    assert result.exit_code == 1
    assert json.loads(result.stdout) == {
        "is_good": False,
        "problem_count": 1,
        "problems": [f"{path}:2: costs.trip: got 4500; expected at most 1000."],
        "remarks": [],
    }


def test_settings_check_prints_remarks_of_a_good_file(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text("format: 1\nprices: {service_fee: 20}\n", encoding="utf-8")

    result = run("settings", "check", str(path))

    assert result.exit_code == 0
    assert "Look again: The service fee does not cover the cost of the trip." in result.stdout


def test_settings_show_says_which_numbers_are_the_shops_own(shop: str) -> None:
    by_key = {entry["key"]: entry for entry in read("settings", "show", shop)["settings"]}

    assert by_key["costs.return_trip"]["source"] == "our books"
    assert by_key["costs.return_trip"]["value"] == 150
    assert by_key["costs.trip"]["source"] == "common practice, no source"


def test_settings_check_without_a_file_asks_for_one() -> None:
    result = run("settings", "check")

    assert result.exit_code == 2
    assert "expected the path of a settings file" in result.stderr
