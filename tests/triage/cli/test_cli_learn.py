"""The commands of learning at the keyboard: files, proposals, decisions, what is typed wrong."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.triage.learning.learning_shop import made_up_jobs
from triage.cli.data import DATABASE_FILE
from triage.cli.main import main
from triage.services.learning.job_file import jobs_as_text
from webform.config import DATABASE_FILE as NAME_IN_THE_WEB_FORM

WASHER = "top_load_washer"


@pytest.fixture
def jobs(tmp_path: Path) -> str:
    path = tmp_path / "jobs.csv"
    path.write_text(jobs_as_text(made_up_jobs(30)), encoding="utf-8")
    return str(path)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def test_commands_find_the_database_of_the_web_form() -> None:
    assert DATABASE_FILE == NAME_IN_THE_WEB_FORM


def test_jobs_are_taken_in_proposed_from_approved_and_rolled_back(
    jobs: str, tmp_path: Path
) -> None:
    shop = ["--data", str(tmp_path)]

    dry = run("learn", "import", jobs, *shop, "--dry-run")
    taken = run("learn", "import", jobs, *shop)
    learned = run("learn", *shop, "--network", WASHER, "--reason", "spring")
    approved = run("versions", "approve", WASHER, "2", *shop, "--reason", "better")
    run("versions", "use", WASHER, "1", *shop, "--reason", "worse")
    listed = json.loads(run("versions", "list", WASHER, *shop, "--json").stdout)["versions"]

    assert "this was a dry run" in dry.output
    assert "30 jobs were taken in." in taken.output
    assert "version 2" in learned.output
    assert "version 2: in use" in approved.output
    assert [(row["version"], row["is_in_use"]) for row in listed] == [(2, False), (1, True)]


def test_wrong_lines_are_told_and_nothing_is_taken_in(jobs: str, tmp_path: Path) -> None:
    text = Path(jobs).read_text(encoding="utf-8").replace("repaired", "mended", 1)
    Path(jobs).write_text(text, encoding="utf-8")

    result = run("learn", "import", jobs, "--data", str(tmp_path))

    assert result.exit_code == 1
    assert 'line 2, column "outcome": got "mended"' in result.output
    assert "Nothing was taken in." in result.output


def test_kinds_of_a_file_are_learned_together_unless_alone_is_asked_for(tmp_path: Path) -> None:
    others = made_up_jobs(20, kind="front_load_washer")
    both = [*made_up_jobs(20), *(replace(job, source="other-books") for job in others)]
    path = tmp_path / "both.csv"
    path.write_text(jobs_as_text(both), encoding="utf-8")

    together = run("learn", str(path), "--network", WASHER)
    alone = json.loads(run("learn", str(path), "--network", WASHER, "--alone", "--json").stdout)

    assert "borrow from them: front_load_washer 20 jobs" in together.output
    assert "answers to questions are given without looking" in " ".join(together.output.split())
    assert [one["channel"] for one in alone["careless"]] == ["caller", "guided_check"]
    assert alone["lenders"] == []
    assert alone["settings"]["learns_together"] is False
    assert {row["borrowed"] for row in alone["changes"]} == {0.0}


def test_version_is_compared_on_past_calls(tmp_path: Path) -> None:
    path = tmp_path / "two.csv"
    path.write_text(jobs_as_text(made_up_jobs(2)), encoding="utf-8")
    shop = ["--data", str(tmp_path)]
    run("learn", "import", str(path), *shop)
    run("learn", *shop, "--network", WASHER)

    printed = run("versions", "compare", WASHER, "2", *shop)

    assert "Version 2 against version 1, on 2 of 2 past calls" in printed.output
    assert "slot" in printed.output


def test_scores_are_printed(jobs: str) -> None:
    result = run("evaluate", jobs)

    assert "bits as learned" in result.output
    assert "first visit" in result.output


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["learn"], "got no --network"),
        (["learn", "--network", WASHER], "got neither FILE nor --data"),
        (["learn", "a.csv", "b.csv", "--network", WASHER], "got 2 files; expected one"),
        (["learn", "absent.csv", "--network", WASHER], "got no readable file"),
        (["learn", "import", "a.csv"], "got no --data"),
        (["learn", "--network", WASHER, "--assume", "speed=3"], 'got "speed"; expected one of'),
        (["learn", "--network", WASHER, "--assume", "share_jobs=x"], "expected a number"),
        (["evaluate"], "got neither FILE nor --data"),
        (["versions", "show", WASHER], "expected NETWORK, VERSION and --data"),
    ],
)
def test_what_cannot_be_used_is_told(words: list[str], message: str) -> None:
    result = run(*words)

    assert result.exit_code == 2
    assert message in result.output


def test_decision_needs_a_reason(tmp_path: Path) -> None:
    result = run("versions", "use", WASHER, "1", "--data", str(tmp_path))

    assert result.exit_code == 2
    assert "got no --reason" in result.output


def test_map_without_a_sign_is_told(jobs: str) -> None:
    assert "expected COLUMN=NAME" in run("evaluate", jobs, "--map", "job").output
