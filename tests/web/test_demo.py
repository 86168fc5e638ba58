"""Claims about the demo shop: what it holds, that it is the same each time, that it is invented."""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.web.conftest import CHEAP
from triage.errors import UnknownCustomerError
from triage.services.booking.vans import find_vans
from triage.services.call_lists import CallPlace, ListedCall, desk_calls
from triage.services.calls.calls import CallReport, Database, Entry, Submission, open_call
from triage.services.closing.closed import ClosedLine, ClosingFilter, closed_page
from triage.services.closing.values import ClosingOutcome
from triage.services.customers.history import history_of
from triage.services.customers.records import StoredCustomer, find_customer
from triage.services.job.day import DayWanted, VisitStanding, technician_day, waiting_jobs
from triage.services.job.stock import van_stock
from triage.services.learning.overview import overview
from triage.services.learning.stored import stored_records
from triage.services.learning.work import Work, newest_result
from triage.services.networks.engines import network_choices
from triage.services.shop.settings import current_front, current_settings
from webform.demo import DEMO_CALLS, fill, prepare_demo
from webform.demo.closed_jobs import closed_jobs
from webform.demo.story import phone
from webform.demo_people import DEMO_PEOPLE, add_people

ZONE = ZoneInfo("America/New_York")
MONDAY = datetime(2026, 3, 2, 17, 10, tzinfo=UTC)  # ten past twelve there
NIGHT = datetime(2026, 3, 8, 7, 30, tzinfo=UTC)  # half past three on a Sunday when clocks change
OF_FICTION = re.compile(r"\(202\) 555-01\d\d")


def made(folder: Path, now: datetime = MONDAY) -> Database:
    database = Database.at(folder / "calls.sqlite")
    add_people(database, now, CHEAP)
    fill(database, now, ZONE)
    return database


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """A demo made on a Monday at noon."""
    database = made(tmp_path_factory.mktemp("demo"))
    yield database
    database.close()


def closed(database: Database) -> list[ClosedLine]:
    first = closed_page(database, ClosingFilter())
    pages = range(1, first.pages + 1)
    return [
        line for page in pages for line in closed_page(database, ClosingFilter(), page=page).lines
    ]


def test_demo_has_calls_in_every_place_of_the_desk(demo: Database) -> None:
    listed = desk_calls(demo, since=MONDAY - timedelta(days=7))

    assert {one.place for one in listed} == set(CallPlace)
    assert len(listed) > 2 * len(DEMO_CALLS)


def test_each_van_has_visits_today_and_they_stand_in_different_ways(demo: Database) -> None:
    standings: set[VisitStanding] = set()
    for van in find_vans(demo):
        wanted = DayWanted(login="", day=date(2026, 3, 2), zone=ZONE, now=MONDAY, van_id=van.id)
        day = technician_day(demo, wanted, current_settings(demo))
        assert len(day.visits) >= 2
        assert day.load is not None
        standings |= {one.standing for one in day.visits}

    assert {VisitStanding.DONE, VisitStanding.UNDER_WAY, VisitStanding.NEXT} <= standings


def test_one_job_waits_for_a_part_and_the_part_of_another_has_come(demo: Database) -> None:
    waiting = waiting_jobs(demo)

    assert [bool(one.job.waiting_for) for one in waiting] == [False, True]


def test_closed_jobs_are_of_every_appliance_and_every_outcome(demo: Database) -> None:
    lines = closed(demo)

    assert len(lines) > 300
    assert {line.network_id for line in lines} >= {name for name, _ in network_choices()}
    assert {line.outcome for line in lines} == {outcome.value for outcome in ClosingOutcome}
    assert sum(line.is_callback for line in lines) >= 3
    assert sum(line.is_unsure for line in lines) >= 3


def test_closed_jobs_hold_what_the_owner_compares(demo: Database) -> None:
    visited = [one for one in stored_records(demo) if one.visits]

    assert all(one.minutes is not None and one.promised is not None for one in visited)
    assert any(not part.was_aboard for one in visited for part in one.parts)
    assert {cause.degree for one in visited for cause in one.causes} >= {"seen", "judged"}
    assert min(one.closed_at for one in visited) < MONDAY - timedelta(days=300)
    assert max(one.closed_at for one in visited) <= MONDAY


