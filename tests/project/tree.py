"""The files of the project, as the project tests see them."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def python_files(*folders: str) -> list[Path]:
    """Return the Python files under these top-level folders, in order of path."""
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def pages() -> list[Path]:
    """Return the Markdown pages of the project, in order of path."""
    folders = [ROOT / folder for folder in ("docs", "networks", "triage", "webform", "tests")]
    return sorted(
        [*ROOT.glob("*.md"), *(page for folder in folders for page in folder.rglob("*.md"))]
    )


def relative(path: Path) -> str:
    """Return the path as people write it, from the top of the project."""
    return path.relative_to(ROOT).as_posix()
