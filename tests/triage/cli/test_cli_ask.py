"""The command ``ask``: an interview with piped input."""

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from triage.cli.main import main
from triage.network.catalogue import load_network
from triage.network.dump import dump_network
from triage.network.values import SafetyClass, SafetyFlag

SMALL_WASHER = Path(__file__).parents[1] / "network" / "networks_files" / "small_washer.yaml"
GAS, SHOCK, FLOOD = "gas_smell", "shock", "flood"
SAFE = ("n", "n", "n")  # nothing to the three safety questions
WATER = ("full of water", "1")  # the caller's words, and the sign they suggest


@pytest.fixture
def washer(tmp_path: Path) -> str:
    """Path of the small washer with a safety flag of each class."""
    network = load_network(SMALL_WASHER)
    gas = network.safety_flags[GAS]
    flags: Sequence[SafetyFlag] = (
        gas,
        replace(
            gas,
            id=SHOCK,
            title="Shock",
            wording="A shock?",
            safety_class=SafetyClass.MAKE_SAFE_AND_STOP,
            script="Do not touch it.",
            referral="An electrician.",
            phrases=(),
        ),
        replace(
            gas,
            id=FLOOD,
            title="Flood",
            wording="Is water still running out?",
            safety_class=SafetyClass.MAKE_SAFE_THEN_BOOK,
            script="Close both taps.",
            referral="Urgent visit.",
            phrases=("keeps gushing",),
        ),
    )
    path = tmp_path / "small_washer.yaml"
    flagged = replace(network, safety_flags={flag.id: flag for flag in flags})
    path.write_text(dump_network(flagged), encoding="utf-8")
    return str(path)


def interview(washer: str, *lines: str) -> Result:
    result = CliRunner().invoke(main, ["ask", washer], input="".join(f"{line}\n" for line in lines))
    assert result.exit_code == 0, result.output
    return result


def final_state(washer: str, *lines: str) -> dict[str, Any]:
    text = "".join(f"{line}\n" for line in lines)
    result = CliRunner().invoke(main, ["ask", washer, "--json"], input=text)
    assert result.exit_code == 0, result.output
    data: dict[str, Any] = json.loads(result.stdout)
    return data


def findings(state: dict[str, Any]) -> list[tuple[str, str]]:
    return [(entry["observation"], entry["answer"]) for entry in state["findings"]]


def test_interview_asks_every_safety_question_before_anything_else(washer: str) -> None:
    text = interview(washer, *SAFE).stdout

    places = [text.index(f"Safety {place} of 3") for place in (1, 2, 3)]
    assert places == sorted(places)
    assert places[-1] < text.index("What does the caller say is wrong?")


@pytest.mark.parametrize(("answers", "flag"), [(["y"], GAS), (["n", "y"], SHOCK)])
def test_danger_that_stops_prints_script_and_referral_and_ranks_nothing(
    washer: str, answers: list[str], flag: str
) -> None:
    stopping = load_network(washer).safety_flags[flag]

    text = " ".join(interview(washer, *answers, *SAFE, *WATER).stdout.split())

    assert stopping.script in text
    assert stopping.referral in text
    assert "Causes now" not in text
    assert "First visit" not in text


def test_danger_that_stops_leaves_no_ranking_and_no_plan(washer: str) -> None:
    state = final_state(washer, "y", *WATER)

    assert state["stage"] == "stopped"
    assert [flag["flag"] for flag in state["safety"]["raised"]] == [GAS]
    assert state["ranking"] is None
    assert state["plan"] is None


def test_danger_that_can_be_made_safe_goes_on_only_with_a_name(washer: str) -> None:
    unconfirmed = final_state(washer, "n", "n", "y", "", "")
    confirmed = final_state(washer, "n", "n", "y", "", "Robin", *WATER)

    assert unconfirmed["stage"] == "confirm"
    assert unconfirmed["ranking"] is None
    assert confirmed["safety"]["confirmed_by"] == "Robin"
    assert findings(confirmed) == [("says_water_left", "volunteered")]
    assert confirmed["ranking"] is not None


def test_what_to_say_about_a_danger_comes_at_once_and_before_the_next_question(washer: str) -> None:
    text = interview(washer, "n", "n", "y").stdout
    with_json = CliRunner().invoke(main, ["ask", washer, "--json"], input="y\n")

    assert text.index("Say: Close both taps.") < text.index("Made safe? Flood")
    assert "Say: Leave the house" in with_json.stderr


def test_safety_question_takes_no_answer_but_yes_and_no(washer: str) -> None:
    result = interview(washer, "?", "", "perhaps", "N")

    assert result.stdout.count("Enter y or n.") == 3
    assert "Safety 2 of 3" in result.stdout


