"""Claims about migrations: they lead to the very tables of the program, and lose nothing."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, create_engine, inspect, text

from tests.databases import PostgresServer
from triage.errors import NewerDatabaseError
from triage.store.database import Database
from triage.store.revisions import FIRST, MIGRATIONS, NEWEST, bring_up_to_date, migrate, revision_of
from triage.store.tables.every import METADATA

EMPTY_TEMPLATE = "template1"
A_CALL = (
    "INSERT INTO calls (id, client_id, network_id, network_version, caller, opened_at, opened_by, "
    "version, is_open) VALUES (1, 'page-1', 'washer', 1, 'A caller', '2026-03-02 09:00:00', "
    "'dispatcher', 1, true)"
)
AN_EVENT = (
    'INSERT INTO events (id, call_id, sequence, client_id, part, kind, payload, at, "by") VALUES '
    "(1, 1, 1, 'page-1', 0, 'complaint', '{\"words\": \"loud\"}', '2026-03-02 09:00:00', 'she')"
)


@pytest.fixture
def connection(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Connection]:
    """Connection to a database without tables."""
    address = f"sqlite:///{tmp_path / 'old.sqlite'}"
    if request.config.getoption("--database") == "postgresql":
        server: PostgresServer = request.getfixturevalue("postgresql")
        address = server.fresh(EMPTY_TEMPLATE)
    engine = create_engine(address)
    with engine.begin() as connection:
        yield connection
    engine.dispose()


def old(connection: Connection) -> None:
    """Make the tables as they were before there were migrations, with a call."""
    migrate_from_nothing(connection)
    connection.execute(text("DROP TABLE alembic_version"))
    connection.execute(text(A_CALL))
    connection.execute(text(AN_EVENT))


def migrate_from_nothing(connection: Connection) -> None:
    migrate(connection, FIRST)


def test_newest_revision_is_the_head_of_the_migrations() -> None:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))

    assert ScriptDirectory.from_config(config).get_heads() == [NEWEST]


def test_migrations_lead_to_the_tables_of_the_program(connection: Connection) -> None:
    old(connection)

    bring_up_to_date(connection)

    context = MigrationContext.configure(connection, opts={"compare_type": True})
    assert compare_metadata(context, METADATA) == []


def test_new_database_has_the_tables_of_the_program(connection: Connection) -> None:
    bring_up_to_date(connection)

    assert revision_of(connection) == NEWEST
    assert set(METADATA.tables) <= set(inspect(connection).get_table_names())


def test_callers_of_before_can_be_searched(connection: Connection) -> None:
    old(connection)
    connection.execute(text("UPDATE calls SET caller = 'Zoë ÅSTRÖM'"))

    bring_up_to_date(connection)

    assert connection.scalar(text("SELECT caller_folded FROM calls")) == "zoe astrom"


def test_migration_loses_no_call(connection: Connection) -> None:
    old(connection)

    bring_up_to_date(connection)

    found = connection.execute(text("SELECT caller, customer_id FROM calls")).all()
    events = connection.execute(text("SELECT kind, network_version FROM events")).all()
    assert [tuple(row) for row in found] == [("A caller", None)]
    assert [tuple(row) for row in events] == [("complaint", None)]


def test_way_back_leads_to_the_first_tables_and_keeps_the_call(connection: Connection) -> None:
    old(connection)
    bring_up_to_date(connection)

    migrate(connection, FIRST)

    names = set(inspect(connection).get_table_names())
    assert names == {"calls", "events", "alembic_version"}
    assert connection.scalar(text("SELECT count(*) FROM events")) == 1


def test_second_start_changes_nothing(connection: Connection) -> None:
    bring_up_to_date(connection)
    connection.execute(text(A_CALL))

    bring_up_to_date(connection)

    assert connection.scalar(text("SELECT count(*) FROM calls")) == 1


def test_database_of_a_newer_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "calls.sqlite"
    Database.at(path).close()
    engine = create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()

    with pytest.raises(NewerDatabaseError, match=r"revision 9999.*Update the program"):
        Database.at(path)
