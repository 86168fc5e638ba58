"""A closed job as people fill it in, and what was promised at its booking.

Money is in minor units of one currency, time in minutes.
"""

from dataclasses import dataclass
from enum import StrEnum

from triage.services.booking.promise import Promised as Promised
from triage.services.job.events import Verified


class ClosingOutcome(StrEnum):
    """How a job ended."""

    REPAIRED = "repaired"
    DECLINED = "declined"
    SOLVED_BY_PHONE = "solved_by_phone"
    REFERRED_OUT = "referred_out"
    NO_FAULT_FOUND = "no_fault_found"


class Degree(StrEnum):
    """How it is known that a cause was there, strongest first."""

    WORKS_AFTER_REPAIR = "works_after_repair"
    SEEN = "seen"
    JUDGED = "judged"


class CallBackKind(StrEnum):
    """What the customer complained of when calling back; empty where it is no call-back."""

    NONE = ""
    SAME = "same"
    NEW = "new"


@dataclass(frozen=True, slots=True)
class CauseClosed:
    """A cause that was found, and how it is known.

    ``weight`` is its chance where the technician is unsure which of several it was, else 1.
    ``chosen_by`` are the observations on site whose answers spoke for it.
    """

    cause: str
    degree: Degree
    weight: float = 1.0
    chosen_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartUsed:
    """Pieces of a part that were fitted; ``price_minor`` is what the customer pays for one."""

    part: str
    variant: str = ""
    pieces: int = 1
    price_minor: int
    was_aboard: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosingGiven:
    """What is filled in when a job is closed.

    ``callback_of`` is the earlier job that this one follows up, 0 if it is no call-back. A job that
    is not sure holds several causes of which one was wrong. ``visits`` is 0 if nobody came.
    """

    outcome: ClosingOutcome
    causes: tuple[CauseClosed, ...] = ()
    is_unsure: bool = False
    repairs: tuple[str, ...] = ()
    verification: Verified = Verified.NOT_RUN
    parts: tuple[PartUsed, ...] = ()
    minutes: float | None = None
    visits: int = 1
    fee_minor: int = 0
    labour_minor: int = 0
    callback_of: int = 0
    callback_kind: CallBackKind = CallBackKind.NONE
    note: str = ""
