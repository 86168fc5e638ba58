"""The command itself: what it lists, what it loads, and how it says no."""

import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import webform
from triage.cli.main import OWN_COMMANDS, main

ROOT = Path(__file__).resolve().parents[3]
SMALL_WASHER = str(Path(__file__).parents[1] / "network" / "networks_files" / "small_washer.yaml")
HEAVY = {"numpy", "pgmpy", "flask", "sqlalchemy"}


def run_python(program: str) -> subprocess.CompletedProcess[str]:
    """Run a program in a fresh Python, at the top of the project."""
    words = [sys.executable, "-c", program]
    return subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)


def test_help_loads_no_heavy_package() -> None:
    run = run_python(
        "import sys\n"
        "from triage.cli.main import main\n"
        "main(['--help'], standalone_mode=False)\n"
        "print(*{name.split('.')[0] for name in sys.modules}, file=sys.stderr)"
    )

    assert run.returncode == 0
    assert "rank" in run.stdout
    assert "click" in run.stderr.split()
    assert HEAVY.isdisjoint(run.stderr.split())


def test_help_lists_commands_of_other_packages_without_importing_them() -> None:
    run = run_python(
        "import sys\n"
        "from triage.cli.main import main\n"
        "main(['--help'], standalone_mode=False)\n"
        "print([one for one in sys.modules if one.startswith('webform')])"
    )

    assert "  serve         Serve the web form from a data folder.\n" in run.stdout
    assert run.stdout.endswith("['webform']\n")


SUMMARIES = {name: own.summary for name, own in OWN_COMMANDS.items()} | webform.COMMANDS


@pytest.mark.parametrize("name", main.list_commands(click.Context(main)))
def test_help_line_is_the_first_sentence_of_the_command(name: str) -> None:
    command = main.get_command(click.Context(main), name)

    assert command is not None
    assert command.help is not None
    assert command.help.splitlines()[0] == SUMMARIES[name]


@pytest.mark.parametrize("name", OWN_COMMANDS)
def test_every_command_takes_json(name: str) -> None:
    command = main.get_command(click.Context(main), name)

    assert command is not None
    assert "--json" in [word for option in command.params for word in option.opts]


def test_version_is_that_of_the_package() -> None:
    result = CliRunner().invoke(main, ["--version"])

    assert result.exit_code == 0
    assert result.stdout == "triage, version 0.1.0\n"  # pyproject.toml


def test_unknown_command_is_answered_with_the_nearest_one() -> None:
    result = CliRunner().invoke(main, ["rnak"])

    assert result.exit_code == 2
    assert 'triage: no command "rnak"; expected one of ask, backup, calculate,' in result.stderr
    assert 'Did you mean "rank"?' in result.stderr


def test_unknown_network_is_one_line_on_standard_error() -> None:
    result = CliRunner().invoke(main, ["rank", "top_load_wahser"])

    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith('triage: Unknown network "top_load_wahser"')
    assert 'Did you mean "top_load_washer"?' in result.stderr


def test_broken_network_file_is_reported_with_every_problem(tmp_path: Path) -> None:
    broken = tmp_path / "broken.yaml"
    broken.write_text("format: 1\nnetwork: other\ncolour: red\n", encoding="utf-8")

    result = CliRunner().invoke(main, ["observations", str(broken)])

    assert result.exit_code == 2
    assert f"{broken}:2:" in result.stderr
    assert f"{broken}:3:" in result.stderr


def test_reader_that_leaves_early_causes_no_traceback() -> None:
    program = (
        f"import sys; from triage.cli.main import main; main(['observations', {SMALL_WASHER!r}])"
    )
    words = [sys.executable, "-c", program]

    with subprocess.Popen(
        words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        run.stdout.close()
        errors = run.stderr.read()

    assert errors == ""


def test_terminal_without_a_character_gets_another_in_its_place() -> None:
    program = (
        f"from triage.cli.main import main; main(['rank', {SMALL_WASHER!r}, '-f', 'says_hum=yes'])"
    )
    words = [sys.executable, "-c", program]

    run = subprocess.run(
        words,
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env={"PYTHONIOENCODING": "latin-1"},
    )

    assert run.returncode == 0
    assert "?A hum: Yes? speaks" in run.stdout


def test_matrices_are_computed_on_one_thread_unless_the_user_says_otherwise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    program = (
        "import os; from triage.cli.main import main\n"
        f"main(['check', {SMALL_WASHER!r}], standalone_mode=False)\n"
        "print(os.environ['OPENBLAS_NUM_THREADS'])"
    )

    run = run_python(program)

    assert run.stdout.endswith("good\n1\n")