def test_somebody_whose_washer_was_repaired_lately_calls_again(demo: Database) -> None:
    calls = desk_calls(demo, since=MONDAY - timedelta(hours=12))
    histories = [history_of(demo, one.state.call_id, MONDAY, 30) for one in calls]

    assert [one.callback_of is not None for one in histories].count(True) == 1


def test_shop_has_its_own_settings_and_vans_with_something_to_refill(demo: Database) -> None:
    assert current_front(demo).name == "The Quiet Drum"
    assert current_settings(demo).costs.service_fee_minor == 9500
    for van in find_vans(demo):
        stock = van_stock(demo, van.id, current_settings(demo))
        assert stock.to_refill
        assert len(stock.to_refill) < len(stock.lines)


def customers(database: Database) -> list[StoredCustomer]:
    found, number = [], 1
    while True:
        try:
            found.append(find_customer(database, number))
        except UnknownCustomerError:
            return found
        number += 1


def test_telephone_numbers_are_kept_for_fiction(demo: Database) -> None:
    """555-0100 to 555-0199 are given to nobody: North American Numbering Plan Administrator."""
    found = customers(demo)

    assert len(found) > 40
    assert all(OF_FICTION.fullmatch(one.phone_text) for one in found)
    assert len({one.phone_text for one in found}) == len(found)
    with pytest.raises(AssertionError):
        phone(100)


def test_demo_is_the_same_each_time(demo: Database, tmp_path: Path) -> None:
    again = made(tmp_path)

    told = [
        (closed(one), desk_calls(one, since=MONDAY - timedelta(days=7)), customers(one))
        for one in (demo, again)
    ]

    again.close()
    assert told[0] == told[1]


def test_nothing_of_the_demo_has_happened_after_now(tmp_path: Path) -> None:
    database = made(tmp_path, NIGHT)

    listed = desk_calls(database, since=NIGHT - timedelta(days=7))

    assert all(one.state.last_at is None or one.state.last_at <= NIGHT for one in listed)
    assert all(line.closed_at <= NIGHT for line in closed(database))
    database.close()


def test_file_of_closed_jobs_fits_the_networks_as_shipped(demo: Database) -> None:
    """If not, ``python -m tests.demo_jobs`` draws it anew."""
    read = closed_jobs(demo, MONDAY, ZONE)

    assert read.problems == ()
    assert read.retired == 0
    assert len(read.records) == 300
    people = {name for _, one in read.records for name in (one.taken_by, one.closed_by)}
    assert people <= {person.name for person in DEMO_PEOPLE}


def test_demo_that_learns_has_a_version_to_decide_on_and_scores(demo_copy: Path) -> None:
    database = Database.at(demo_copy / "calls.sqlite")

    waiting = {line.id: line.waiting for line in overview(database, datetime.now(UTC)).networks}
    scores = newest_result(database, Work.EVALUATE)
    database.close()
    assert waiting["top_load_washer"] == (2,)
    assert scores is not None


def test_demo_is_reset_to_what_it_was(tmp_path: Path) -> None:
    prepare_demo(tmp_path, reset=False, passwords=CHEAP)
    before = [one.state.call_id for one in everything(tmp_path)]
    database = Database.at(tmp_path / "calls.sqlite")
    report = CallReport(network_id="gas_dryer", caller="Somebody", words="It does not start.")
    open_call(database, report, Entry(submission=Submission("extra", 0), at=MONDAY, by="a test"))
    database.close()
    assert len(everything(tmp_path)) == len(before) + 1

    prepare_demo(tmp_path, reset=True, passwords=CHEAP)

    assert [one.state.call_id for one in everything(tmp_path)] == before


def everything(folder: Path) -> tuple[ListedCall, ...]:
    database = Database.at(folder / "calls.sqlite")
    found = desk_calls(database, since=datetime(2020, 1, 1, tzinfo=UTC), limit=1000)
    database.close()
    return found
