"""Closed jobs of a made-up shop, in files and in a database, for the tests of learning."""

from datetime import UTC, datetime
from functools import cache

from tests.simulated_shop import closed_records, true_network
from triage.network.catalogue import load_network
from triage.services.calls.calls import Database
from triage.services.learning.importing import import_jobs, networks_of
from triage.services.learning.job_file import (
    FileRead,
    checked_columns,
    guessed_columns,
    jobs_as_text,
    read_jobs,
    table_of,
)
from triage.services.learning.proposing import Proposal, propose, settings_from_json
from triage.services.learning.records import JobRecord
from triage.services.learning.stored import jobs_to_learn, stored_records
from triage.services.learning.versions import base_of, start_keeping
from triage.services.networks.in_use import engine_of_version
from triage.services.people.audit import Stamp

WASHER = "top_load_washer"
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
STAMP = Stamp(NOW, "Olin Marsh")


@cache
def made_up_jobs(count: int, seed: int = 1, kind: str = WASHER) -> tuple[JobRecord, ...]:
    """Jobs of a kind, top-load washers if none is named, that are not quite as its network says."""
    network = load_network(kind)
    return tuple(closed_records(network, true_network(network, 3), count, seed))


def read_text(database: Database, text: str, source: str = "old-books") -> FileRead:
    """File as it would be read into a shop."""
    table = table_of(text)
    columns = checked_columns(table.heading, guessed_columns(table.heading))
    return read_jobs(table, columns, networks_of(database), source=source)


def take_in(database: Database, count: int) -> int:
    """Take made-up jobs in, by way of a file."""
    read = read_text(database, jobs_as_text(made_up_jobs(count)))
    return import_jobs(database, read, "old-books.csv", STAMP)


def proposal(database: Database, **settings: float) -> Proposal:
    """What the closed jobs of a shop propose; nothing is kept."""
    version = start_keeping(database, WASHER, STAMP)
    base = base_of(database, WASHER, version)
    jobs = jobs_to_learn(stored_records(database, WASHER), base)
    engine = engine_of_version(database, WASHER, version)
    return propose(base, engine, jobs, settings_from_json(settings), NOW)
