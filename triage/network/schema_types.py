"""Types of the values in a network file, each with the check it can be given by itself.

Errors of type ``RULE`` carry the sentence to show, those of type ``CHOICE`` what was expected; the
rest are worded by ``triage.network.messages``. Alternatives are told apart by tags in angle
brackets, which messages leave out of the path.
"""

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Discriminator, Field, Tag
from pydantic_core import PydanticCustomError

from triage.network.file_format import LEAST, MINOR_UNITS, SUM_TOLERANCE

RULE = "rule"
CHOICE = "choice"

SNAKE_CASE = r"^[a-z][a-z0-9_]*$"
MODE_NAME = r"^[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*$"
SOURCE_KEY = r"^[A-Za-z][A-Za-z0-9_]*$"
NOT_BLANK = r"\S"
CURRENCY_CODE = r"^[A-Z]{3}$"

Kind = Literal[
    "share", "context", "multiplier", "pair", "strength", "reliability", "minutes", "repair",
    "cost", "safety",
]  # fmt: skip


def check_sum_is_one(row: Mapping[str, float]) -> None:
    """Refuse probabilities that do not sum to 1."""
    total = math.fsum(row.values())
    if abs(total - 1) > SUM_TOLERANCE:
        raise PydanticCustomError(
            RULE,
            "got values that sum to {total}; expected 1 within 1e-9",
            {"total": f"{total:.12g}"},
        )


def _row_sums_to_one(row: dict[str, float]) -> dict[str, float]:
    check_sum_is_one(row)
    return row


def once_each(items: list[str]) -> list[str]:
    """Refuse a list in which something stands twice."""
    for index, item in enumerate(items):
        if item in items[:index]:
            raise PydanticCustomError(RULE, 'got "{item}" twice; expected it once', {"item": item})
    return items


def _whole_minor_units(cost: float) -> float:
    if abs(cost * MINOR_UNITS - round(cost * MINOR_UNITS)) > SUM_TOLERANCE * MINOR_UNITS:
        raise PydanticCustomError(
            RULE, "got {cost}; expected at most two decimals", {"cost": repr(cost)}
        )
    return cost


def low_to_high(ends: list[float]) -> list[float]:
    """Refuse a range with its ends the wrong way round."""
    if len(ends) == 2 and not ends[0] <= ends[1]:
        raise PydanticCustomError(
            RULE, "got {low} before {high}; expected the lower end first",
            {"low": f"{ends[0]:g}", "high": f"{ends[1]:g}"},
        )  # fmt: skip
    return ends


def _shape(value: object) -> str:
    """Tag of the form in which an entry is written; tags are cut out of the paths in messages."""
    if isinstance(value, dict):
        inner = next(iter(value.values()), None)
        return "<table>" if isinstance(inner, dict) else "<mapping>"
    if isinstance(value, list):
        return "<list>"
    return "<name>" if isinstance(value, str) else "<number>"


def mapping_or_name(value: object) -> str:
    """Tag of an entry that is written out or named."""
    return "<name>" if isinstance(value, str) else "<mapping>"


def mapping_or_number(value: object) -> str:
    """Tag of an entry that is written out or a bare number."""
    return "<mapping>" if isinstance(value, dict) else "<number>"


def choice(expected: str, shape: Any = _shape) -> Discriminator:
    """Rule by which alternatives are told apart; ``expected`` names them all."""
    return Discriminator(
        shape,
        custom_error_type=CHOICE,
        custom_error_message=expected,
    )


Id = Annotated[str, Field(pattern=SNAKE_CASE)]
ModeId = Annotated[str, Field(pattern=MODE_NAME)]
SourceKey = Annotated[str, Field(pattern=SOURCE_KEY)]
Text = Annotated[str, Field(pattern=NOT_BLANK)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Probability = Annotated[float, Field(ge=0, le=1)]
Likelihood = Annotated[float, Field(ge=LEAST, le=1 - LEAST)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]

Ids = Annotated[list[Id], AfterValidator(once_each)]
ModeIds = Annotated[list[ModeId], AfterValidator(once_each)]
Texts = Annotated[list[Text], AfterValidator(once_each)]
Cost = Annotated[float, Field(ge=0, allow_inf_nan=False), AfterValidator(_whole_minor_units)]
Range = Annotated[list[Finite], Field(min_length=2, max_length=2), AfterValidator(low_to_high)]

Degree = Annotated[
    Annotated[Probability, Tag("<number>")] | Annotated[Id, Tag("<name>")],
    choice("a probability or the name of a level"),
]
Strength = Annotated[
    Annotated[Probability, Tag("<number>")]
    | Annotated[Id, Tag("<name>")]
    | Annotated[dict[Id, Degree], Field(min_length=1), Tag("<mapping>")],
    choice("a probability, the name of a level, or state: probability"),
]
Answers = Annotated[dict[Id, Text], Field(min_length=2)]
AnswerRow = Annotated[dict[Id, Likelihood], AfterValidator(_row_sums_to_one)]
AnswerTable = dict[Id, AnswerRow]
StateColumn = dict[Id, Likelihood]
