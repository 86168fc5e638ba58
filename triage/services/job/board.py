"""A call as its job stands: what was found and repaired on site counts as well.

The phone knows no repairs. When a customer calls again, a second visit is booked, or somebody at
the desk looks on, causes and plan follow from the job: findings and repairs in the order in which
they were made, as on the job sheet.
"""

from dataclasses import dataclass
from datetime import datetime

from triage.inference.evidence import Evidence
from triage.network.values import FaultNetwork
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.booking.offer import BookingOffer, SlotSearch, booking_offer
from triage.services.booking.visits import BookingRules
from triage.services.call_log.events import FindingMade
from triage.services.call_log.state import CallState
from triage.services.calls.board import (
    CallBoard,
    CallBranches,
    CallPlan,
    board_of,
    branches_of,
    plan_of,
)
from triage.services.job.events import RepairDone
from triage.services.job.sheet import find_job
from triage.services.job.state import JobState, Made
from triage.services.networks.in_use import network_of_call
from triage.store.database import Database


@dataclass(frozen=True, slots=True)
class JobBoard:
    """Board of a call, and what was found and repaired on site; empty before anybody was there."""

    board: CallBoard
    on_site: tuple[Made, ...]

    @property
    def findings(self) -> tuple[FindingMade, ...]:
        """Findings made at the machine."""
        return tuple(one.event for one in self.on_site if isinstance(one.event, FindingMade))

    @property
    def repairs(self) -> tuple[RepairDone, ...]:
        """Repairs that were done."""
        return tuple(one.event for one in self.on_site if isinstance(one.event, RepairDone))


def job_board(
    database: Database,
    call_id: int,
    *,
    ask: str | None = None,
    settings: ShopSettings = DEFAULT_SETTINGS,
) -> JobBoard:
    """Causes, next question and answers of a call as its job stands.

    Parameters
    ----------
    database : Database
    call_id : int
    ask : str, optional
        Observation the dispatcher chose to ask instead of the proposed one.
    settings : ShopSettings
        Their costs decide whether further questions pay.

    Raises
    ------
    UnknownCallError, UnknownObservationError
    SafetyFirstError, OutOfScopeError
        Nothing may be ranked in this call.
    ImpossibleEvidenceError
        The findings exclude each other.
    """
    job = _read(database, call_id)
    board = board_of(database, job.call, ask=ask, settings=settings, evidence=job.evidence)
    return JobBoard(board, job.made)


def evidence_on_site(database: Database, call_id: int) -> Evidence | None:
    """Everything known of a machine that somebody was at; None before, when the phone knows all.

    Raises
    ------
    UnknownCallError
    """
    return _read(database, call_id).evidence


def job_plan(
    database: Database,
    call_id: int,
    *,
    plate: str = "",
    settings: ShopSettings = DEFAULT_SETTINGS,
) -> CallPlan:
    """Plan of the next visit of a call as its job stands; raises as ``job_board``."""
    job = _read(database, call_id)
    return plan_of(database, job.call, plate=plate, settings=settings, evidence=job.evidence)


def job_branches(
    database: Database, call_id: int, *, settings: ShopSettings = DEFAULT_SETTINGS
) -> CallBranches:
    """What every result of the next visit leads to as the job stands; raises as ``job_board``."""
    job = _read(database, call_id)
    return branches_of(database, job.call, settings=settings, evidence=job.evidence)


def job_offer(
    database: Database,
    call_id: int,
    wanted: SlotSearch,
    settings: ShopSettings,
    rules: BookingRules,
    *,
    now: datetime,
) -> BookingOffer:
    """Offer for the next visit of a call as its job stands; raises as ``booking_offer``."""
    known = evidence_on_site(database, call_id)
    return booking_offer(database, call_id, wanted, settings, rules, now=now, evidence=known)


@dataclass(frozen=True, slots=True)
class _JobRead:
    """A call, read once, with what was made on site; ``evidence`` is None before."""

    call: CallState
    made: tuple[Made, ...]
    evidence: Evidence | None


def _read(database: Database, call_id: int) -> _JobRead:
    state = find_job(database, call_id)
    network = network_of_call(database, state.call.network_id, state.call.network_version)
    made = made_on_site(state, network)
    return _JobRead(state.call, made, state.evidence(network) if made else None)


def made_on_site(state: JobState, network: FaultNetwork) -> tuple[Made, ...]:
    """Repairs, and findings that only somebody at the machine can make."""
    return tuple(one for one in state.made if _is_on_site(one, network))


def _is_on_site(one: Made, network: FaultNetwork) -> bool:
    if not isinstance(one.event, FindingMade):
        return True
    observation = network.observations.get(one.event.observation)
    return observation is not None and observation.channel.is_on_site


def ranked_by_job(database: Database, call_id: int, settings: ShopSettings) -> CallBoard:
    """Board of a call as its job stands."""
    return job_board(database, call_id, settings=settings).board
