"""What ``triage learn``, ``evaluate`` and ``versions`` print, with and without a database."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from triage.network.catalogue import load_network, network_names
from triage.services.calls.calls import Database
from triage.services.learning.importing import Sifted, networks_of, shipped_networks, sifted
from triage.services.learning.job_file import (
    FileRead,
    checked_columns,
    decoded,
    guessed_columns,
    read_jobs,
    table_of,
)
from triage.services.learning.kinds import other_kinds, other_kinds_among
from triage.services.learning.practice import practice, practice_as_json
from triage.services.learning.proposing import (
    Proposal,
    proposal_as_json,
    propose,
    settings_from_json,
)
from triage.services.learning.records import JobRecord
from triage.services.learning.scoring import network_scores, scores_as_json
from triage.services.learning.stored import jobs_to_learn, stored_records
from triage.services.learning.versions import (
    VersionInFull,
    VersionLine,
    base_of,
    keep_proposal,
    start_keeping,
    version_in_full,
    versions_of,
)
from triage.services.networks.engines import engine_for
from triage.services.networks.in_use import engine_of_version, network_in_use
from triage.services.people.audit import Stamp

__all__ = ["FileRead", "JobRecord", "Proposal", "Sifted", "Stamp", "VersionInFull", "VersionLine"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReport:
    """A file of closed jobs that was read: what it holds and, with a database, what is new."""

    read: FileRead
    found: Sifted | None


def read_job_file(
    content: bytes, name: str, columns: Mapping[str, str], database: Database | None
) -> FileReport:
    """Read a file of closed jobs.

    Parameters
    ----------
    content : bytes
    name : str
        Of the file: the source of its jobs, unless a column says so.
    columns : mapping
        Columns of the file for ours, where the names do not tell.
    database : Database, optional
        Whose versions of networks and jobs count; without one those of the program.

    Raises
    ------
    JobFileError
    """
    table = table_of(decoded(content))
    chosen = checked_columns(table.heading, {**guessed_columns(table.heading), **columns})
    network_at = shipped_networks if database is None else networks_of(database)
    read = read_jobs(table, chosen, network_at, source=Path(name).name)
    return FileReport(read=read, found=None if database is None else sifted(database, read))


def learned_from_records(
    records: Sequence[JobRecord], network_id: str, given: Mapping[str, Any], at: datetime
) -> Proposal:
    """Proposal for a shipped network, or one in a file, from jobs that are in no database.

    Raises
    ------
    NoJobsError, UnknownNetworkError, NetworkFileError
    """
    engine = engine_for(network_id)
    left_out: Counter[str] = Counter()
    jobs = jobs_to_learn(records, engine.network, left_out=left_out)
    settings = settings_from_json(given)
    others = other_kinds_among(records, engine.network.id) if settings.learns_together else ()
    return propose(engine.network, engine, jobs, settings, at, others=others, left_out=left_out)


def learned_from_store(
    database: Database, network_id: str, given: Mapping[str, Any], stamp: Stamp, reason: str
) -> tuple[int, Proposal]:
    """Proposal from the closed jobs of a shop, kept as its next version; gives its number, too.

    Raises
    ------
    NoJobsError, UnknownNetworkError
    """
    version = start_keeping(database, network_id, stamp)
    base = base_of(database, network_id, version)
    in_use = engine_of_version(database, network_id, version)
    left_out: Counter[str] = Counter()
    jobs = jobs_to_learn(stored_records(database, network_id), base, left_out=left_out)
    settings = settings_from_json(given)
    others = other_kinds(database, network_id) if settings.learns_together else ()
    found = propose(base, in_use, jobs, settings, stamp.at, others=others, left_out=left_out)
    number = keep_proposal(database, network_id, found, stamp, reason)
    return number, version_in_full(database, network_id, number).proposal or found


def evaluation(
    records: Sequence[JobRecord], given: Mapping[str, Any], database: Database | None
) -> dict[str, Any]:
    """Scores of every network with jobs, and what was promised and done; keys are stable."""
    settings = settings_from_json(given)
    scores = []
    for name in network_names():
        own = [record for record in records if record.appliance == name]
        if not own:
            continue
        if database is None:
            base, others = load_network(name), other_kinds_among(records, name)
        else:
            base = base_of(database, name, network_in_use(database, name).version)
            others = other_kinds(database, name)
        jobs = jobs_to_learn(own, base)
        scores.append(scores_as_json(network_scores(base, jobs, settings, others)))
    return {"networks": scores, "practice": practice_as_json(practice(records))}


def records_of(database: Database) -> tuple[JobRecord, ...]:
    """Closed jobs of a shop."""
    return stored_records(database)


def report_as_json(found: Proposal, network: str, version: int | None) -> dict[str, Any]:
    """Proposal as ``triage learn`` prints it; ``version`` is None if it was not kept."""
    return {
        "network": network,
        "version": version,
        "source": found.version.source,
        **proposal_as_json(found),
    }


def versions_listed(database: Database | None, networks: Sequence[str]) -> list[dict[str, Any]]:
    """Versions of networks as plain values; those that came with the program without a database."""
    rows: list[dict[str, Any]] = []
    for name in networks:
        if database is None:
            rows.append(_shipped_row(name))
            continue
        lines = versions_of(database, name)
        rows += [_row(line) for line in lines] or [_shipped_row(name)]
    return rows


def _row(line: VersionLine) -> dict[str, Any]:
    stored = line.stored
    return {
        "network": stored.network_id,
        "version": stored.version,
        "parent_version": stored.parent_version,
        "origin": stored.origin,
        "state": stored.state,
        "is_in_use": line.is_in_use,
        "proposed_at": stored.proposed_at.isoformat(),
        "proposed_by": stored.proposed_by,
        "reason": stored.reason,
        "decided_by": stored.decided_by,
        "decided_reason": stored.decided_reason,
    }


def _shipped_row(name: str) -> dict[str, Any]:
    return {
        "network": name,
        "version": load_network(name).version,
        "parent_version": 0,
        "origin": "shipped",
        "state": "approved",
        "is_in_use": True,
        "proposed_at": None,
        "proposed_by": "",
        "reason": "",
        "decided_by": "",
        "decided_reason": "",
    }
