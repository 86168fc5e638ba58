"""Long work, asked for by a page and done while nobody waits.

``ask_for`` writes down what is wanted and returns at once; ``work_off`` does it, in a thread of its
own, and writes down how far it is. A page shows that, and what came of it. Work whose program has
died meanwhile is told from work that goes on by when it was last heard of.
"""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from triage.errors import NoJobsError, TriageError
from triage.network.catalogue import network_names
from triage.services.calls.calls import Database, Entry
from triage.services.learning.importing import import_jobs, networks_of
from triage.services.learning.job_file import (
    checked_columns,
    guessed_columns,
    read_jobs,
    table_of,
)
from triage.services.learning.kinds import other_kinds
from triage.services.learning.practice import (
    overruled,
    practice,
    practice_as_json,
    practice_by,
)
from triage.services.learning.proposing import Tell, propose, settings_from_json
from triage.services.learning.records import JobRecord
from triage.services.learning.replanning import (
    Replanned,
    replanned_as_json,
    replanned_from_json,
    replanned_with,
)
from triage.services.learning.scoring import network_scores, scores_as_json
from triage.services.learning.sensitivity import sensitivity, sensitivity_as_json
from triage.services.learning.stored import jobs_to_learn, stored_records
from triage.services.learning.versions import base_of, keep_proposal, start_keeping
from triage.services.networks.in_use import engine_of_version
from triage.services.people.audit import Stamp
from triage.services.shop.settings import current_settings
from triage.store.imports import finish_job_file, read_job_file
from triage.store.runs import (
    StoredRun,
    add_run,
    end_run,
    list_runs,
    newest_run,
    read_run,
    tell_progress,
)

__all__ = [
    "StoredRun",
    "Work",
    "WorkState",
    "ask_for",
    "last_work",
    "newest_replanned",
    "newest_result",
    "practice_of",
    "state_of",
    "work_off",
]

SILENT_LIMIT = timedelta(minutes=10)
BROKEN = "The program could not finish this; the log of the server says why. Begin it again."
Clock = Callable[[], datetime]


class Work(StrEnum):
    """What can be asked for."""

    PROPOSE = "propose"
    EVALUATE = "evaluate"
    SENSITIVITY = "sensitivity"
    REPLAN = "replan"
    IMPORT = "import"


@dataclass(frozen=True, slots=True)
class WorkState:
    """Work as it stands; ``is_dead`` holds if nothing was heard of it for long."""

    run: StoredRun
    is_dead: bool

    @property
    def is_going(self) -> bool:
        """Whether there is something to wait for."""
        return not self.run.is_over and not self.is_dead


@dataclass(frozen=True, slots=True)
class _Task:
    database: Database
    run: StoredRun
    clock: Clock
    tell: Tell

    @property
    def stamp(self) -> Stamp:
        return Stamp(self.clock(), self.run.asked_by)


def ask_for(
    database: Database, kind: Work, network_id: str, request: Mapping[str, Any], entry: Entry
) -> tuple[int, bool]:
    """Number of the work, and whether it is to be begun; sent twice it is asked for once."""
    with database.writing() as session:
        return add_run(
            session,
            client_id=entry.submission.client_id,
            kind=kind.value,
            network_id=network_id,
            request=request,
            at=entry.at,
            by=entry.by,
        )


def state_of(database: Database, number: int, now: datetime) -> WorkState:
    """Work as it stands, or ``UnknownRunError``."""
    with database.reading() as session:
        return _state(read_run(session, number), now)


def newest_result(database: Database, kind: Work, network_id: str = "") -> StoredRun | None:
    """Work of a kind that was done last, or None."""
    with database.reading() as session:
        return newest_run(session, kind.value, network_id, state="done")


def newest_replanned(database: Database, network_id: str, version: int) -> Replanned | None:
    """Comparison of the plans of a version that was made last, or None."""
    run = newest_result(database, Work.REPLAN, network_id)
    if run is None or run.result["version"] != version:
        return None
    return replanned_from_json(run.result)


def last_work(database: Database, now: datetime) -> tuple[WorkState, ...]:
    """Work that was asked for, newest first."""
    with database.reading() as session:
        return tuple(_state(run, now) for run in list_runs(session))


def _state(run: StoredRun, now: datetime) -> WorkState:
    return WorkState(run, not run.is_over and now - run.seen_at > SILENT_LIMIT)


def work_off(database: Database, number: int, clock: Clock) -> None:
    """Do the work, and write down what came of it.

    What the library refuses becomes the problem of the work; an error of the program is written
    down as one and raised.
    """

    def tell(step: str, done: int, steps: int) -> None:
        with database.writing() as session:
            tell_progress(session, number, step=step, done=done, steps=steps, at=clock())

    with database.reading() as session:
        run = read_run(session, number)
    task = _Task(database, run, clock, tell)
    ended: dict[str, Any] = {"problem": BROKEN}
    try:
        tell("Reading the closed jobs", 0, 1)
        ended = {"result": _DO[Work(run.kind)](task)}
    except TriageError as error:
        ended = {"problem": str(error)}
    finally:
        with database.writing() as session:
            end_run(session, number, at=clock(), **ended)


