"""A closed job as it stands in a file: one value between file, store and learning.

Ids are those of the version of the network that the job names. ``cells_of`` and
``triage.services.learning.reading.read_record`` are each other's inverse.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime

from triage.services.closing.columns import join_items
from triage.services.closing.values import (
    CallBackKind,
    CauseClosed,
    ClosingOutcome,
    PartUsed,
    Promised,
)
from triage.services.job.events import Verified
from triage.services.learning.cells import number_text

APP = "app"  # source of a job that was closed in this program
WITH, PIECES, PRICE, NUMBER = "+", "*", "@", "/"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """A closed job; see ``triage.services.closing.columns`` for what each field holds.

    ``findings`` stand in their order, those of the phone first. ``promised`` is None where nothing
    is known of it.
    """

    job: str
    source: str
    appliance: str
    network_version: int
    opened_at: datetime
    closed_at: datetime
    taken_by: str = ""
    closed_by: str = ""
    outcome: ClosingOutcome
    findings: tuple[tuple[str, str | float], ...] = ()
    causes: tuple[CauseClosed, ...] = ()
    is_unsure: bool = False
    repairs: tuple[str, ...] = ()
    verification: Verified = Verified.NOT_RUN
    parts: tuple[PartUsed, ...] = ()
    minutes: float | None = None
    step_minutes: Mapping[str, float] = field(default_factory=dict)
    visits: int = 1
    callback_of: str = ""
    callback_kind: CallBackKind = CallBackKind.NONE
    fee_minor: int = 0
    labour_minor: int = 0
    tax_minor: int = 0
    total_minor: int = 0
    currency: str = ""
    promised: Promised | None = None

    @property
    def identity(self) -> str:
        """Digest of source and number, the same for the same job of the same books."""
        return _digest([self.source, self.job])

    @property
    def content(self) -> str:
        """Digest of all but the source: the same job is known again in a file of another name."""
        held = asdict(self)
        del held["source"]
        return _digest(held)


def cells_of(record: JobRecord) -> dict[str, str]:
    """Cells of a job by column."""
    parts = [(part, _part_name(part)) for part in record.parts]
    return {
        "job": record.job,
        "source": record.source,
        "appliance": record.appliance,
        "network_version": str(record.network_version),
        "opened_at": record.opened_at.isoformat(),
        "closed_at": record.closed_at.isoformat(),
        "taken_by": record.taken_by,
        "closed_by": record.closed_by,
        "outcome": record.outcome.value,
        "findings": join_items((name, _answer(answer)) for name, answer in record.findings),
        "causes": join_items((cause.cause, _degree(cause)) for cause in record.causes),
        "is_unsure": "yes" if record.is_unsure else "no",
        "chosen_by": join_items(
            (cause.cause, WITH.join(cause.chosen_by)) for cause in record.causes if cause.chosen_by
        ),
        "repairs": join_items((name, "") for name in record.repairs),
        "verification": record.verification.value,
        "parts": join_items(
            (f"{name}{PIECES}{part.pieces}{PRICE}{part.price_minor}", "") for part, name in parts
        ),
        "parts_not_aboard": join_items((name, "") for part, name in parts if not part.was_aboard),
        "minutes": number_text(record.minutes),
        "step_minutes": join_items(
            (name, number_text(value)) for name, value in record.step_minutes.items()
        ),
        "visits": str(record.visits),
        "callback_of": record.callback_of,
        "callback_kind": record.callback_kind.value,
        "fee_minor": str(record.fee_minor),
        "labour_minor": str(record.labour_minor),
        "tax_minor": str(record.tax_minor),
        "total_minor": str(record.total_minor),
        "currency": record.currency,
        **_promised_cells(record.promised),
    }


def _promised_cells(promised: Promised | None) -> dict[str, str]:
    if promised is None:
        return dict.fromkeys(
            [
                "promised_minutes_p50",
                "promised_minutes_p80",
                "promised_price_low_minor",
                "promised_price_high_minor",
                "promised_first_visit",
                "promised_parts",
                "promised_causes",
            ],
            "",
        )
    return {
        "promised_minutes_p50": number_text(promised.minutes_p50),
        "promised_minutes_p80": number_text(promised.minutes_p80),
        "promised_price_low_minor": str(promised.price_low_minor),
        "promised_price_high_minor": str(promised.price_high_minor),
        "promised_first_visit": number_text(promised.first_visit_share),
        "promised_parts": join_items((name, "") for name in promised.parts),
        "promised_causes": join_items(
            (name, number_text(chance)) for name, chance in promised.causes.items()
        ),
    }


def _answer(answer: str | float) -> str:
    return answer if isinstance(answer, str) else number_text(answer)


def _degree(cause: CauseClosed) -> str:
    weight = "" if cause.weight == 1.0 else f"{PRICE}{number_text(cause.weight)}"
    return f"{cause.degree.value}{weight}"


def _part_name(part: PartUsed) -> str:
    return f"{part.part}{NUMBER}{part.variant}" if part.variant else part.part


def _digest(held: object) -> str:
    plain = json.dumps(held, sort_keys=True, default=str)
    return hashlib.sha256(plain.encode()).hexdigest()[:56]
