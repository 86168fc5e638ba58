"""The database: SQLite by default, PostgreSQL by its address.

SQLite as it comes loses updates: two writers read, then both write, and the second overwrites the
first. So every transaction that may write takes the write lock at its start (``BEGIN IMMEDIATE``),
and waits for it up to ``BUSY_TIMEOUT_MS``. A transaction that only reads does not: in write-ahead
mode readers and the writer do not wait for each other. PostgreSQL locks the row that is to be
changed (``SELECT … FOR UPDATE``).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Dialect, create_engine, event
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.orm import Session
from sqlalchemy.pool import ConnectionPoolEntry

from triage.store.revisions import bring_up_to_date

BUSY_TIMEOUT_MS = 5000
READS_ONLY = "reads_only"  # execution option of a connection

PRAGMAS = (
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=NORMAL",
    "PRAGMA foreign_keys=ON",
    "PRAGMA secure_delete=ON",  # what is deleted is overwritten, so that a name is gone for good
    f"PRAGMA busy_timeout={BUSY_TIMEOUT_MS}",
)


class Database:
    """Sessions on one database; safe to use from many threads.

    Parameters
    ----------
    url : str
        Address as SQLAlchemy writes it, such as ``sqlite:////var/lib/shop/calls.sqlite`` or
        ``postgresql+psycopg://shop@/calls``. An empty database gets its tables, an older one is
        brought up to date.

    Raises
    ------
    NewerDatabaseError
        A newer program wrote the database.
    """

    def __init__(self, url: str) -> None:
        self._engine = create_engine(url)
        if self.is_sqlite:
            event.listen(self._engine, "connect", _prepare_connection)
            event.listen(self._engine, "begin", _begin)
        self._reader = self._engine.execution_options(**{READS_ONLY: True})
        with self._engine.begin() as connection:
            bring_up_to_date(connection)

    @classmethod
    def at(cls, path: Path) -> "Database":
        """SQLite database in a file, made if it is not there."""
        return cls(f"sqlite:///{path.resolve()}")

    @property
    def is_sqlite(self) -> bool:
        """Whether it is an SQLite file."""
        return self._engine.dialect.name == "sqlite"

    @property
    def dialect(self) -> Dialect:
        """How the database is spoken to."""
        return self._engine.dialect

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Session that may write: committed at the end, taken back if an error leaves the block."""
        with Session(self._engine) as session, session.begin():
            yield session

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Session that only reads, as the database is at its first question."""
        with Session(self._reader) as session:
            yield session

    def forget_what_was_deleted(self) -> None:
        """Write the tables anew, so that nothing of what was erased is left in their files.

        SQLite rewrites its file and empties its log. PostgreSQL rewrites the tables; it locks each
        for that moment, and its own log goes with its next backups.
        """
        if not self.is_sqlite:
            engine = self._engine.execution_options(isolation_level="AUTOCOMMIT")
            with engine.connect() as connection:
                connection.exec_driver_sql("VACUUM (FULL)")
            return
        direct = self._engine.raw_connection()  # neither may stand in a transaction
        try:
            cursor = direct.cursor()
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            cursor.close()
        finally:
            direct.close()

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()


def _prepare_connection(connection: DBAPIConnection, _: ConnectionPoolEntry) -> None:
    # Python's driver would begin transactions by itself, too late; None leaves that to `_begin`.
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in PRAGMAS:
        cursor.execute(pragma)
    cursor.close()


def _begin(connection: Connection) -> None:
    reads_only = connection.get_execution_options().get(READS_ONLY, False)
    connection.exec_driver_sql("BEGIN" if reads_only else "BEGIN IMMEDIATE")