def test_words_of_danger_ask_the_safety_question_again(washer: str) -> None:
    raised = final_state(washer, *SAFE, "it keeps gushing", "y", "Robin", *WATER)
    denied = final_state(washer, *SAFE, "it keeps gushing", "n", "1")

    assert [flag["flag"] for flag in raised["safety"]["raised"]] == [FLOOD]
    assert raised["safety"]["confirmed_by"] == "Robin"
    assert denied["safety"]["raised"] == []


def test_complaint_is_matched_by_words_and_counts_as_volunteered(washer: str) -> None:
    assert findings(final_state(washer, *SAFE, *WATER)) == [("says_water_left", "volunteered")]


@pytest.mark.parametrize("words", ["", "zzz"])
def test_complaint_is_picked_from_a_list_when_no_words_match(washer: str, words: str) -> None:
    state = final_state(washer, *SAFE, words, "2 1, 2")

    assert findings(state) == [("says_hum", "volunteered"), ("says_water_left", "volunteered")]


def test_complaint_may_be_none_of_the_list(washer: str) -> None:
    state = final_state(washer, *SAFE, "", "7", "")

    assert state["stage"] == "questions"
    assert findings(state) == []


def test_question_asked_has_the_largest_gain_per_minute(washer: str) -> None:
    words = ["rank", washer, "-f", "says_water_left=volunteered", "--json"]
    best = json.loads(CliRunner().invoke(main, words).stdout)["next_questions"][0]

    result = interview(washer, *SAFE, *WATER)

    asked = result.stdout[result.stdout.index("Ask (") :].splitlines()[1]
    assert asked.strip() == best["wording"]


def test_answer_is_taken_by_number_or_word_and_then_causes_are_shown(washer: str) -> None:
    by_number = final_state(washer, *SAFE, *WATER, "1", "2")
    by_word = final_state(washer, *SAFE, *WATER, "yes", "no")
    shown = interview(washer, *SAFE, *WATER, "1", "2").stdout.count("Causes now")

    assert by_number["findings"] == by_word["findings"]
    assert [answer for _, answer in findings(by_number)] == ["volunteered", "yes", "no"]
    assert shown == 3


def test_dont_know_is_stored_and_changes_no_cause(washer: str) -> None:
    before = final_state(washer, *SAFE, *WATER)
    after = final_state(washer, *SAFE, *WATER, "?")

    def chances(state: dict[str, Any]) -> list[tuple[str, float]]:
        return [(cause["mode"], cause["probability"]) for cause in state["ranking"]["causes"]]

    assert findings(after)[-1][1] == "dont_know"
    assert chances(after) == chances(before)


def test_undo_takes_back_one_step_at_a_time(washer: str) -> None:
    one_back = final_state(washer, *SAFE, *WATER, "1", "u")
    two_back = final_state(washer, *SAFE, *WATER, "1", "u", "u", "", "2")
    all_back = final_state(washer, "n", "u", "u")

    assert findings(one_back) == [("says_water_left", "volunteered")]
    assert findings(two_back) == [("says_hum", "volunteered")]
    assert all_back["safety"]["answers"] == {}


def test_why_gives_the_reason_and_asks_again(washer: str) -> None:
    result = interview(washer, *SAFE, *WATER, "w", "1")
    reason = final_state(washer, *SAFE, *WATER)["ranking"]["next_questions"][0]["reason"]

    text = " ".join(result.stdout.split())

    assert reason in text
    assert "said unasked” speaks" in text


def test_answer_that_is_none_is_asked_again(washer: str) -> None:
    result = interview(washer, *SAFE, *WATER, "3", "0", "x")

    assert result.stdout.count("Enter a number from 1 to 2;") == 3


@pytest.mark.parametrize("end", [["q", "1"], []])
def test_stop_and_end_of_input_end_with_the_plan(washer: str, end: list[str]) -> None:
    result = interview(washer, *SAFE, *WATER, *end)

    assert "First visit" in result.stdout
    assert "Price to the customer" in result.stdout


def test_stop_before_the_safety_questions_are_answered_ranks_nothing(washer: str) -> None:
    result = interview(washer, "n", "q")

    assert "No causes are ranked: the safety questions come first." in result.stdout


def test_interview_ends_when_no_question_tells_anything(washer: str) -> None:
    result = interview(washer, *SAFE, "", "", *["?"] * 20)

    assert "No question is left that would tell anything." in result.stdout
    assert "First visit" in result.stdout


def test_json_is_alone_on_standard_output(washer: str) -> None:
    text = "".join(f"{line}\n" for line in (*SAFE, *WATER))

    result = CliRunner().invoke(main, ["ask", washer, "--json"], input=text)

    assert result.stdout.startswith("{")
    assert json.loads(result.stdout)["network"] == "small_washer"
    assert "What does the caller say is wrong?" in result.stderr
