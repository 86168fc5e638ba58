"""Files of closed jobs: read line by line, taken in whole or not at all, and none twice."""

from collections.abc import Mapping
from dataclasses import replace

import pytest

from tests.triage.learning.learning_shop import STAMP, WASHER, made_up_jobs, read_text, take_in
from triage.errors import JobFileError, JobLinesError
from triage.network.renames import Rename, RenameTable
from triage.services.calls.calls import Database
from triage.services.closing.export import jobs_as_csv
from triage.services.closing.values import CallBackKind
from triage.services.learning.importing import import_jobs, shipped_networks, sifted
from triage.services.learning.job_file import (
    checked_columns,
    decoded,
    guessed_columns,
    jobs_as_text,
    read_jobs,
    table_of,
)
from triage.services.learning.reading import LineReader
from triage.services.learning.stored import stored_records

LINE = {
    "job": "7",
    "appliance": WASHER,
    "closed_at": "2026-01-05",
    "outcome": "repaired",
    "findings": "says_water_left=yes; meters_supply=97.5",
    "causes": "drain_pump.burnt=works_after_repair",
}


def problems(**cells: str) -> list[str]:
    """What is said of a line."""
    reader = LineReader(network_at=shipped_networks, source="file")
    record = reader.read(2, {**LINE, **cells})
    assert (record is None) == bool(reader.problems)
    return [str(problem) for problem in reader.problems]


def read_back(text: str, columns: Mapping[str, str] | None = None) -> list[str]:
    """Jobs of a text, by number."""
    table = table_of(text)
    chosen = checked_columns(table.heading, columns or guessed_columns(table.heading))
    read = read_jobs(table, chosen, shipped_networks, source="file")
    assert read.problems == ()
    return [record.job for _, record in read.records]


def test_file_written_and_read_holds_the_same_jobs(database: Database) -> None:
    jobs = made_up_jobs(60)

    read = read_text(database, jobs_as_text(jobs))

    assert read.problems == ()
    assert tuple(record for _, record in read.records) == jobs


def test_jobs_taken_in_are_the_jobs_of_the_file(database: Database) -> None:
    jobs = made_up_jobs(60)

    assert take_in(database, 60) == 60

    kept = {(one.closed_at, one.findings): one for one in stored_records(database)}
    for job in jobs:
        one = kept[job.closed_at, job.findings]
        assert replace(one, job=job.job) == job


def test_jobs_exported_and_taken_in_elsewhere_are_the_same(
    database: Database, tmp_path_factory: pytest.TempPathFactory
) -> None:
    take_in(database, 40)
    kept = stored_records(database)
    other = Database.at(tmp_path_factory.mktemp("other") / "calls.sqlite")

    import_jobs(other, read_text(other, "".join(jobs_as_csv(database))), "export", STAMP)

    found = stored_records(other)  # they have other numbers here
    assert [replace(one, job="") for one in found] == [replace(one, job="") for one in kept]
    other.close()


def test_no_job_is_taken_in_twice(database: Database) -> None:
    take_in(database, 20)
    again = read_text(database, jobs_as_text(made_up_jobs(20)))
    renamed = [replace(job, source="the same books") for job in made_up_jobs(20)]

    assert import_jobs(database, again, "again", STAMP) == 0
    assert import_jobs(database, read_text(database, jobs_as_text(renamed)), "b", STAMP) == 0
    assert len(stored_records(database)) == 20


def test_job_that_was_taken_in_with_other_content_is_told(database: Database) -> None:
    take_in(database, 5)
    changed = [replace(made_up_jobs(5)[0], minutes=99.0)]

    found = sifted(database, read_text(database, jobs_as_text(changed)))

    assert [problem.column for problem in found.problems] == ["job"]
    assert "when it was taken in" in str(found.problems[0])


def test_one_wrong_line_keeps_the_whole_file_out(database: Database) -> None:
    text = jobs_as_text(made_up_jobs(10)).replace("repaired", "mended", 1)
    read = read_text(database, text)

    with pytest.raises(JobLinesError, match="1 problem; no job of the file was taken in") as error:
        import_jobs(database, read, "bad", STAMP)

    assert 'line 2, column "outcome": got "mended"' in str(error.value)
    assert stored_records(database) == ()


