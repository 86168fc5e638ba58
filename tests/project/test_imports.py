"""The direction of imports, and what is not imported until it is needed."""

import subprocess
import sys
from importlib.metadata import entry_points

import pytest
from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports

from tests.project.tree import ROOT

HEAVY = ["matplotlib", "pandas", "pgmpy", "pyagrum", "scipy", "sklearn"]


def modules_loaded_by(statement: str) -> set[str]:
    """Names of the top-level modules that a fresh Python has after the statement."""
    program = f"{statement}\nimport sys\nprint(*{{name.split('.')[0] for name in sys.modules}})"
    words = [sys.executable, "-c", program]
    run = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
    return set(run.stdout.split())


def test_import_contracts_are_kept() -> None:
    code = lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True, no_logo=True)

    assert code == EXIT_STATUS_SUCCESS


@pytest.mark.parametrize("statement", ["import triage", "import triage.services"])
def test_library_starts_without_heavy_packages(statement: str) -> None:
    loaded = modules_loaded_by(statement)

    assert "triage" in loaded
    assert loaded.isdisjoint(HEAVY)


def test_command_line_starts_without_numpy_web_or_database() -> None:
    loaded = modules_loaded_by("import triage.cli.main")

    assert "click" in loaded
    assert loaded.isdisjoint([*HEAVY, "flask", "numpy", "sqlalchemy"])


def test_web_form_adds_its_commands_to_the_command_line() -> None:
    commands = {command.name: command.load() for command in entry_points(group="triage.commands")}

    assert sorted(commands) == ["backup", "demo", "people", "restore", "serve"]
    assert {name: command.name for name, command in commands.items()} == {
        name: name for name in commands
    }
