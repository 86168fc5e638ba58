"""What was promised when the visit was booked.

The booking keeps its figures (``triage.services.booking.promise``). A booking from before they were
kept, and a job without one, have them worked out: the findings of the phone are in the log of the
call, the settings of that day are an older version in the store, and the plan follows from both.
"""

from triage.errors import ImpossibleEvidenceError
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.booking.promise import Promised, promise_of, promised_of
from triage.services.booking.visits import BOOKED, FIGURES
from triage.services.call_log.events import CallReopened
from triage.services.calls.calls import Database
from triage.services.closing.story import Story, evidence_of
from triage.services.networks.in_use import engine_of_call
from triage.services.plan.visit import plan_with_causes
from triage.services.shop.settings import check_text
from triage.store.shop import settings_at


def promised(database: Database, story: Story, plate: str) -> Promised | None:
    """What was promised, or None if the call never ended in something to promise.

    ``plate`` is what the plate of the machine says, if it was read out.
    """
    if story.ended_at is None:
        return None
    return kept_promise(story) or _worked_out(database, story, plate)


def kept_promise(story: Story) -> Promised | None:
    """Figures of the last booking before anybody came; None if no booking has any.

    What is booked after the first visit, to fit a part that was ordered, promises another visit.
    A call that was opened again was booked anew, or not at all.
    """
    came_at = min((*story.times, *(begins for begins, _ in story.stays)), default=None)
    kept: Promised | None = None
    for event in story.call.events:
        if event.kind == CallReopened.kind:
            kept = None
        elif event.kind == BOOKED and (came_at is None or event.at <= came_at):
            kept = promised_of(event.payload.get(FIGURES, {}))
    return kept


def _worked_out(database: Database, story: Story, plate: str) -> Promised | None:
    """What the plan of that day promised: the findings of the phone under its settings."""
    assert story.ended_at is not None, "a call that has not ended promises nothing"
    with database.reading() as session:
        stored = settings_at(session, story.ended_at)
    found = None if stored is None else check_text(stored.text).settings
    settings = found or DEFAULT_SETTINGS
    call = story.call
    engine = engine_of_call(database, call.network_id, call.network_version, settings)
    evidence = evidence_of(story.known_when_booked(), engine.network)
    try:
        plan, causes = plan_with_causes(engine, evidence, settings, plate)
    except ImpossibleEvidenceError:
        return None  # what the caller said excluded itself; no plan was shown either
    return promise_of(
        plan,
        causes,
        settings_version=0 if stored is None else stored.version,
        network_version=engine.network.version,
    )
