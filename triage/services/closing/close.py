"""Close a job, correct a closed one, and close a call to which nobody came.

A job is closed once. Closing ends the call, marks its visits done and keeps what was promised, so
that it can be compared with what happened. The event ``job_closed`` goes into the log of the call.
"""

from collections.abc import Mapping
from dataclasses import replace

from triage.errors import AlreadyClosedError, NotClosableError, StaleCallError
from triage.planning.shop.settings import ShopSettings
from triage.services.booking.promise import promised_as_json
from triage.services.call_log.change import Entry
from triage.services.call_log.events import CallOutcome, OutcomeRecorded
from triage.services.call_log.events import as_draft as phone_draft
from triage.services.call_log.state import CallState
from triage.services.calls.calls import (
    Database,
    Submission,
    answer_safety_questions,
    end_call,
    find_call,
)
from triage.services.closing.draft import closing_draft
from triage.services.closing.keeping import data_of, difference
from triage.services.closing.promise import promised
from triage.services.closing.proposal import OF_CALL
from triage.services.closing.story import story_of
from triage.services.closing.values import ClosingGiven, Promised
from triage.services.networks.in_use import engine_of_call
from triage.services.networks.scope import OTHER_KINDS
from triage.services.people.audit import Action, Stamp, act
from triage.services.settings.shop_front import ShopFront
from triage.store.audit import add_act
from triage.store.calls import Draft, StoredCall, add_events, call_to_change, check_shown, read_call
from triage.store.closings import (
    StoredClosing,
    correct_closing,
    ended_without_closing,
    find_closing,
    finish_visits,
    plate_of,
    put_closing,
    read_closing,
)

LEFT_MAX = 500  # calls closed at once
CLOSED = "job_closed"
CORRECTED = "job_closing_corrected"


def close_job(
    database: Database,
    call_id: int,
    given: ClosingGiven,
    entry: Entry,
    *,
    settings: ShopSettings,
    front: ShopFront,
) -> None:
    """Close a job; sent twice it is closed once.

    Raises
    ------
    UnknownCallError, StaleCallError
    AlreadyClosedError
        Somebody else closed the job meanwhile.
    NotClosableError
        What the outcome needs is missing, or it contradicts itself.
    UnknownModeError, UnknownRepairError, UnknownPartError
        The machine has no such cause, repair or part.
    """
    with database.reading() as session:
        call = read_call(session, call_id)
        plate = plate_of(session, call_id)
    promise = _promise(database, call, plate) if given.visits else None
    engine = engine_of_call(database, call.network_id, call.network_version, settings)
    kept = data_of(call, given, engine, settings, front, promised_as_json(promise))
    with database.writing() as session:
        call = call_to_change(session, call_id)
        standing = find_closing(session, call_id)
        if standing is not None and standing.client_id == entry.submission.client_id:
            return
        if standing is not None and not _may_replace(standing):
            raise AlreadyClosedError(call_id, standing.closed_by)
        check_shown(call, entry.submission)
        put_closing(
            session,
            call_id,
            kept,
            client_id=entry.submission.client_id,
            at=entry.at,
            by=entry.by,
        )
        finish_visits(session, call_id, entry.at)
        is_open = CallState.of(call).is_open
        ended = OutcomeRecorded(CallOutcome.VISIT, "")
        drafts = [phone_draft(ended)] if is_open else []
        drafts.append(Draft(CLOSED, {"outcome": given.outcome.value}))
        add_events(
            session,
            call_id,
            drafts,
            entry.submission,
            at=entry.at,
            by=entry.by,
            is_open=False,
            network_version=kept.network_version,
        )


