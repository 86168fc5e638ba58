"""What may stand in a network file: one pydantic model per kind of entry (networks/README.md).

These models hold what one entry can be checked for by itself: its keys, types, ranges and sums.
What needs other entries or files (names, sources, coverage) is checked by ``triage.network.build``
and ``triage.network.checks``. Only the loader imports this module, so that commands which read no
network start without pydantic.

``python -m triage.network.schema > networks/schema/network.schema.json`` rewrites the JSON Schema
that editors use.
"""

import json
from collections.abc import Sequence
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    Tag,
    TypeAdapter,
    ValidationInfo,
    model_validator,
)

from triage.network.schema_types import (
    CURRENCY_CODE,
    Answers,
    AnswerTable,
    Cost,
    Finite,
    Id,
    Ids,
    Kind,
    Likelihood,
    ModeId,
    NotNegative,
    Positive,
    Probability,
    Range,
    SourceKey,
    StateColumn,
    Strength,
    Text,
    Texts,
    check_sum_is_one,
    choice,
    low_to_high,
    mapping_or_name,
    mapping_or_number,
    once_each,
)
from triage.network.unknown_keys import Unknown, without_unknown_keys


class Strict(BaseModel):
    """Base of the models: no conversions, no unknown keys.

    With a list of ``Unknown`` as validation context, unknown keys are collected there and put
    right (or left out) instead, so that they do not hide what else is wrong with the entry.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    @model_validator(mode="before")
    @classmethod
    def _collect_unknown_keys(cls, data: Any, info: ValidationInfo) -> Any:
        if not isinstance(data, dict) or info.context is None:
            return data
        names = tuple(field.alias or name for name, field in cls.model_fields.items())
        found: list[Unknown] = info.context
        return without_unknown_keys(data, names, found)


class Sourced(Strict):
    """Entry that may state where its numbers come from, instead of its file's default."""

    source: SourceKey | None = None
    grade: Literal["measured", "published", "judged"] | None = None
    equivalent_sample_size: Positive | None = Field(default=None, description="in jobs")


class StatedNumber(Sourced):
    """A number with its own source."""

    value: Finite


class LevelEntry(Sourced):
    """A named strength."""

    value: Probability


class ProvenanceEntry(Sourced):
    """Default source and grade of one kind of number in this file."""

    source: SourceKey
    grade: Literal["measured", "published", "judged"]


class ShareEntry(Sourced):
    """A share with its own source."""

    value: Probability


class ContextValueEntry(Strict):
    """One value of a context."""

    title: Text
    probability: Probability


def _context_sums_to_one(values: dict[str, ContextValueEntry]) -> dict[str, ContextValueEntry]:
    check_sum_is_one({name: value.probability for name, value in values.items()})
    return values


class ContextEntry(Sourced):
    """A circumstance of the machine."""

    title: Text
    values: Annotated[
        dict[Id, ContextValueEntry], Field(min_length=2), AfterValidator(_context_sums_to_one)
    ]


class MultiplierEntry(Sourced):
    """Factors on a share, per value of a context; 0 means not fitted."""

    context: Id
    values: Annotated[dict[Id, NotNegative], Field(min_length=1)]


Multiplier = Annotated[
    Annotated[Id, Tag("<name>")] | Annotated[MultiplierEntry, Tag("<mapping>")],
    choice("the name of a multiplier set, or {context, values}", mapping_or_name),
]
Share = Annotated[
    Annotated[Probability, Tag("<number>")] | Annotated[ShareEntry, Tag("<mapping>")],
    choice("a share, or {value, source, grade}", mapping_or_number),
]


class ModeEntry(Sourced):
    """A failure mode."""

    title: Text
    multipliers: list[Multiplier] = []


class ComponentEntry(Strict):
    """A component and its failure modes."""

    title: Text
    kind: Literal["equipment", "installation", "use"]
    modes: Annotated[dict[Id, ModeEntry], Field(min_length=1)]


class PairEntry(Sourced):
    """Two modes that fail together more often than chance."""

    modes: Annotated[list[ModeId], Field(min_length=2, max_length=2), AfterValidator(once_each)]
    probability: Annotated[float, Field(gt=0, le=1)]


class MaskEntry(Strict):
    """While a sign is in one of these states, the masked sign shows something else."""

    sign: Id
    states: Annotated[list[Id], Field(min_length=1), AfterValidator(once_each)]
    shows: Id


class RowEntry(Strict):
    """One row of a decision list."""

    when: Annotated[list[ModeId], Field(min_length=1), AfterValidator(once_each)] | None = None
    then: Strength


class SignEntry(Sourced):
    """What the machine really does."""

    title: Text
    states: Annotated[list[Id], Field(min_length=2), AfterValidator(once_each)] = [
        "absent",
        "present",
    ]
    leak: Strength | None = None
    causes: dict[ModeId, Strength] = {}
    rows: Annotated[list[RowEntry], Field(min_length=1)] | None = None
    masked_by: list[MaskEntry] = []