def test_call_back_leads_to_the_earlier_job(database: Database) -> None:
    first, second = made_up_jobs(2)
    back = replace(second, callback_of=first.job, callback_kind=CallBackKind.SAME)

    import_jobs(database, read_text(database, jobs_as_text([first, back])), "file", STAMP)

    earlier, later = stored_records(database)
    assert later.callback_of == earlier.job
    assert later.callback_kind is CallBackKind.SAME


def test_call_back_of_a_job_that_nobody_has_is_told(database: Database) -> None:
    back = replace(made_up_jobs(1)[0], callback_of="400", callback_kind=CallBackKind.NEW)

    found = sifted(database, read_text(database, jobs_as_text([back])))

    assert [(one.line, one.column) for one in found.problems] == [(2, "callback_of")]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiter_is_seen_from_the_heading(delimiter: str) -> None:
    rows = [list(LINE), [f'"{cell}"' for cell in LINE.values()]]

    assert read_back("\n".join(delimiter.join(row) for row in rows)) == ["7"]


def test_columns_may_have_any_order_and_names_of_their_own() -> None:
    names = {"job": "Nr", "appliance": "Machine", "closed_at": "Done", "outcome": "End"}
    heading = ["End", "Done", "Machine", "Nr"]
    text = f"{','.join(heading)}\nrepaired,2026-01-05,{WASHER},7\n"

    assert read_back(text, names) == ["7"]


def test_column_may_hold_the_same_for_every_line() -> None:
    columns = {"job": "Nr", "closed_at": "Day", "outcome": "=repaired", "appliance": f"={WASHER}"}

    assert read_back("Nr,Day\n7,2026-01-05\n8,2026-01-06\n", columns) == ["7", "8"]


@pytest.mark.parametrize(
    ("content", "text"),
    [
        ("job\n7".encode("utf-8-sig"), "job\n7"),
        ("job\n7".encode("utf-16"), "job\n7"),
        ("späte Arbeit".encode(), "späte Arbeit"),
    ],
)
def test_encodings_of_spreadsheets_are_read(content: bytes, text: str) -> None:
    assert decoded(content) == text


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("a\nspät".encode("latin-1"), "bytes on line 2 that are not UTF-8"),
        (b"PK\x03\x04\x00", "bytes that are no text"),
        (b"x" * 20_000_001, "at most 20 MB"),
    ],
)
def test_file_that_is_no_table_is_refused(content: bytes, message: str) -> None:
    with pytest.raises(JobFileError, match=message):
        decoded(content)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "got nothing"),
        ("job,job\n1,2", 'the column "job" twice'),
        ('job,x\n1,"2\n3', ""),
    ],
)
def test_heading_that_cannot_be_used_is_refused(text: str, message: str) -> None:
    if not message:
        assert len(table_of(text).lines) == 1  # a quote that never closes is one long cell
        return
    with pytest.raises(JobFileError, match=message):
        table_of(text)


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        ({"job": "a"}, "no column for appliance, closed_at, outcome"),
        ({"jobb": "a"}, 'a column "jobb".*Did you mean "job"'),
        ({"job": "b"}, '"b" for job.*expected a column of the file: a'),
        ({"job": "a", "outcome": "a", "appliance": "=x", "closed_at": "=y"}, "for two columns"),
    ],
)
def test_columns_that_do_not_fit_are_refused(columns: dict[str, str], message: str) -> None:
    with pytest.raises(JobFileError, match=message):
        checked_columns(["a"], columns)


