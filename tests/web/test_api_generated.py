"""Requests made up from the document of the API: none breaks the program, every answer fits."""

from datetime import timedelta
from typing import Any

import pytest
import schemathesis
from flask import Flask
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import Case, GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_schema_conformance,
    status_code_conformance,
)

from tests.web.conftest import NINE
from tests.web.program import WASHER, program, step, to_questions, token_of, with_van
from webform.api.operations import OPERATIONS

CHECKS: list[Any] = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    negative_data_rejection,
]
EXAMPLES = 3  # of each operation; the same in every run
THERE: dict[str, Any] = {
    "call_id": 1,
    "visit_id": 1,
    "customer_id": 1,
    "machine_id": 1,
    "network": WASHER,
}
FEW = settings(
    max_examples=EXAMPLES,
    phases=[Phase.generate],
    database=None,
    derandomize=True,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)


def a_call_with_a_visit(app: Flask) -> None:
    """Call 1 and customer 1 with machine 1; visit 1 of the call."""
    desk = program(app)
    desk.post("/customers", {"name": "Mill cottage"})
    desk.post("/customers/1/machines", {"network": WASHER})
    with_van(app)
    shown = step(desk, to_questions(desk), "end", outcome="visit")
    starts_at = (NINE + timedelta(hours=2)).isoformat()
    step(desk, shown, "visits", van=1, starts_at=starts_at, minutes=60)


@pytest.mark.parametrize("mode", GenerationMode)
def test_no_request_breaks_the_program_and_every_answer_is_as_the_document_says(
    app: Flask, mode: GenerationMode
) -> None:
    a_call_with_a_visit(app)
    own = {"Authorization": f"Bearer {token_of(app, name='Made up')}"}
    schema = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", app, headers=own)
    tried = 0
    for found in schema.get_all_operations():
        operation = found.ok()
        names = {one for one in THERE if f"{{{one}}}" in operation.path}
        strategy = operation.as_strategy(
            generation_mode=mode, path_parameters={name: THERE[name] for name in names}
        )

        @FEW
        @given(case=strategy)
        def holds(case: Case) -> None:
            case.call_and_validate(headers=own, checks=CHECKS)

        holds()
        tried += 1

    assert tried == len(OPERATIONS) - 1  # all but the document itself
