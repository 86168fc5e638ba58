"""Take closed jobs of a file in: all of them or none, and none twice.

A job is known again by its source and number, by its content under another name of the file, and,
if it was exported from here, by its number and the time it was closed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from triage.errors import JobLinesError
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork
from triage.services.booking.promise import promised_as_json
from triage.services.call_log.events import CallOutcome, FindingMade, OutcomeRecorded
from triage.services.call_log.events import as_draft as phone_draft
from triage.services.calls.calls import Database
from triage.services.closing.values import ClosingOutcome
from triage.services.job.events import PieceUsed, RepairDone, Verified
from triage.services.job.events import as_draft as job_draft
from triage.services.learning.job_file import FileRead
from triage.services.learning.reading import CellProblem, NetworkAt
from triage.services.learning.records import JobRecord
from triage.services.networks.in_use import (
    keep_shipped,
    network_in_use,
    network_version,
    shipped_digest,
)
from triage.services.people.audit import Action, Stamp, act
from triage.store.audit import add_act
from triage.store.calls import Draft
from triage.store.closings import ClosingData, StoredPart
from triage.store.imports import (
    NewClosedJob,
    ReadyJobs,
    closed_here,
    contents_known,
    identities_known,
    put_jobs_in,
    ready_jobs,
)

CLOSED = "job_closed"
ENDINGS: Mapping[ClosingOutcome, CallOutcome] = {
    ClosingOutcome.SOLVED_BY_PHONE: CallOutcome.SOLVED_BY_PHONE,
    ClosingOutcome.REFERRED_OUT: CallOutcome.REFER_OUT,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sifted:
    """Jobs of a file: those that are new, and the lines of those that are in already.

    ``problems`` adds to those of the file what only the store can tell.
    """

    new: tuple[tuple[int, JobRecord], ...]
    known: tuple[int, ...]
    problems: tuple[CellProblem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyImport:
    """New jobs of a file as rows that only have to be put in; ``known`` counts the others."""

    jobs: tuple[NewClosedJob, ...]
    rows: ReadyJobs
    networks: tuple[str, ...]
    known: int


def shipped_networks(name: str, version: int | None) -> FaultNetwork:
    """Network at hand where there is no store: the one that came with the program."""
    return load_network(name)


def networks_of(database: Database) -> NetworkAt:
    """Network of a name and a version as the store keeps it; None is the version in use."""

    def network_at(name: str, version: int | None) -> FaultNetwork:
        if version is None:
            return network_in_use(database, name)
        return network_version(database, name, version)

    return network_at


def sifted(database: Database, read: FileRead) -> Sifted:
    """Tell new jobs of a file from those that are in already."""
    records = [record for _, record in read.records]
    numbered = [int(record.job) for record in records if record.job.isdecimal()]
    with database.reading() as session:
        identities = identities_known(session, [record.identity for record in records])
        contents = contents_known(session, [record.content for record in records])
        here = closed_here(session, [number for number in numbered if number < 2**31])
    new, known, problems = [], [], list(read.problems)
    for line, record in read.records:
        number = int(record.job) if record.job.isdecimal() else -1
        if record.content in contents or here.get(number) == record.closed_at:
            known.append(line)
        elif record.identity in identities:
            expected = f"what job {record.job} of {record.source} held when it was taken in"
            advice = "Correct the job in the program, or give it another number."
            problems.append(CellProblem(line, "job", record.job, expected, advice))
        else:
            new.append((line, record))
    problems += _call_back_problems(new, identities.keys() | here.keys(), database)
    return Sifted(new=tuple(new), known=tuple(known), problems=tuple(problems))


def import_jobs(database: Database, read: FileRead, name: str, stamp: Stamp) -> int:
    """Take the new jobs of a file in, in one transaction; gives how many.

    Parameters
    ----------
    database : Database
    read : FileRead
    name : str
        Of the file, for the audit trail.
    stamp : Stamp

    Raises
    ------
    JobLinesError
        Something is wrong with a line; nothing was taken in.
    """
    return put_in(database, made_ready(database, read), name, stamp)


def made_ready(database: Database, read: FileRead) -> ReadyImport:
    """Do all that takes long before anything is written, so that others can write meanwhile.

    Raises
    ------
    JobLinesError
    """
    found = sifted(database, read)
    if found.problems:
        raise JobLinesError([str(problem) for problem in found.problems])
    jobs = tuple(new_job(record) for _, record in found.new)
    networks = tuple(sorted({job.network_id for job in jobs}))
    for network_id in networks:
        shipped_digest(network_id)  # writes its text once
    return ReadyImport(
        jobs=jobs, rows=ready_jobs(database, jobs), networks=networks, known=len(found.known)
    )


def put_in(database: Database, import_: ReadyImport, name: str, stamp: Stamp) -> int:
    """Put jobs in that were made ready, but for those taken in meanwhile; gives how many."""
    jobs, rows = import_.jobs, import_.rows
    with database.writing() as session:
        identities = identities_known(session, [job.identity for job in jobs])
        contents = contents_known(session, [job.content for job in jobs])
        left = [j for j in jobs if j.identity not in identities and j.content not in contents]
        if len(left) < len(jobs):
            rows = ready_jobs(database, left)
        for network_id in import_.networks:
            keep_shipped(session, network_id, stamp.at, stamp.by)
        put_jobs_in(session, rows)
        detail = {"jobs": len(left), "known": import_.known + len(jobs) - len(left)}
        add_act(session, act(Action.JOBS_IMPORTED, stamp, name, **detail))
    return len(left)


def new_job(record: JobRecord) -> NewClosedJob:
    """Call, events and closing of a job of a file."""
    network = load_network(record.appliance)
    return NewClosedJob(
        identity=record.identity,
        content=record.content,
        source=record.source,
        network_id=record.appliance,
        network_version=record.network_version,
        opened_at=record.opened_at,
        taken_by=record.taken_by,
        closed_at=record.closed_at,
        closed_by=record.closed_by,
        events=_events(record, network),
        closing=_closing(record),
        step_minutes=record.step_minutes,
        follows=_earlier(record),
    )


def _events(record: JobRecord, network: FaultNetwork) -> Sequence[tuple[Draft, datetime]]:
    """Findings of the phone, how the call ended, findings on site, repairs, the closing."""
    observations = network.observations
    on_site = {
        name
        for name, _ in record.findings
        if name in observations and observations[name].channel.is_on_site
    }
    made = [(name, phone_draft(FindingMade(name, answer))) for name, answer in record.findings]
    visit = CallOutcome.VISIT if record.visits else CallOutcome.DECLINED
    ending = OutcomeRecorded(ENDINGS.get(record.outcome, visit), "")
    called, closed = record.opened_at, record.closed_at
    return [
        *((draft, called) for name, draft in made if name not in on_site),
        (phone_draft(ending), called),
        *((draft, closed) for name, draft in made if name in on_site),
        *((draft, closed) for draft in _repairs(record)),
        (Draft(CLOSED, {"outcome": record.outcome.value}), closed),
    ]


def _repairs(record: JobRecord) -> list[Draft]:
    """Repairs in order; the check run came after the last."""
    drafts = []
    pieces = tuple(PieceUsed(part.part, part.variant, part.pieces) for part in record.parts)
    for place, repair in enumerate(record.repairs, start=1):
        is_last = place == len(record.repairs)
        verified = record.verification if is_last else Verified.NOT_RUN
        drafts.append(job_draft(RepairDone(repair, pieces if is_last else (), verified)))
    return drafts


def _closing(record: JobRecord) -> ClosingData:
    return ClosingData(
        outcome=record.outcome.value,
        causes=[
            {
                "cause": cause.cause,
                "degree": cause.degree.value,
                "weight": cause.weight,
                "chosen_by": list(cause.chosen_by),
            }
            for cause in record.causes
        ],
        repairs=list(record.repairs),
        is_unsure=record.is_unsure,
        verification=record.verification.value,
        minutes=record.minutes,
        visits=record.visits,
        callback_of_id=None,  # the number of its call, found when the jobs are put in
        callback_kind=record.callback_kind.value if record.callback_of else "",
        labour_minor=record.labour_minor,
        fee_minor=record.fee_minor,
        tax_minor=record.tax_minor,
        total_minor=record.total_minor,
        currency=record.currency,
        note="",
        promised=promised_as_json(record.promised),
        network_version=record.network_version,
        parts=tuple(
            StoredPart(
                part_id=part.part,
                variant=part.variant,
                pieces=part.pieces,
                price_minor=part.price_minor,
                was_aboard=part.was_aboard,
            )
            for part in record.parts
        ),
    )


def _earlier(record: JobRecord) -> str:
    """Identity of the job that this one follows up, empty if none."""
    return replace(record, job=record.callback_of).identity if record.callback_of else ""


def _call_back_problems(
    new: Sequence[tuple[int, JobRecord]], known: object, database: Database
) -> list[CellProblem]:
    """Jobs that follow up on one that is neither in the file nor in the store."""
    in_file = {record.identity for _, record in new}
    wanted = [(line, record) for line, record in new if record.callback_of]
    with database.reading() as session:
        stored = identities_known(session, [_earlier(record) for _, record in wanted])
    problems = []
    for line, record in wanted:
        identity = _earlier(record)
        if identity not in in_file and identity not in stored:
            expected = "a job of the same source, in this file or taken in before"
            advice = "Take the earlier job in first, or leave both columns empty."
            problems.append(CellProblem(line, "callback_of", record.callback_of, expected, advice))
    return problems