def _propose(task: _Task) -> Mapping[str, Any]:
    network_id, stamp = task.run.network_id, task.stamp
    request = task.run.request
    version = start_keeping(task.database, network_id, stamp)
    base = base_of(task.database, network_id, version)
    left_out: Counter[str] = Counter()
    records = stored_records(task.database, network_id)
    settings = settings_from_json(request.get("settings", {}))
    found = propose(
        base,
        engine_of_version(task.database, network_id, version),
        jobs_to_learn(records, base, left_out=left_out),
        settings,
        stamp.at,
        others=other_kinds(task.database, network_id) if settings.learns_together else (),
        tell=task.tell,
        left_out=left_out,
    )
    number = keep_proposal(task.database, network_id, found, stamp, request.get("reason", ""))
    return {"version": number}


def _evaluate(task: _Task) -> Mapping[str, Any]:
    records = stored_records(task.database)
    settings = settings_from_json(task.run.request.get("settings", {}))
    names = [name for name in network_names() if any(one.appliance == name for one in records)]
    if not names:
        raise NoJobsError("any")
    scores = []
    for place, name in enumerate(names):
        task.tell(f"Scoring the jobs of {name}", place, len(names) + 1)
        version = start_keeping(task.database, name, task.stamp)
        base = base_of(task.database, name, version)
        jobs, others = jobs_to_learn(records, base), other_kinds(task.database, name)
        scores.append(scores_as_json(network_scores(base, jobs, settings, others)))
    task.tell("Counting what was promised and what happened", len(names), len(names) + 1)
    return {"scores": scores, **practice_of(task.database, records)}


def practice_of(database: Database, records: tuple[JobRecord, ...]) -> Mapping[str, Any]:
    """Practice of all jobs, by appliance, person and month, and the overruling of the plan."""
    groups = {
        "by_appliance": [one.appliance for one in records],
        "by_person": [one.closed_by or "nobody named" for one in records],
        "by_month": [f"{one.closed_at:%Y-%m}" for one in records],
    }
    found = overruled(database)
    return {
        "practice": practice_as_json(practice(records)),
        **{
            name: [
                {"name": key, **practice_as_json(one)} for key, one in practice_by(records, names)
            ]
            for name, names in groups.items()
        },
        "overruled": {
            "jobs": found.jobs,
            "jobs_overruled": found.jobs_overruled,
            "times": found.times,
            "technician_right": found.technician_right,
            "plan_right": found.plan_right,
        },
    }


def _sensitivity(task: _Task) -> Mapping[str, Any]:
    network_id = task.run.network_id
    version = start_keeping(task.database, network_id, task.stamp)
    base = base_of(task.database, network_id, version)
    jobs = jobs_to_learn(stored_records(task.database, network_id), base)
    if not jobs:
        raise NoJobsError(network_id)
    shop = current_settings(task.database)
    settings = settings_from_json(task.run.request.get("settings", {}))
    found = sensitivity(
        base, jobs, settings, shop.costs.return_trip_minor, task.stamp.at, tell=task.tell
    )
    return {"numbers": sensitivity_as_json(found), "currency": shop.currency, "jobs": len(jobs)}


def _replan(task: _Task) -> Mapping[str, Any]:
    network_id, version = task.run.network_id, int(task.run.request["version"])
    found = replanned_with(task.database, network_id, version, tell=task.tell)
    return {"version": version, **replanned_as_json(found)}


def _import(task: _Task) -> Mapping[str, Any]:
    number = int(task.run.request["file"])
    with task.database.reading() as session:
        file = read_job_file(session, number)
    table = table_of(file.text)
    columns = checked_columns(table.heading, file.columns or guessed_columns(table.heading))
    read = read_jobs(table, columns, networks_of(task.database), source=file.name)
    task.tell("Taking the jobs in", 0, 1)
    jobs = import_jobs(task.database, read, file.name, task.stamp)
    with task.database.writing() as session:
        finish_job_file(session, number, jobs=jobs, at=task.clock())
    return {"jobs": jobs, "known": len(read.records) - jobs, "file": file.name}


_DO: Mapping[Work, Callable[[_Task], Mapping[str, Any]]] = {
    Work.PROPOSE: _propose,
    Work.EVALUATE: _evaluate,
    Work.SENSITIVITY: _sensitivity,
    Work.REPLAN: _replan,
    Work.IMPORT: _import,
}
