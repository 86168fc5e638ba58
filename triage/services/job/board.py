"""The board of a call as its job stands: what was found and repaired on site counts as well.

The phone knows no repairs. When a customer calls again, or somebody at the desk looks on, the
causes are ranked from the job: findings and repairs in the order in which they were made, as the
job sheet ranks them.
"""

from dataclasses import dataclass

from triage.inference.evidence import Evidence
from triage.network.values import FaultNetwork
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.call_log.events import FindingMade
from triage.services.calls.board import CallBoard, call_board
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
    state = find_job(database, call_id)
    network = network_of_call(database, state.call.network_id, state.call.network_version)
    made = made_on_site(state, network)
    known: Evidence | None = state.evidence(network) if made else None
    board = call_board(database, call_id, ask=ask, settings=settings, evidence=known)
    return JobBoard(board, made)


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
