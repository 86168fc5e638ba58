"""A closing as it is proposed: filled in from what the job holds, so that one button is enough.

When the plan was right, nothing has to be changed. What is proposed as the cause follows from the
findings made before the first repair and from the repair after which the machine worked.
"""

from dataclasses import dataclass, replace
from datetime import datetime

from triage.errors import NotClosedError
from triage.inference.engine import Cause, Engine
from triage.network.values import FaultNetwork, Part, Repair
from triage.planning.shop.settings import ShopSettings
from triage.services.call_log.state import CallState
from triage.services.calls.calls import Database, may_rank
from triage.services.closing.causes import ranked_causes
from triage.services.closing.keeping import given_of
from triage.services.closing.proposal import EarlierJob, earlier_job, proposed
from triage.services.closing.story import evidence_of, story_of
from triage.services.closing.values import ClosingGiven
from triage.services.networks.in_use import engine_of_call
from triage.services.networks.scope import OTHER_KINDS
from triage.store.calls import StoredCall, read_call
from triage.store.closings import (
    StoredClosing,
    earlier_jobs,
    find_closing,
    links_of,
    visits_of,
)

CAUSES_SHOWN = 6
EARLIER_SHOWN = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosingDraft:
    """Everything the page that closes a job shows.

    ``given`` is what is filled in at first: the proposal, or what an earlier closing holds.
    ``causes`` are the most probable ones and those that are proposed, ``other_causes`` the rest of
    the network's with their titles. All lists are empty for a machine that the shop does not
    repair, and where the safety questions allow no ranking. ``standing`` is the closing of the job,
    None if there is none. ``later_visit`` begins after now; closing cancels it.
    """

    call_id: int
    version: int
    caller: str
    network: FaultNetwork
    appliance: str
    given: ClosingGiven
    causes: tuple[Cause, ...]
    other_causes: tuple[tuple[str, str], ...]
    repairs: tuple[Repair, ...]
    parts: tuple[Part, ...]
    earlier: tuple[EarlierJob, ...]
    standing: StoredClosing | None
    later_visit: datetime | None
    ordered: tuple[str, ...]


def closing_draft(
    database: Database, call_id: int, settings: ShopSettings, now: datetime
) -> ClosingDraft:
    """Closing of a job as it is proposed.

    Raises
    ------
    UnknownCallError
    """
    with database.reading() as session:
        call = read_call(session, call_id)
        standing = find_closing(session, call_id)
        visits = visits_of(session, call_id)
        _, machine = links_of(session, call_id)
        before = earlier_jobs(session, call_id, limit=EARLIER_SHOWN)
        stories = {one.call_id: story_of(read_call(session, one.call_id)) for one in before[:1]}
    story = story_of(call)
    engine = engine_of_call(database, call.network_id, call.network_version, settings)
    network = engine.network
    is_ours = _may_rank(database, call, standing)
    evidence = evidence_of(story.before_first_repair, network)
    ranked = ranked_causes(engine, evidence) if is_ours else ()
    earlier = tuple(earlier_job(one, machine, story, stories.get(one.call_id)) for one in before)
    given = proposed(story, engine, settings, ranked, visits, earlier, now)
    kept = None if standing is None else given_of(standing.data)
    shown = _shown(ranked, given if kept is None else kept)
    return ClosingDraft(
        call_id=call_id,
        version=call.version,
        caller=call.caller,
        network=network,
        appliance=call.network_id,
        given=given,
        causes=shown,
        other_causes=_others(engine, shown) if is_ours else (),
        repairs=tuple(network.repairs.values()) if is_ours else (),
        parts=tuple(network.parts.values()) if is_ours else (),
        earlier=earlier,
        standing=standing,
        later_visit=next(
            (one.starts_at for one in visits if one.state == "booked" and one.starts_at > now), None
        ),
        ordered=story.ordered,
    )


def _may_rank(database: Database, call: StoredCall, standing: StoredClosing | None) -> bool:
    """Whether causes may be named: not of machines of others, not before the safety questions."""
    if call.network_id in OTHER_KINDS:
        return False
    was_visited = standing is not None and standing.data.visits > 0
    return was_visited or may_rank(database, CallState.of(call))


def correction_draft(
    database: Database, call_id: int, settings: ShopSettings, now: datetime
) -> ClosingDraft:
    """The same for a job that is closed, filled in with how it was closed.

    Raises
    ------
    UnknownCallError, NotClosedError
    """
    draft = closing_draft(database, call_id, settings, now)
    if draft.standing is None:
        raise NotClosedError(call_id)
    given = given_of(draft.standing.data)
    return replace(draft, given=given)


def _shown(ranked: tuple[Cause, ...], given: ClosingGiven) -> tuple[Cause, ...]:
    """The first causes, and further ones that are proposed."""
    ticked = {cause.cause for cause in given.causes}
    return tuple(
        cause for place, cause in enumerate(ranked) if place < CAUSES_SHOWN or cause.mode in ticked
    )


def _others(engine: Engine, shown: tuple[Cause, ...]) -> tuple[tuple[str, str], ...]:
    names = {cause.mode for cause in shown}
    index = engine.compiled.index
    return tuple(
        (name, index.mode_title(name)) for name in engine.compiled.mode_ids if name not in names
    )
