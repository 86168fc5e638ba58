"""Closed jobs of the last year: drawn by the simulator beforehand, moved to end before today.

``closed-jobs.csv`` is written by ``python -m tests.demo_jobs``. It is taken in like any file of
closed jobs; the days are moved by whole weeks, so that no job falls on another day of the week.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, timedelta, tzinfo
from importlib.resources import files

from triage.services.calls.calls import Database
from triage.services.learning.importing import import_jobs, networks_of
from triage.services.learning.job_file import FileRead, guessed_columns, read_jobs, table_of
from triage.services.learning.records import JobRecord
from triage.services.people.audit import Stamp

FILE = "closed-jobs.csv"
SOURCE = "demo"
LAST_DAY = date(2025, 12, 28)  # a Sunday; the days of the file are counted from here
DAYS_A_WEEK = 7


def closed_jobs(database: Database, now: datetime, zone: tzinfo) -> FileRead:
    """Jobs of the file, moved to the year before today; times are by the clock of the shop."""
    table = table_of(files(__package__).joinpath(FILE).read_text(encoding="utf-8"))
    columns = guessed_columns(table.heading)
    del columns["network_version"]  # of whatever version is in use
    read = read_jobs(table, columns, networks_of(database), source=SOURCE, zone=zone)
    weeks = (now.astimezone(zone).date() - LAST_DAY).days // DAYS_A_WEEK
    return replace(read, records=tuple(_moved(read.records, timedelta(weeks=weeks), zone)))


def take_in(database: Database, now: datetime, zone: tzinfo, by: str) -> FileRead:
    """Take the jobs in and give them back."""
    read = closed_jobs(database, now, zone)
    import_jobs(database, read, FILE, Stamp(now, by))
    return read


def _moved(
    records: Iterable[tuple[int, JobRecord]], by: timedelta, zone: tzinfo
) -> Iterable[tuple[int, JobRecord]]:
    for line, record in records:
        opened, closed = (
            (moment.astimezone(zone).replace(tzinfo=None) + by).replace(tzinfo=zone)
            for moment in (record.opened_at, record.closed_at)
        )
        yield line, replace(record, opened_at=opened, closed_at=closed)
