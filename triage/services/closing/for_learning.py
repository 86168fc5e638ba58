"""Closed jobs as learning sees them, one after the other from the store."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from triage.learning.values import (
    CallBack,
    ClosedJob,
    Complaint,
    Confirmation,
    ConfirmedCause,
    Outcome,
)
from triage.network.values import FaultNetwork
from triage.services.calls.calls import Database
from triage.services.closing.story import Story, evidence_of, story_of
from triage.services.closing.values import CallBackKind, ClosingOutcome, Degree
from triage.services.networks.in_use import network_of_call
from triage.services.networks.scope import OTHER_KINDS
from triage.store.calls import read_call
from triage.store.closings import (
    ClosingFilter,
    StoredClosing,
    called_back,
    network_version_at_call,
    walk_closings,
)

OUTCOMES: Mapping[ClosingOutcome, Outcome] = {
    ClosingOutcome.REPAIRED: Outcome.REPAIRED,
    ClosingOutcome.DECLINED: Outcome.DECLINED,
    ClosingOutcome.SOLVED_BY_PHONE: Outcome.SOLVED_BY_PHONE,
    ClosingOutcome.REFERRED_OUT: Outcome.REFERRED,
    ClosingOutcome.NO_FAULT_FOUND: Outcome.NO_FAULT_FOUND,
}
# A cause that was seen is right as often as a test: nobody checked whether it was all.
CONFIRMATIONS: Mapping[Degree, Confirmation] = {
    Degree.WORKS_AFTER_REPAIR: Confirmation.VERIFIED,
    Degree.SEEN: Confirmation.JUDGED,
    Degree.JUDGED: Confirmation.GUESSED,
}


def closed_jobs(database: Database, wanted: ClosingFilter | None = None) -> Iterator[ClosedJob]:
    """Closed jobs, oldest first; those about machines that the shop does not repair are left out.

    A job says what was found before the first repair, and whether the customer called back.
    """
    with database.reading() as session:
        for closing in walk_closings(session, wanted or ClosingFilter()):
            if closing.network_id in OTHER_KINDS:
                continue
            story = story_of(read_call(session, closing.call_id))
            back = called_back(session, [closing.call_id]).get(closing.call_id)
            version = network_version_at_call(session, closing.call_id)
            network = network_of_call(database, closing.network_id, version)
            yield closed_job(closing, story, back, network)


def closed_job(
    closing: StoredClosing, story: Story, back: StoredClosing | None, network: FaultNetwork
) -> ClosedJob:
    """Closed job of what is kept of it; ``back`` is the job that followed up on it.

    ``network`` is the version that the call was opened with.
    """
    data = closing.data
    evidence = evidence_of(story.before_first_repair, network)
    is_unsure = data.is_unsure and len(data.causes) > 1
    return ClosedJob(
        id=str(closing.call_id),
        network=closing.network_id,
        network_version=network.version,
        closed_at=closing.closed_at,
        outcome=OUTCOMES[ClosingOutcome(data.outcome)],
        findings=evidence.findings,
        causes=() if is_unsure else _causes(data.causes),
        suspected={one["cause"]: float(one["weight"]) for one in data.causes} if is_unsure else {},
        chose_diagnosis=tuple(
            dict.fromkeys(name for one in data.causes for name in one.get("chosen_by", ()))
        ),
        minutes=dict(story.minutes),
        call_back=None if back is None else _call_back(closing, back),
        person=closing.opened_by,
    )


def _causes(kept: Sequence[Mapping[str, Any]]) -> tuple[ConfirmedCause, ...]:
    return tuple(
        ConfirmedCause(mode=one["cause"], confirmation=CONFIRMATIONS[Degree(one["degree"])])
        for one in kept
    )


def _call_back(closing: StoredClosing, back: StoredClosing) -> CallBack:
    is_same = CallBackKind(back.data.callback_kind) is CallBackKind.SAME
    return CallBack(
        days=max(0, (back.opened_at - closing.closed_at).days),
        complaint=Complaint.SAME if is_same else Complaint.NEW,
    )
