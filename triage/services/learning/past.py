"""A ranking as it was at a moment of a call or job, by the version and settings of that time."""

from dataclasses import dataclass, replace
from datetime import datetime

from triage.errors import UnknownCallError
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.calls.calls import Database
from triage.services.job.state import JobState
from triage.services.networks.in_use import engine_of_version
from triage.services.plan.ranking import Ranking, rank
from triage.services.shop.settings import check_text
from triage.store.calls import read_call
from triage.store.shop import settings_at

CAUSES_SHOWN = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRanking:
    """What the page showed after an event: the ranking, the time, version and settings."""

    ranking: Ranking
    at: datetime
    network_version: int
    settings_version: int


def ranking_as_it_was(database: Database, call_id: int, sequence: int) -> PastRanking:
    """Ranking of a call after an event.

    Parameters
    ----------
    database : Database
    call_id : int
    sequence : int
        Number of the event in its call, from 1.

    Raises
    ------
    UnknownCallError
        There is no such call, or it has no such event.
    UnknownVersionError
        The version of that time is not kept.
    """
    with database.reading() as session:
        call = read_call(session, call_id)
        events = [event for event in call.events if event.sequence <= sequence]
        if not 1 <= sequence <= len(call.events):
            raise UnknownCallError(f"{call_id}, event {sequence}")
        at = events[-1].at
        stored = settings_at(session, at)
    version = next(
        (one.network_version for one in reversed(events) if one.network_version is not None),
        call.network_version,
    )
    found = None if stored is None else check_text(stored.text).settings
    settings = found or DEFAULT_SETTINGS
    engine = engine_of_version(database, call.network_id, version, settings)
    state = JobState.of(replace(call, events=tuple(events)))
    ranking = rank(
        engine,
        state.evidence(engine.network),
        causes_limit=CAUSES_SHOWN,
        at_the_phone=True,
        settings=settings,
    )
    return PastRanking(
        ranking=ranking,
        at=at,
        network_version=version,
        settings_version=0 if stored is None else stored.version,
    )