class ReliabilityEntry(Sourced):
    """A table P(answer | state), or a column P(says it unasked | state)."""

    table: Annotated[
        Annotated[AnswerTable, Field(min_length=2), Tag("<table>")]
        | Annotated[StateColumn, Field(min_length=2), Tag("<mapping>")],
        choice("{state: {answer: probability}} or {state: probability}"),
    ]


class ReadingEntry(Strict):
    """A meter reading: the range to accept, the range of the meter, and its error."""

    unit: Text
    accept: Range
    span: Range
    sd: Positive
    inside: Annotated[dict[Id, Likelihood], Field(min_length=2)]


class ObservationEntry(Sourced):
    """One way to look at a sign or a context."""

    sign: Id | None = None
    context: Id | None = None
    channel: Literal["caller", "guided_check", "on_site_test", "meter"]
    title: Text
    wording: Text
    answers: Annotated[
        Annotated[Id, Tag("<name>")] | Annotated[Answers, Tag("<mapping>")],
        choice("the name of an answer set, or {answer: label}", mapping_or_name),
    ]
    likelihood: (
        Annotated[
            Annotated[Id, Tag("<name>")] | Annotated[AnswerTable, Tag("<mapping>")],
            choice("the name of a reliability, or {state: {answer: probability}}", mapping_or_name),
        ]
        | None
    ) = None
    volunteered: (
        Annotated[
            Annotated[Id, Tag("<name>")] | Annotated[StateColumn, Tag("<mapping>")],
            choice("the name of a reliability, or {state: probability}", mapping_or_name),
        ]
        | None
    ) = None
    phrases: Texts = []
    minutes: NotNegative
    preconditions: Ids = []
    cautions: Ids = []
    acceptance: str = ""
    reading: ReadingEntry | None = None


class PartEntry(Sourced):
    """A part and what the shop pays for it, in units of the currency."""

    title: Text
    cost: Annotated[
        list[Cost],
        Field(min_length=2, max_length=2),
        AfterValidator(low_to_high),
    ]
    on_van: Literal["usually", "sometimes", "ordered"]


class RepairEntry(Sourced):
    """What is done about failure modes."""

    title: Text
    cures: Annotated[list[ModeId], Field(min_length=1), AfterValidator(once_each)]
    by: Literal["technician", "caller", "licensed_trade"]
    success: Probability
    minutes: NotNegative
    parts: Ids = []
    cautions: Ids = []
    caller_steps: str = ""


class SafetyEntry(Sourced):
    """A danger asked about in every call."""

    title: Text
    wording: Text
    safety_class: Literal["leave_and_call", "make_safe_and_stop", "make_safe_then_book"] = Field(
        alias="class"
    )
    script: Text
    referral: Text
    phrases: Texts = []


class Sections(Strict):
    """Sections that a network file and a fragment have in common."""

    sources: dict[SourceKey, Text] = {}
    provenance: dict[Kind, ProvenanceEntry] = {}
    levels: dict[Id, LevelEntry] = {}
    multiplier_sets: dict[Id, MultiplierEntry] = {}
    answer_sets: dict[Id, Answers] = {}
    reliabilities: dict[Id, ReliabilityEntry] = {}
    contexts: dict[Id, ContextEntry] = {}
    components: dict[Id, ComponentEntry] = {}
    nothing_failed: dict[Id, ModeEntry] = {}
    shares: dict[ModeId, Share] = {}
    pairs: list[PairEntry] = []
    signs: dict[Id, SignEntry] = {}
    causes: dict[Id, dict[ModeId, Strength]] = {}
    observations: dict[Id, ObservationEntry] = {}
    repairs: dict[Id, RepairEntry] = {}
    parts: dict[Id, PartEntry] = {}
    safety: dict[Id, SafetyEntry] = {}
    preconditions: dict[Id, Text] = {}
    cautions: dict[Id, Text] = {}


class FragmentFile(Sections):
    """Part of a network, included by name."""

    format: Literal[1]
    fragment: Id
    include: Ids = []


class NetworkFile(Sections):
    """A network of one appliance kind."""

    format: Literal[1]
    network: Id
    title: Text
    description: str = ""
    version: Annotated[int, Field(ge=1)]
    currency: Annotated[str, Field(pattern=CURRENCY_CODE, description="ISO 4217 code")]
    include: Ids = []
    expected_failed_modes: StatedNumber
    conflict_threshold_bits: StatedNumber
    verification: Id | None = None


SECTION_NAMES: Sequence[str] = tuple(Sections.model_fields)


def network_schema() -> dict[str, Any]:
    """JSON Schema of a network file or a fragment, for editors."""
    schema = TypeAdapter(NetworkFile | FragmentFile).json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Network file or fragment",
        **schema,
    }


def schema_text() -> str:
    """Text of ``networks/schema/network.schema.json``."""
    return json.dumps(network_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    print(schema_text(), end="")
