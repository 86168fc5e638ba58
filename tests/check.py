"""Every check of the project, in order; stops at the first that fails: ``python -m tests.check``.

Words after the command go to pytest: ``python -m tests.check -m "not browser"``.
"""

import os
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PROGRAMS = Path(sys.executable).parent
# Two processes, each takes a file at a time, in the order of tests/conftest.py: long ones first.
SIDE_BY_SIDE = ["-n", "2", "--dist", "loadfile", "--no-loadscope-reorder"]
DATABASE_TESTS = ["tests/triage", "tests/web", "-m", "database"]  # once more on the other engine


def has_postgresql() -> bool:
    """Whether a server is installed; continuous integration must have one."""
    return "CI" in os.environ or any(Path("/usr/lib/postgresql").glob("*/bin/initdb"))


def checks(pytest_words: Sequence[str]) -> dict[str, list[str]]:
    """Return each check's command by the name people know it by, cheapest first."""
    python = [sys.executable, "-m"]
    on_postgresql = [*python, "pytest", *SIDE_BY_SIDE, "--database=postgresql", *DATABASE_TESTS]
    return {
        "format": [*python, "ruff", "format", "--check", "."],
        "lint": [*python, "ruff", "check", "."],
        "types": [*python, "mypy"],
        "imports": [str(PROGRAMS / "lint-imports"), "--no-logo"],
        "tests": [*python, "pytest", *SIDE_BY_SIDE, *pytest_words],
        **({"tests on PostgreSQL": on_postgresql} if has_postgresql() else {}),
    }


def run_checks(commands: dict[str, list[str]]) -> int:
    """Run the checks in order and return the exit code of the first that fails, or 0."""
    for name, command in commands.items():
        print(f"== {name}: {' '.join([Path(command[0]).name, *command[1:]])}", flush=True)
        started = time.monotonic()
        code = subprocess.run(command, cwd=ROOT).returncode
        seconds = time.monotonic() - started
        if code != 0:
            print(f"== stopped: the check {name!r} failed (exit code {code})", flush=True)
            return code
        print(f"== {name}: passed in {seconds:.1f} s", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(run_checks(checks(sys.argv[1:])))
