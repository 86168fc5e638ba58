"""Add events to a call, so that a double submit is harmless and nothing is overwritten.

``change_call`` reads the call and adds to it in one transaction. What is added is decided by a
function of its state, so that every rule is checked against the call as it is stored.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from triage.errors import SafetyFirstError, StaleCallError
from triage.network.values import FaultNetwork
from triage.planning.safety import SafetyVerdict
from triage.services.call_log.events import CallEvent, CustomerLinked, as_draft
from triage.services.call_log.state import CallState
from triage.services.networks.in_use import network_of_call
from triage.store.calls import Submission, add_events, call_to_change, check_shown
from triage.store.customers import link_call
from triage.store.database import Database

REASONS = {
    SafetyVerdict.ASK: "the safety questions come first",
    SafetyVerdict.CONFIRM: "someone has to confirm first that the machine was made safe",
    SafetyVerdict.STOP: "a danger ended this call",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What a page sends along: its submission, the time, and who is at work."""

    submission: Submission
    at: datetime
    by: str


def change_call(
    database: Database,
    call_id: int,
    entry: Entry,
    decide: Callable[[CallState, FaultNetwork], Sequence[CallEvent]],
    *,
    only_open: bool = True,
) -> None:
    """Add the events that ``decide`` returns, unless the page sent them before.

    Raises
    ------
    UnknownCallError
    StaleCallError
        The call has gone on since the page was shown, or has ended.
    SafetyFirstError
        A danger ended the call.
    """
    shown = entry.submission.shown_version
    with database.writing() as session:
        call = call_to_change(session, call_id)
        network = network_of_call(database, call.network_id, call.network_version)
        sent_before = [one for one in call.events if one.client_id == entry.submission.client_id]
        if sent_before:
            before = call.events[: sent_before[0].sequence - 1]
            again = decide(CallState.of(replace(call, events=before)), network)
            if [as_draft(event) for event in again] == [one.as_draft() for one in sent_before]:
                return
            raise StaleCallError(str(call_id), shown, call.version)
        check_shown(call, entry.submission)
        state = CallState.of(call)
        _check_open(state, shown, only_open)
        events = decide(state, network)
        for event in events:
            state = state.after(event, entry.at, entry.by)
        for event in events:
            if isinstance(event, CustomerLinked):  # columns that hold what the event says
                link_call(session, call_id, event.customer_id, event.machine_id)
        drafts = [as_draft(event) for event in events]
        add_events(
            session,
            call_id,
            drafts,
            entry.submission,
            at=entry.at,
            by=entry.by,
            is_open=state.is_open,
            network_version=network.version,
        )


def _check_open(state: CallState, shown: int, only_open: bool) -> None:
    if state.was_stopped:
        raise SafetyFirstError(str(state.call_id), REASONS[SafetyVerdict.STOP])
    if only_open and not state.is_open:
        raise StaleCallError(str(state.call_id), shown, state.version)


def network_of_state(database: Database, state: CallState) -> FaultNetwork:
    """Network of the version that a call was opened with."""
    return network_of_call(database, state.network_id, state.network_version)
