"""Models of closing a job and of closed jobs."""

from typing import Annotated

from pydantic import ConfigDict, Field

from triage.services.closing.export import COLUMNS
from triage.services.closing.keeping import MOST_MINOR, MOST_MINUTES, MOST_PIECES
from triage.services.closing.values import CallBackKind, ClosingOutcome, Degree
from triage.services.job.events import Verified
from webform.api.models.appliances import Appliance
from webform.api.models.base import Id, Moment, Number, Paged, Shown, Submitted, Told, text

NOTE_MAX, NUMBER_MAX = 2000, 100
READ_AND_SHOWN = ConfigDict(extra="forbid", strict=True, frozen=True, from_attributes=True)
Amount = Annotated[int, Field(ge=0, le=MOST_MINOR)]


class CauseClosing(Shown):
    """A cause that was found, and how that is known."""

    model_config = READ_AND_SHOWN

    cause: Id
    degree: Degree


class PartClosing(Shown):
    """Pieces of a part that were fitted; ``price_minor`` is what the customer pays for one."""

    model_config = READ_AND_SHOWN

    part: Id
    variant: Annotated[str, text(NUMBER_MAX)] = ""
    pieces: Annotated[int, Field(ge=1, le=MOST_PIECES)] = 1
    price_minor: Amount
    was_aboard: bool = True


class ClosingGiven(Submitted):
    """How a job ended: the draft, corrected. ``callback_of`` 0 is no call-back.

    A job that is unsure names several causes of which one was wrong.
    """

    outcome: ClosingOutcome
    causes: list[CauseClosing] = Field(default_factory=list, max_length=20)
    is_unsure: bool = False
    repairs: list[Id] = Field(default_factory=list, max_length=50)
    verification: Verified = Verified.NOT_RUN
    parts: list[PartClosing] = Field(default_factory=list, max_length=50)
    minutes: Annotated[float, Field(gt=0, le=MOST_MINUTES)] | None = None
    visits: Annotated[int, Field(ge=0, le=100)]
    fee_minor: Amount = 0
    labour_minor: Amount = 0
    callback_of: Number = 0
    callback_kind: CallBackKind = CallBackKind.NONE
    note: Annotated[str, text(NOTE_MAX)] = ""


class ClosingFields(Shown):
    """What is kept of a job, or proposed."""

    outcome: ClosingOutcome
    causes: list[CauseClosing]
    is_unsure: bool
    repairs: list[str]
    verification: Verified
    parts: list[PartClosing]
    minutes: float | None
    visits: int
    fee_minor: int
    labour_minor: int
    callback_of: int
    callback_kind: CallBackKind
    note: str


class ChanceShown(Shown):
    """A cause that may have been it."""

    cause: str = Field(validation_alias="mode")
    title: str
    probability: float


class ClosingDraftShown(Shown):
    """A closing as it is proposed: send ``draft`` back to close the job as it stands."""

    call: int
    version: int
    is_closed: bool
    draft: ClosingFields
    causes: list[ChanceShown]
    ordered: list[str]
    later_visit: Moment | None
    currency: str


class ClosedShown(Shown):
    """A closed job with its sums."""

    call: int
    version: int
    network: str
    closing: ClosingFields
    tax_minor: int
    total_minor: int
    currency: str
    closed_at: Moment
    closed_by: str


class ClosedAsked(Paged):
    """Which closed jobs: those closed from ``since`` on and before ``before``."""

    network: Appliance | None = None
    outcome: ClosingOutcome | None = None
    since: Moment | None = None
    before: Moment | None = None


class ClosedLine(Told):
    """A closed job; the keys are the columns of docs/closed-jobs.md."""

    model_config = ConfigDict(
        extra="allow",
        json_schema_extra={"description": "; ".join(f"{k}: {v}" for k, v in COLUMNS.items())},
    )

    job: int
    appliance: str
    outcome: str


class ClosedJobs(Shown):
    """A page of closed jobs, newest first; nothing in it tells who the customer is."""

    closed_jobs: list[ClosedLine]
    count: int
    page: int
    pages: int
