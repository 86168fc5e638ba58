"""The top level of the project holds a fixed, short list of entries."""

import tomllib

from tests.project.tree import ROOT

ALLOWED = {
    "DEVELOPERS.md",
    "README.md",
    "docs",
    "networks",
    "pyproject.toml",
    "tests",
    "triage",
    "webform",
}
MADE_BY_TOOLS = {"__pycache__", "build", "dist", "htmlcov", "uv.lock"}  # all in .gitignore


def test_top_level_holds_only_the_agreed_entries() -> None:
    entries = {entry.name for entry in ROOT.iterdir() if not entry.name.startswith(".")}

    assert entries - MADE_BY_TOOLS == ALLOWED


def test_what_tools_make_at_the_top_is_ignored_by_git() -> None:
    ignored = {line.strip("/") for line in (ROOT / ".gitignore").read_text().splitlines()}

    assert ignored >= MADE_BY_TOOLS


def test_wheel_holds_the_three_packages() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())

    packages = project["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]

    assert packages == ["triage", "webform", "networks"]


def test_every_runtime_dependency_has_an_upper_bound() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    dated = {"tzdata"}  # numbered by year, never breaks: the newest time zones are wanted

    unbounded = {word.split(">")[0] for word in project["dependencies"] if "<" not in word}

    assert unbounded == dated


def test_pins_name_no_place_to_download_from() -> None:
    pins = (ROOT / ".ci" / "requirements.lock").read_text()

    assert "pgmpy==" in pins
    assert "://" not in pins
