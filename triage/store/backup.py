"""Copies of an SQLite database: make one while others write, look whether one is whole.

``VACUUM INTO`` writes what was there when it began, as one file without a log beside it; copying
the file itself would miss what is still in the log.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from triage.errors import DamagedBackupError, StoreInUseError
from triage.store.revisions import MARK

BUSY_TIMEOUT_S = 5.0


@dataclass(frozen=True, slots=True)
class DatabaseFacts:
    """What a database holds: the revision of its tables, and rows by table."""

    revision: str
    rows: Mapping[str, int]


def copy_database(source: Path, target: Path) -> None:
    """Write a copy of a database into a file that is not there yet.

    Raises
    ------
    DamagedBackupError
    """
    with _reading(source, is_at_rest=False) as connection:
        connection.execute("VACUUM INTO ?", (str(target),))


def database_facts(path: Path, *, is_at_rest: bool = False) -> DatabaseFacts:
    """Count the rows of every table; ``is_at_rest`` is for copies, beside which nothing is written.

    Raises
    ------
    DamagedBackupError
        The file is no database, or damaged where it was read.
    """
    with _reading(path, is_at_rest=is_at_rest) as connection:
        named = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'"
        ).fetchall()
        tables = sorted(str(name) for (name,) in named if name != MARK)
        rows = {name: _count(connection, name) for name in tables}
        revision = connection.execute(f"SELECT version_num FROM {MARK}").fetchone()
        return DatabaseFacts(str(revision[0]), rows)


def damage_of(path: Path) -> tuple[str, ...]:
    """What is wrong inside a copy, empty if it is whole: pages, indexes, references."""
    try:
        with _reading(path, is_at_rest=True) as connection:
            found = [str(line) for (line,) in connection.execute("PRAGMA integrity_check")]
            dangling = connection.execute("PRAGMA foreign_key_check").fetchall()
    except DamagedBackupError as error:
        return error.problems
    broken = [f"row {row[1]} of {row[0]} refers to nothing" for row in dangling]
    return (*(line for line in found if line != "ok"), *broken)


def check_at_rest(path: Path) -> None:
    """Refuse a database that a program has open.

    Raises
    ------
    StoreInUseError
    """
    with closing(sqlite3.connect(path, timeout=0, isolation_level=None)) as connection:
        try:
            connection.execute("PRAGMA locking_mode=EXCLUSIVE")
            connection.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError:
            raise StoreInUseError(str(path)) from None
        except sqlite3.DatabaseError:
            return  # damaged: nobody works with it


@contextmanager
def _reading(path: Path, *, is_at_rest: bool) -> Iterator[sqlite3.Connection]:
    """Connection that writes nothing: to a copy, not even a log beside it."""
    options = "?mode=ro&immutable=1" if is_at_rest else "?mode=rw"
    address = path.resolve().as_uri() + options
    with closing(sqlite3.connect(address, uri=True, timeout=BUSY_TIMEOUT_S)) as connection:
        try:
            yield connection
        except sqlite3.DatabaseError as error:
            raise DamagedBackupError(str(path), (str(error),)) from None


def _count(connection: sqlite3.Connection, table: str) -> int:
    return int(connection.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0])
