"""Jobs of files taken in while others write: nothing is locked for long, nothing is in by half."""

import threading
from datetime import datetime

import pytest

from tests.triage.learning.learning_shop import NOW, STAMP, made_up_jobs, read_text
from triage.services.calls.calls import Database
from triage.services.learning.importing import import_jobs, made_ready, put_in
from triage.services.learning.job_file import jobs_as_text
from triage.services.learning.stored import stored_records
from triage.store.bulk import free_numbers, ready
from triage.store.imports import add_job_file, list_job_files, minutes_told
from triage.store.tables.calls import CallRow
from triage.store.tables.learning import TimedStepsRow


def write_something(database: Database, number: int, at: datetime = NOW) -> None:
    """Write as any other part of the program does."""
    with database.writing() as session:
        add_job_file(session, client_id=f"w{number}", name="x.csv", text="", at=at, by="a test")


def test_import_is_made_ready_while_somebody_else_writes(database: Database) -> None:
    read = read_text(database, jobs_as_text(made_up_jobs(60)))

    with database.writing():  # nobody else could write now, nor wait for it in this thread
        found = made_ready(database, read)

    assert put_in(database, found, "old-books.csv", STAMP) == 60
    assert len(stored_records(database)) == 60


def test_others_write_while_a_file_is_taken_in(database: Database) -> None:
    read = read_text(database, jobs_as_text(made_up_jobs(200)))
    taken: list[int] = []
    thread = threading.Thread(
        target=lambda: taken.append(import_jobs(database, read, "old-books.csv", STAMP))
    )
    written = 0

    thread.start()
    while thread.is_alive():
        write_something(database, written)
        written += 1
    thread.join()

    assert taken == [200]
    assert written >= 3
    assert len(stored_records(database)) == 200


def test_file_made_ready_twice_is_taken_in_once(database: Database) -> None:
    read = read_text(database, jobs_as_text(made_up_jobs(30)))
    under_another_name = read_text(database, jobs_as_text(made_up_jobs(40)), "new-books")
    first, second, third = (made_ready(database, one) for one in (read, read, under_another_name))

    taken = [put_in(database, one, "books.csv", STAMP) for one in (first, second, third)]

    assert taken == [30, 0, 10]
    assert len(stored_records(database)) == 40


def test_import_that_breaks_off_leaves_nothing(database: Database) -> None:
    found = made_ready(database, read_text(database, jobs_as_text(made_up_jobs(20))))

    def break_off() -> None:
        with database.writing() as session:
            found.rows.calls.put_in(session, id=free_numbers(session, CallRow.__table__, 20))
            raise RuntimeError("the lights went out")

    with pytest.raises(RuntimeError, match="the lights went out"):
        break_off()

    assert stored_records(database) == ()
    assert put_in(database, found, "books.csv", STAMP) == 20


def test_rows_made_ready_are_read_back_as_the_values_they_were(database: Database) -> None:
    write_something(database, 1)
    read = read_text(database, jobs_as_text(made_up_jobs(1)))
    import_jobs(database, read, "books.csv", STAMP)
    rows = ready(
        database.dialect, TimedStepsRow.__table__, [{"call_id": None, "minutes": {"a": 1.5}}]
    )

    with database.writing() as session:
        session.query(TimedStepsRow).delete()
        rows.put_in(session, call_id=[1])

    with database.reading() as session:
        assert minutes_told(session, 1) == {"a": 1.5}
        assert list_job_files(session)[0].sent_at == NOW


def test_no_rows_are_put_in_as_none(database: Database) -> None:
    nothing = ready(database.dialect, CallRow.__table__, [])

    with database.writing() as session:
        nothing.put_in(session)
        assert free_numbers(session, CallRow.__table__, 0) == []

    assert len(nothing) == 0
