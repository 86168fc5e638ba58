"""Claims about the document of the API: valid, complete, and the same as what is served."""

import ast
import re
from typing import Any

import schemathesis
from flask import Flask

from tests.project.tree import ROOT, python_files
from tests.web.program import program
from triage.errors import StaleCallError
from webform.api.document import document, problem_types
from webform.api.operations import OPERATIONS
from webform.problems import API_ROOT, type_of

PAGE = ROOT / "docs" / "api.md"


def schemas() -> dict[str, Any]:
    found: dict[str, Any] = document()["components"]["schemas"]
    return found


def decorators(view: ast.FunctionDef) -> str:
    return " ".join(f"@{ast.unparse(one)}" for one in view.decorator_list)


def test_document_is_valid_openapi() -> None:
    # The JSON Schema of OpenAPI 3.1 that schemathesis carries.
    schemathesis.openapi.from_dict(dict(document())).validate()

    assert document()["openapi"] == "3.1.0"


def test_document_is_served_as_it_is(app: Flask) -> None:
    assert program(app).get("/openapi.json") == document()


def test_document_holds_every_route_and_nothing_else(app: Flask) -> None:
    served = {
        (method.lower(), re.sub(r"<(?:[^:>]*:)?(\w+)>", r"{\1}", rule.rule))
        for rule in app.url_map.iter_rules()
        if rule.rule.startswith("/api/")
        for method in rule.methods - {"HEAD"}
    }

    told = {(method, path) for path, entry in document()["paths"].items() for method in entry}

    assert told == served
    assert len(told) == len(OPERATIONS) > 40


def test_everything_sent_refuses_fields_that_it_does_not_know() -> None:
    bodies = {each.body.__name__ for each in OPERATIONS if each.body is not None}
    nested = {name for name in schemas() if name.endswith(("Entry", "Given"))}

    open_ones = {
        name for name in bodies | nested if schemas()[name].get("additionalProperties") is not False
    }

    assert len(bodies) > 15
    assert open_ones == set()


def test_every_number_with_a_unit_says_it_in_its_name() -> None:
    numbers = {
        field
        for schema in schemas().values()
        for field, entry in schema.get("properties", {}).items()
        if entry.get("type") == "number"
    }
    units = ("_minor", "bits", "minutes", "decibans", "share")
    of_minutes = {f"minutes_{one}" for one in ("expected", "p50", "p80", "p95")}
    dimensionless = {"probability", "nothing_failed", "beyond", "sure", "listed"}

    unnamed = {one for one in numbers if not one.endswith(units)}

    assert len(numbers) > 15
    assert unnamed == of_minutes | dimensionless


def test_every_operation_says_what_it_does_and_whom_it_takes() -> None:
    for path, entry in document()["paths"].items():
        for operation in entry.values():
            assert re.fullmatch(r"[A-Z].+\.", operation["summary"]), path
            assert "Roles: " in operation["description"], path
            assert {"401", "403"} <= set(operation["responses"]), path


def test_every_problem_has_one_type_and_the_list_explains_it(app: Flask) -> None:
    types = [one["type"] for one in problem_types()]

    assert f"{API_ROOT}/problems#{type_of(StaleCallError)}" in types
    assert len(set(types)) == len(types)
    assert all(one["when"] for one in problem_types())
    assert program(app).get("/problems")["problems"] == problem_types()


def test_page_names_every_operation_and_no_other() -> None:
    rows = re.findall(r"^\| `([A-Z]+) (/[^`]*)` \|", PAGE.read_text("utf-8"), re.MULTILINE)

    told = {
        (method.upper(), path.removeprefix(API_ROOT))
        for path, entry in document()["paths"].items()
        for method in entry
    }

    assert set(rows) == told
    assert len(rows) == len(told)


def test_every_view_of_the_api_has_at_most_twelve_lines() -> None:
    trees = [ast.parse(path.read_text("utf-8")) for path in python_files("webform/api")]
    views = [
        node
        for tree in trees
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and "@operation" in decorators(node)
    ]
    long = {
        view.name: lines
        for view in views
        if (lines := (view.body[-1].end_lineno or 0) - view.body[1].lineno + 1) > 12
    }

    assert len([view for view in views if ast.get_docstring(view)]) == len(OPERATIONS)
    assert long == {}
