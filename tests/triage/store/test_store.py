"""Claims about the store: nothing is lost, nothing is overwritten, times keep their zone."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from triage.errors import StaleCallError, UnknownCallError
from triage.store.calls import (
    Draft,
    NewCall,
    Submission,
    add_call,
    add_events,
    call_to_change,
    list_calls,
    read_call,
)
from triage.store.database import Database
from triage.store.tables.every import METADATA

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def new_call(client_id: str = "page-1", at: datetime = NINE) -> NewCall:
    return NewCall(
        client_id=client_id,
        network_id="washer",
        network_version=1,
        caller="A caller",
        at=at,
        by="dispatcher",
    )


def opened(database: Database, client_id: str = "page-1", at: datetime = NINE) -> int:
    with database.writing() as session:
        return add_call(session, new_call(client_id, at))[0]


def add(
    database: Database, call_id: int, shown: int, client_id: str, *, is_open: bool = True
) -> None:
    with database.writing() as session:
        draft = Draft("finding", {"observation": "a", "answer": client_id})
        submission = Submission(client_id, shown)
        add_events(session, call_id, [draft], submission, at=NINE, by="dispatcher", is_open=is_open)


def test_call_survives_a_restart(tmp_path: Path) -> None:
    first = Database.at(tmp_path / "calls.sqlite")
    call_id = opened(first)
    add(first, call_id, 0, "page-2")
    first.close()

    with Database.at(tmp_path / "calls.sqlite").reading() as session:
        call = read_call(session, call_id)

    assert call.caller == "A caller"
    assert [(event.sequence, event.payload["answer"]) for event in call.events] == [(1, "page-2")]


def test_same_client_id_opens_one_call(database: Database) -> None:
    first = opened(database, "page-1")

    with database.writing() as session:
        second, is_new = add_call(session, new_call("page-1"))

    assert (second, is_new) == (first, False)


def test_unknown_call_says_to_choose_from_the_list(database: Database) -> None:
    with database.reading() as session, pytest.raises(UnknownCallError, match="Choose one from"):
        read_call(session, 99)


def test_stale_page_adds_nothing(database: Database) -> None:
    call_id = opened(database)
    add(database, call_id, 0, "page-2")

    with pytest.raises(StaleCallError, match="Nothing was overwritten"):
        add(database, call_id, 0, "page-3")

    with database.reading() as session:
        assert read_call(session, call_id).version == 1


def test_of_many_writers_with_one_version_one_wins(database: Database) -> None:
    call_id = opened(database)

    def try_to_add(number: int) -> bool:
        try:
            add(database, call_id, 0, f"writer-{number}")
        except StaleCallError:
            return False
        return True

    with ThreadPoolExecutor(max_workers=8) as pool:
        won = list(pool.map(try_to_add, range(16)))

    assert sum(won) == 1


def test_writers_that_read_first_lose_no_update(database: Database) -> None:
    call_id = opened(database)

    def add_after_reading(number: int) -> None:
        with database.writing() as session:
            version = call_to_change(session, call_id).version
            submission = Submission(f"writer-{number}", version)
            draft = Draft("finding", {})
            add_events(session, call_id, [draft], submission, at=NINE, by="d", is_open=True)

    with ThreadPoolExecutor(max_workers=8) as pool:
        list(pool.map(add_after_reading, range(40)))

    with database.reading() as session:
        assert read_call(session, call_id).version == 40


def test_failed_block_leaves_nothing_behind(database: Database) -> None:
    def fail_after_adding() -> None:
        with database.writing() as session:
            add_call(session, new_call("page-9"))
            raise RuntimeError("stop here")

    with pytest.raises(RuntimeError, match="stop here"):
        fail_after_adding()

    with database.reading() as session:
        assert list_calls(session, since=NINE - timedelta(days=1)) == ()


def test_time_comes_back_in_utc(database: Database) -> None:
    in_new_york = datetime(2026, 3, 2, 4, 0, tzinfo=timezone(timedelta(hours=-5)))

    call_id = opened(database, at=in_new_york)

    with database.reading() as session:
        stored = read_call(session, call_id).opened_at
    assert (stored, stored.tzinfo) == (NINE, UTC)


def test_time_without_a_zone_is_refused(database: Database) -> None:
    with pytest.raises(Exception, match="has no zone"):
        opened(database, at=NINE.replace(tzinfo=None))


def test_list_holds_open_calls_and_todays_newest_first(database: Database) -> None:
    yesterday = NINE - timedelta(days=1)
    old_open = opened(database, "a", yesterday)
    old_closed = opened(database, "b", yesterday)
    add(database, old_closed, 0, "c", is_open=False)
    today = opened(database, "d", NINE)

    with database.reading() as session:
        listed = [call.id for call in list_calls(session, since=NINE - timedelta(hours=9))]

    assert listed == [today, old_open]


def test_every_constraint_has_a_name() -> None:
    nameless = [
        (table.name, constraint)
        for table in METADATA.sorted_tables
        for constraint in table.constraints
        if constraint.name is None
    ]

    assert METADATA.sorted_tables
    assert nameless == []