def correct_job(
    database: Database,
    call_id: int,
    given: ClosingGiven,
    reason: str,
    entry: Entry,
    *,
    settings: ShopSettings,
    front: ShopFront,
) -> None:
    """Replace what is kept of a closed job; the audit trail tells what it was before, and why.

    Raises
    ------
    NotClosedError, StaleCallError, NotClosableError
    UnknownModeError, UnknownRepairError, UnknownPartError
    """
    with database.reading() as session:
        call = read_call(session, call_id)
        before = read_closing(session, call_id).data
    engine = engine_of_call(database, call.network_id, call.network_version, settings)
    kept = data_of(call, given, engine, settings, front, before.promised)
    with database.writing() as session:
        call = call_to_change(session, call_id)
        if any(event.client_id == entry.submission.client_id for event in call.events):
            return
        check_shown(call, entry.submission)
        correct_closing(session, call_id, kept)
        stamp = Stamp(entry.at, entry.by)
        changed = difference(before, kept)
        add_act(
            session,
            act(Action.CLOSING_CORRECTED, stamp, f"job {call_id}", reason=reason, was=changed),
        )
        add_events(
            session,
            call_id,
            [Draft(CORRECTED, {})],
            entry.submission,
            at=entry.at,
            by=entry.by,
            is_open=CallState.of(call).is_open,
        )


def end_and_close(
    database: Database,
    call_id: int,
    outcome: CallOutcome,
    note: str,
    entry: Entry,
    *,
    settings: ShopSettings,
    front: ShopFront,
) -> None:
    """Record how the phone call ended; where nobody is to come, that closes the job, too.

    Raises
    ------
    UnknownCallError, StaleCallError, SafetyFirstError, OutOfScopeError
    """
    end_call(database, call_id, outcome, note, entry)
    if outcome in OF_CALL:
        close_without_visit(database, call_id, entry, settings=settings, front=front)


def answer_safety_and_close(
    database: Database,
    call_id: int,
    answers: Mapping[str, bool],
    entry: Entry,
    *,
    settings: ShopSettings,
    front: ShopFront,
) -> None:
    """Record the safety answers; a danger that stops the call closes the job, too.

    The answers are recorded first and by themselves: nothing may come between a danger and its log.

    Raises
    ------
    UnknownCallError, StaleCallError
    """
    answer_safety_questions(database, call_id, answers, entry)
    outcome = find_call(database, call_id).outcome
    if outcome is not None and outcome.outcome is CallOutcome.STOPPED_FOR_SAFETY:
        close_without_visit(database, call_id, entry, settings=settings, front=front)


def close_without_visit(
    database: Database, call_id: int, entry: Entry, *, settings: ShopSettings, front: ShopFront
) -> None:
    """Close a call to which nobody came, with the outcome that was recorded at the phone.

    Raises
    ------
    UnknownCallError
    NotClosableError
        The call is open, or ended with a visit.
    """
    state = find_call(database, call_id)
    if state.outcome is None or state.outcome.outcome not in OF_CALL:
        raise NotClosableError(call_id, "it is to be visited, or the call has not ended")
    given = closing_draft(database, call_id, settings, entry.at).given
    try:
        close_job(
            database,
            call_id,
            given,
            _at_version(entry, state.version),
            settings=settings,
            front=front,
        )
    except StaleCallError:
        return  # the call has gone on; it is closed when it ends again


def left_to_close(database: Database) -> tuple[int, ...]:
    """Calls that ended on the phone, to which nobody is to come, and that are not closed."""
    with database.reading() as session:
        numbers = ended_without_closing(session, limit=LEFT_MAX)
        stories = [story_of(read_call(session, number)) for number in numbers]
    return tuple(story.call.id for story in stories if story.outcome in OF_CALL)


def close_what_is_left(
    database: Database, entry: Entry, *, settings: ShopSettings, front: ShopFront
) -> int:
    """Close every call that ended on the phone, each with its outcome; how many that were."""
    numbers = left_to_close(database)
    for number in numbers:
        of_call = replace(entry, submission=Submission(f"{entry.submission.client_id}-{number}", 0))
        close_without_visit(database, number, of_call, settings=settings, front=front)
    return len(numbers)


def _at_version(entry: Entry, version: int) -> Entry:
    return replace(entry, submission=Submission(f"{entry.submission.client_id}-close", version))


def _promise(database: Database, call: StoredCall, plate: str) -> Promised | None:
    if call.network_id in OTHER_KINDS:
        return None
    return promised(database, story_of(call), plate)


def _may_replace(standing: StoredClosing) -> bool:
    """Whether a closing was made by the phone call alone; a visit after it counts instead."""
    return standing.data.visits == 0
