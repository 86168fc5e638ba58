"""Files of closed jobs that are sent in through a page: kept, looked through, taken in."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePath

from triage.errors import JobFileError
from triage.services.calls.calls import Database, Entry
from triage.services.closing.columns import COLUMNS, Column
from triage.services.learning.importing import Sifted, networks_of, sifted
from triage.services.learning.job_file import (
    FileRead,
    JobTable,
    checked_columns,
    decoded,
    guessed_columns,
    read_jobs,
    table_of,
)
from triage.store.imports import (
    StoredJobFile,
    add_job_file,
    list_job_files,
    name_columns,
    read_job_file,
)

__all__ = ["COLUMNS", "Column", "FilePreview", "StoredJobFile"]

NAME_MAX = 100
ROWS_SHOWN = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class FilePreview:
    """A file as it would be taken in.

    ``columns`` are those that were chosen, or guessed while nobody has. ``refusal`` says what keeps
    the file as a whole from being read; then there is nothing else.
    """

    file: StoredJobFile
    heading: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]
    columns: Mapping[str, str]
    refusal: str
    read: FileRead | None
    found: Sifted | None

    @property
    def is_good(self) -> bool:
        """Whether the file may be taken in."""
        return self.found is not None and not self.found.problems and bool(self.found.new)


def send_file(database: Database, name: str, content: bytes, entry: Entry) -> int:
    """Keep a file that was sent in; gives its number.

    Raises
    ------
    JobFileError
        It cannot be read as a table at all.
    """
    text = decoded(content)
    table_of(text)
    stem = PurePath(name.replace("\\", "/")).name[:NAME_MAX] or "file"
    with database.writing() as session:
        return add_job_file(
            session,
            client_id=entry.submission.client_id,
            name=stem,
            text=text,
            at=entry.at,
            by=entry.by,
        )


def choose_columns(database: Database, number: int, columns: Mapping[str, str]) -> None:
    """Keep which column of a file is which of ours.

    Raises
    ------
    UnknownJobFileError, JobFileError
    """
    with database.writing() as session:
        file = read_job_file(session, number)
        checked = checked_columns(table_of(file.text).heading, columns)
        name_columns(session, number, checked)


def file_preview(database: Database, number: int) -> FilePreview:
    """Look through a file without taking anything in, or ``UnknownJobFileError``."""
    with database.reading() as session:
        file = read_job_file(session, number)
    if file.imported_at is not None:
        return _preview(file, JobTable((), (), ","), {}, "This file is in already.")
    table = table_of(file.text)
    columns = file.columns or guessed_columns(table.heading)
    try:
        checked = checked_columns(table.heading, columns)
    except JobFileError as error:
        return _preview(file, table, columns, str(error))
    read = read_jobs(table, checked, networks_of(database), source=file.name)
    return _preview(file, table, columns, "", read, sifted(database, read))


def files_sent(database: Database) -> tuple[StoredJobFile, ...]:
    """Files that were sent in, newest first."""
    with database.reading() as session:
        return list_job_files(session)


def _preview(
    file: StoredJobFile,
    table: JobTable,
    columns: Mapping[str, str],
    refusal: str,
    read: FileRead | None = None,
    found: Sifted | None = None,
) -> FilePreview:
    return FilePreview(
        file=file,
        heading=table.heading,
        sample=tuple(row for _, row in table.lines[:ROWS_SHOWN]),
        columns=columns,
        refusal=refusal,
        read=read,
        found=found,
    )
