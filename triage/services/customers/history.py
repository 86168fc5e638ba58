"""What happened to a customer's machines before, and whether this call may be a call-back.

An earlier repair is shown and not counted: no network holds how likely a repaired part fails
again, so no cause is moved by it (docs/decisions/0011-earlier-repairs-are-shown-not-counted.md).
Whether the complaint is the same or a new one is recorded, and learning weighs it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from triage.services.call_log.state import CallState
from triage.services.networks.labels import titles_of_versions
from triage.services.networks.scope import appliance_title
from triage.store.calls import read_call
from triage.store.customers import StoredJob, jobs_of_customer
from triage.store.database import Database

SAME, NEW = "same", "new"
DAYS_PER_MONTH, DAYS_PER_YEAR = 30.44, 365.25
OUTCOMES = {
    "repaired": "repaired",
    "declined": "repair declined",
    "solved_by_phone": "solved on the phone",
    "referred_out": "referred to others",
    "no_fault_found": "no fault found",
}
NOT_CLOSED = "not closed"


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierJob:
    """An earlier call of the customer; ``repairs`` and ``causes`` are titles.

    ``is_same_machine`` holds if it was about the machine of this call; ``is_recent_repair`` if it
    was also repaired within the days in which the shop counts a call-back.
    """

    call_id: int
    opened_at: datetime
    appliance: str
    ago: str
    words: str
    outcome: str
    repairs: tuple[str, ...]
    causes: tuple[str, ...]
    is_same_machine: bool
    is_recent_repair: bool


@dataclass(frozen=True, slots=True)
class History:
    """Earlier jobs of a call's customer, newest first, and the one this may be a call-back of."""

    state: CallState
    jobs: tuple[EarlierJob, ...]
    callback_of: EarlierJob | None


def history_of(database: Database, call_id: int, now: datetime, callback_days: int) -> History:
    """Earlier jobs of the customer of a call.

    Raises
    ------
    UnknownCallError
    """
    with database.reading() as session:
        state = CallState.of(read_call(session, call_id))
    if not state.customer_id:
        return History(state, (), None)
    found = jobs_of(database, state.customer_id, now, callback_days, machine_id=state.machine_id)
    now_at = (state.opened_at, call_id)  # a job from a file has a later number than its time
    jobs = tuple(job for job in found if (job.opened_at, job.call_id) < now_at)
    return History(state, jobs, next((job for job in jobs if job.is_recent_repair), None))


def jobs_of(
    database: Database, customer_id: int, now: datetime, callback_days: int, *, machine_id: int = 0
) -> tuple[EarlierJob, ...]:
    """Jobs of a customer, newest first; ``machine_id`` is the machine that is asked about."""
    with database.reading() as session:
        found = jobs_of_customer(session, customer_id)
        words = {job.call_id: CallState.of(read_call(session, job.call_id)).words for job in found}
    versions = [(job.network_id, job.network_version) for job in found]
    titles = titles_of_versions(database, versions)
    return tuple(
        _shown(job, words[job.call_id], titles[version], machine_id, now, callback_days)
        for job, version in zip(found, versions, strict=True)
    )


def ago(since: timedelta) -> str:
    """How long ago, in words.

    >>> [ago(timedelta(days=days)) for days in (0, 1, 13, 31, 92, 800)]
    ['today', 'yesterday', '13 days ago', '1 month ago', '3 months ago', '2 years ago']
    """
    days = since.days
    if days < 1:
        return "today"
    if days == 1:
        return "yesterday"
    if days < DAYS_PER_MONTH:
        return f"{days} days ago"
    unit, size = ("month", DAYS_PER_MONTH) if days < DAYS_PER_YEAR else ("year", DAYS_PER_YEAR)
    count = int(days / size)
    return f"{count} {unit}{'' if count == 1 else 's'} ago"


def _shown(
    job: StoredJob,
    words: str,
    titles: Mapping[str, str],
    machine_id: int,
    now: datetime,
    callback_days: int,
) -> EarlierJob:
    when = job.closed_at or job.opened_at
    is_same = bool(machine_id) and job.machine_id == machine_id
    is_recent = now - when <= timedelta(days=callback_days)
    return EarlierJob(
        call_id=job.call_id,
        opened_at=job.opened_at,
        appliance=appliance_title(job.network_id),
        ago=ago(now - when),
        words=words,
        outcome=OUTCOMES.get(job.outcome, NOT_CLOSED),
        repairs=tuple(titles[name] for name in _names(job.repairs) if name in titles),
        causes=tuple(titles[name] for name in _names(job.causes) if name in titles),
        is_same_machine=is_same,
        is_recent_repair=is_same and is_recent and job.outcome == "repaired",
    )


def _names(entries: Sequence[Any]) -> tuple[str, ...]:
    """Ids in what a closing holds: of a repair by itself, of a cause with its degree."""
    return tuple(
        str(one.get("cause") or one.get("repair") or "") if isinstance(one, dict) else str(one)
        for one in entries
    )
