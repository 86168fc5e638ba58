"""Models of what is entered on a visit: one for each kind of entry."""

from typing import Annotated, Any, Literal

from pydantic import Field

from triage.services.job.events import Verified
from triage.services.job.record import Reception
from webform.api.models.base import (
    ClientId,
    Day,
    Id,
    Moment,
    Sent,
    Shown,
    Submitted,
    Version,
    text,
)
from webform.api.models.plans import BranchesTold, NextStepTold, RankingTold

TEXT_MAX, NAME_MAX, PIECES_MAX = 1000, 100, 99
AMOUNT_MAX_MINOR = 10_000_000
ENTRIES_MAX = 300


class FindingEntry(Sent):
    """A test or a reading with its result; a number is a meter reading in the network's unit.

    The units of the shop are for pages: here it is the ``unit`` of the observation, always.
    """

    kind: Literal["finding"]
    observation: Id
    answer: Id | float


class FindingUndoneEntry(Sent):
    """A result is taken back."""

    kind: Literal["finding_undone"]
    observation: Id


class ArrivedEntry(Sent):
    """The technician is at the machine."""

    kind: Literal["job_arrived"]


class LeftEntry(Sent):
    """The technician leaves; the visit is over."""

    kind: Literal["job_left"]


class PiecesGiven(Sent):
    """Pieces of a part; ``variant`` is the shop's own number of it."""

    part: Id
    variant: Annotated[str, text(NAME_MAX)] = ""
    pieces: Annotated[int, Field(ge=1, le=PIECES_MAX)] = 1


class RepairEntry(Sent):
    """A repair was done, with these pieces, and this is what the check run showed."""

    kind: Literal["job_repair"]
    repair: Id
    pieces: list[PiecesGiven] = Field(default_factory=list, max_length=50)
    verified: Verified = Verified.NOT_RUN


class RepairUndoneEntry(Sent):
    """A repair was entered by mistake; its pieces go back on the van."""

    kind: Literal["job_repair_undone"]
    repair: Id


class OverruledEntry(Sent):
    """Another step is taken than the one proposed, and why; ``proposed`` may be empty."""

    kind: Literal["job_overruled"]
    proposed: Annotated[str, text(200)] = ""
    taken: Id
    reason: Annotated[str, text(TEXT_MAX, is_needed=True)]


class OwnFindingEntry(Sent):
    """Something seen that no observation asks about."""

    kind: Literal["job_own_finding"]
    text: Annotated[str, text(TEXT_MAX, is_needed=True)]
    component: Annotated[str, text(200)] = ""


class SecondFaultEntry(Sent):
    """Something else is wrong as well."""

    kind: Literal["job_second_fault"]
    text: Annotated[str, text(TEXT_MAX, is_needed=True)]


class QuoteEntry(Sent):
    """The customer was told what the repair would cost."""

    kind: Literal["job_quote"]
    amount_minor: Annotated[int, Field(ge=0, le=AMOUNT_MAX_MINOR)]
    what_for: Annotated[str, text(TEXT_MAX, is_needed=True)]


class QuoteAuthorisedEntry(Sent):
    """The customer said yes: who, and how."""

    kind: Literal["job_quote_authorised"]
    by_whom: Annotated[str, text(NAME_MAX, is_needed=True)]
    how: Annotated[str, text(NAME_MAX, is_needed=True)]


class QuoteDeclinedEntry(Sent):
    """The customer said no."""

    kind: Literal["job_quote_declined"]
    reason: Annotated[str, text(TEXT_MAX, is_needed=True)]


class PartOrderedEntry(Sent):
    """A part was ordered and the job waits for it."""

    kind: Literal["job_part_ordered"]
    part: Id
    expected_on: Day
    pieces: Annotated[int, Field(ge=1, le=PIECES_MAX)] = 1


class PartArrivedEntry(Sent):
    """A part that was ordered is there."""

    kind: Literal["job_part_arrived"]
    part: Id


class NoteEntry(Sent):
    """A note about the visit."""

    kind: Literal["job_note"]
    text: Annotated[str, text(TEXT_MAX, is_needed=True)]


JobEntry = Annotated[
    FindingEntry
    | FindingUndoneEntry
    | ArrivedEntry
    | LeftEntry
    | RepairEntry
    | RepairUndoneEntry
    | OverruledEntry
    | OwnFindingEntry
    | SecondFaultEntry
    | QuoteEntry
    | QuoteAuthorisedEntry
    | QuoteDeclinedEntry
    | PartOrderedEntry
    | PartArrivedEntry
    | NoteEntry,
    Field(discriminator="kind"),
]


class EntryGiven(Submitted):
    """An entry made on the job as it is now."""

    entry: JobEntry


class KeptEntryGiven(Sent):
    """An entry that was kept while there was no signal, with the version it was made on."""

    client_id: ClientId
    shown_version: Version
    made_at: Moment
    entry: JobEntry


class KeptEntriesGiven(Sent):
    """Entries that were kept, in the order in which they were made; each is recorded once."""

    entries: Annotated[list[KeptEntryGiven], Field(min_length=1, max_length=ENTRIES_MAX)]


class ReceivedShown(Shown):
    """What became of an entry; ``message`` says why it was refused."""

    client_id: str
    reception: Reception
    message: str


class Received(Shown):
    """What became of each entry, and the version of the job afterwards."""

    version: int
    entries: list[ReceivedShown]


class MadeShown(Shown):
    """A finding or a repair that counts."""

    observation: str | None
    answer: str | float | None
    repair: str | None
    verified: Verified | None
    at: Moment
    by: str


class QuoteShown(Shown):
    """A quote; ``state`` is ``open`` until the customer decides."""

    amount_minor: int
    what_for: str
    state: Literal["open", "authorised", "declined"]


class OrderShown(Shown):
    """A part that was ordered; ``arrived_at`` is null while the job waits for it."""

    part: str
    pieces: int
    expected_on: Day
    arrived_at: Moment | None


class NextStepOfJob(Shown):
    """Next step of a job; null where findings exclude each other."""

    call: int
    version: int
    next_step: NextStepTold | None


class JobShown(Shown):
    """The job sheet; ``ranking`` and ``next_step`` are null where findings exclude each other."""

    call: int
    version: int
    network: str
    network_version: int
    is_closed: bool
    visit: int | None
    plate: str
    made: list[MadeShown]
    quote: QuoteShown | None
    orders: list[OrderShown]
    left_plan_by: str
    plan: BranchesTold
    next_step: NextStepTold | None
    ranking: RankingTold | None
    load: dict[str, Any]
    currency: str
