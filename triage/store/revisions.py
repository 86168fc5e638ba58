"""Bring a database up to date: make the tables of an empty one, migrate an older one.

Alembic is imported only when something is to be migrated: it takes most of a second. That a new
database has the very tables that the migrations lead to is a test.
"""

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from triage.errors import NewerDatabaseError
from triage.store.tables.every import METADATA

MIGRATIONS = Path(__file__).parent / "migrations"
FIRST = "0001"  # tables made before there were migrations carry no mark
NEWEST = "0006"
MARK = "alembic_version"


def bring_up_to_date(connection: Connection) -> None:
    """Give a database the tables of this program; one that has them is left alone.

    Raises
    ------
    NewerDatabaseError
        A newer program wrote the database; nothing is changed.
    """
    _wait_for_others(connection)
    found = revision_of(connection)
    if found == NEWEST:
        return
    if found is None:
        METADATA.create_all(connection)
        _mark(connection, NEWEST)
        return
    if found > NEWEST:
        raise NewerDatabaseError(found, NEWEST)
    if MARK not in inspect(connection).get_table_names():
        _mark(connection, found)
    migrate(connection, NEWEST)


def revision_of(connection: Connection) -> str | None:
    """Revision of the tables, or None if there are none."""
    names = inspect(connection).get_table_names()
    if MARK in names:
        found: str | None = connection.scalar(text(f"SELECT version_num FROM {MARK}"))
        return found
    return FIRST if "calls" in names else None


def migrate(connection: Connection, revision: str) -> None:
    """Take the tables up or down to a revision."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    is_up = revision >= (revision_of(connection) or FIRST)
    (command.upgrade if is_up else command.downgrade)(config, revision)


def _mark(connection: Connection, revision: str) -> None:
    connection.execute(text(f"CREATE TABLE {MARK} (version_num VARCHAR(32) NOT NULL PRIMARY KEY)"))
    connection.execute(
        text(f"INSERT INTO {MARK} (version_num) VALUES (:revision)"), {"revision": revision}
    )


def _wait_for_others(connection: Connection) -> None:
    """Two programs started at once must not both make the tables; SQLite has locked already."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(7472616765)"))
