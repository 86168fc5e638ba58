"""Files and functions stay small enough to read in one go."""

import ast
from pathlib import Path

import pytest

from tests.project.tree import ROOT, python_files, relative

MODULE_LINES = 400
TEST_MODULE_LINES = 500
FUNCTION_LINES = 40
MIGRATIONS = ROOT / "triage" / "store" / "migrations"  # as long as the tables they make


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of the body, docstring not counted."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def functions(path: Path) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    if path.is_relative_to(MIGRATIONS):
        return []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


@pytest.mark.parametrize(
    "path", python_files("triage", "webform", "networks", "tests"), ids=relative
)
def test_module_is_short_enough_to_read(path: Path) -> None:
    limit = TEST_MODULE_LINES if path.is_relative_to(ROOT / "tests") else MODULE_LINES

    lines = len(path.read_text(encoding="utf-8").splitlines())

    assert lines <= limit, f"{relative(path)} has {lines} lines; expected at most {limit}, split it"


@pytest.mark.parametrize(
    "path", python_files("triage", "webform", "networks", "tests"), ids=relative
)
def test_every_function_fits_on_one_screen(path: Path) -> None:
    long = {
        f"{relative(path)}:{function.lineno} {function.name}": body_lines(function)
        for function in functions(path)
        if body_lines(function) > FUNCTION_LINES
    }

    assert long == {}, f"bodies of more than {FUNCTION_LINES} lines; split them"