@pytest.mark.parametrize(
    ("cells", "message"),
    [
        ({"job": ""}, 'column "job": got ""; expected a number or name of the job'),
        ({"appliance": "top_load_wascher"}, 'Did you mean "top_load_washer"'),
        ({"closed_at": "05/01/2026"}, "a day as 2026-03-02"),
        ({"opened_at": "2026-02-01"}, "expected a time before the job was closed"),
        ({"outcome": "mended"}, "repaired, declined, solved_by_phone"),
        ({"findings": "says_water_left"}, "a finding as observation=answer"),
        ({"findings": "says_water_lef=yes"}, 'Did you mean "says_water_left"'),
        ({"findings": "says_water_left=maybe"}, "an answer to says_water_left: yes, no"),
        ({"findings": "meters_supply=high"}, "or a number in V"),
        ({"causes": "drain_pump.burnt=guessed"}, "works_after_repair, seen, judged"),
        ({"causes": "drain_pump.burn=seen"}, 'Did you mean "drain_pump.burnt"'),
        ({"causes": "drain_pump.burnt=seen; drain_pump.burnt=seen"}, "each cause once"),
        ({"is_unsure": "perhaps"}, "yes or no"),
        ({"is_unsure": "yes"}, "at least two causes"),
        ({"chosen_by": "drain_pump.burnt=asks_nothing"}, "an observation of top_load_washer"),
        ({"repairs": "replace_everything"}, "a repair of top_load_washer"),
        ({"verification": "good"}, "works, still_broken, not_run"),
        ({"parts": "drain_pump*0"}, "pieces of a part, a number from 1"),
        ({"parts": "drain_pumpe"}, 'Did you mean "drain_pump"'),
        ({"parts_not_aboard": "drain_pump"}, "a part out of those fitted"),
        ({"minutes": "an hour"}, "minutes, a number from 0 to 2880"),
        ({"step_minutes": "replace_drain_pump=-3"}, "minutes, a number from 0"),
        ({"visits": "1.5"}, "a whole number"),
        ({"callback_of": "3"}, "both the earlier job and same or new, or neither"),
        ({"fee_minor": "90.50"}, "a whole number"),
        ({"currency": "dollars"}, "three letters, such as USD"),
        ({"promised_minutes_p50": "long"}, "minutes, a number"),
        ({"network_version": "one"}, "the number of a version"),
        ({"source": "x" * 101}, "at most 100 characters"),
    ],
)
def test_wrong_cell_is_told_with_place_fact_and_way_out(
    cells: dict[str, str], message: str
) -> None:
    found = problems(**cells)

    assert len(found) == 1
    assert found[0].startswith(f'line 2, column "{next(iter(cells))}"') or "callback" in found[0]
    assert message.partition(".*")[0] in found[0]


def test_every_wrong_cell_of_a_line_is_told() -> None:
    found = problems(outcome="mended", minutes="long", currency="dollars")

    assert len(found) == 3


def test_line_with_too_many_cells_is_told(database: Database) -> None:
    text = f"job,appliance,closed_at,outcome\n7,{WASHER},2026-01-05,repaired,more\n"

    read = read_text(database, text)

    assert str(read.problems[0]).startswith('line 2: got "5 cells"; expected 4 cells')


def test_job_twice_in_a_file_is_told(database: Database) -> None:
    row = f"7,{WASHER},2026-01-05,repaired\n"

    read = read_text(database, f"job,appliance,closed_at,outcome\n{row}{row}")

    assert "It stands on line 2, too." in str(read.problems[0])


def test_renamed_ids_are_read_by_their_present_names() -> None:
    table = RenameTable(
        (
            Rename("cause", "pump.dead", "drain_pump.burnt", "any", "", "one word for one thing"),
            Rename("observation", "says_old", "says_water_left", WASHER, "", "merged"),
            Rename("answer", "yes_a_lot", "yes", "any", "says_water_left", "merged"),
            Rename("observation", "says_gone", "", "any", "", "told nothing"),
        )
    )
    reader = LineReader(network_at=shipped_networks, source="file", renames=table)
    cells = {
        "causes": "pump.dead=works_after_repair",
        "findings": "says_old=yes_a_lot; says_gone=yes",
    }

    record = reader.read(2, {**LINE, **cells})

    assert record is not None
    assert record.findings == (("says_water_left", "yes"),)
    assert [cause.cause for cause in record.causes] == ["drain_pump.burnt"]
    assert reader.retired == 1
