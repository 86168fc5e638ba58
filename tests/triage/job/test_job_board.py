"""Claims about the board of a call after somebody was at the machine."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from sqlalchemy import Engine, event

from tests.triage.desk.booking_shop import desk
from tests.triage.job.playing_jobs import (
    ON_SITE,
    PUMP,
    add,
    finding,
    phoned,
    repair,
    repaired,
)
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.booking.offer import SlotSearch
from triage.services.calls.board import CallPlan, call_board, call_plan
from triage.services.calls.calls import Database
from triage.services.calls.whole import call_whole
from triage.services.job.board import (
    evidence_on_site,
    job_board,
    job_branches,
    job_offer,
    job_plan,
    ranked_by_job,
)
from triage.services.job.events import RepairDone
from triage.services.job.sheet import job_sheet
from triage.services.plan.ranking import Ranking
from triage.store.calls import Draft


def chance(ranking: Ranking, mode: str) -> float:
    """Chance of a cause; 0 if it is not among those shown."""
    return next((one.probability for one in ranking.causes if one.mode == mode), 0.0)


def planned_in(call: CallPlan) -> set[str]:
    """Tests that a plan begins with."""
    return {step.planned.observation.id for step in call.plan.steps}


@contextmanager
def logs_read() -> Iterator[list[str]]:
    """Statements that read the log of a call while the block runs."""
    found: list[str] = []

    def listen(*told: object) -> None:
        statement = str(told[2])
        if "FROM events" in statement:
            found.append(statement)

    event.listen(Engine, "before_cursor_execute", listen)
    try:
        yield found
    finally:
        event.remove(Engine, "before_cursor_execute", listen)


@pytest.mark.parametrize("shown", [job_board, job_plan, job_branches])
def test_page_of_a_call_reads_its_log_once(
    database: Database, shown: Callable[[Database, int], object]
) -> None:
    call_id = repaired(database)

    with logs_read() as statements:
        shown(database, call_id)

    assert len(statements) == 1


def test_board_is_that_of_the_phone_before_anybody_was_there(database: Database) -> None:
    call_id = phoned(database)

    found = job_board(database, call_id)

    assert found.on_site == ()
    assert found.board == call_board(database, call_id)


def test_repair_that_worked_clears_the_cause_on_the_board(database: Database) -> None:
    call_id = repaired(database)

    found = job_board(database, call_id)

    by_phone = call_board(database, call_id).ranking
    assert chance(by_phone, PUMP) > 0.8
    assert chance(found.board.ranking, PUMP) < 0.1
    assert [one.repair for one in found.repairs] == ["replace_drain_pump"]
    assert [one.observation for one in found.findings] == [
        "sees_standing_water",
        "tests_drain_pump",
    ]


def test_board_ranks_as_the_job_sheet_does(database: Database) -> None:
    call_id = phoned(database)
    add(database, call_id, finding("tests_drain_pump", "hums"), at=ON_SITE)
    cleared = repair("clear_drain_pump", "still_broken")
    add(database, call_id, cleared, at=ON_SITE + timedelta(minutes=20))
    add(database, call_id, finding("tests_drain_pump", "silent"), at=ON_SITE + timedelta(hours=1))

    board = job_board(database, call_id).board

    sheet = job_sheet(database, call_id, DEFAULT_SETTINGS)
    assert sheet.ranking is not None
    assert board.ranking.causes == sheet.ranking.causes
    assert board.ranking.nothing_failed == sheet.ranking.nothing_failed


def test_repair_taken_back_is_not_counted(database: Database) -> None:
    call_id = repaired(database)
    from_job = job_board(database, call_id).board.ranking
    undone = Draft("job_repair_undone", {"repair": "replace_drain_pump"})
    add(database, call_id, undone, at=ON_SITE + timedelta(hours=1))

    found = job_board(database, call_id)

    assert found.repairs == ()
    assert chance(found.board.ranking, PUMP) > chance(from_job, PUMP)


def test_program_gets_the_board_of_the_job(database: Database) -> None:
    call_id = repaired(database)

    whole = call_whole(database, call_id, DEFAULT_SETTINGS, ranked=ranked_by_job)

    assert whole.board == job_board(database, call_id, settings=DEFAULT_SETTINGS).board


def test_what_was_done_on_site_stands_in_its_order(database: Database) -> None:
    made = job_board(database, repaired(database)).on_site

    assert [one.at for one in made] == sorted(one.at for one in made)
    assert isinstance(made[-1].event, RepairDone)


def test_plan_of_a_second_visit_knows_what_was_found_and_repaired(database: Database) -> None:
    call_id = phoned(database)
    first = call_plan(database, call_id)
    add(database, call_id, finding("tests_drain_pump", "silent"), at=ON_SITE)
    cleared = repair("clear_drain_pump", "still_broken")
    add(database, call_id, cleared, at=ON_SITE + timedelta(minutes=20))

    again = job_plan(database, call_id)
    branches = job_branches(database, call_id)

    without_repair = call_plan(database, call_id)
    assert "tests_drain_pump" in planned_in(first)
    assert "tests_drain_pump" not in planned_in(again)
    assert again.causes != without_repair.causes
    assert branches.plan.lines


def test_second_visit_is_offered_as_long_as_what_is_left_of_the_job(database: Database) -> None:
    call_id = phoned(database)
    add(database, call_id, finding("tests_drain_pump", "silent"), at=ON_SITE)
    at = ON_SITE + timedelta(hours=2)

    offer = job_offer(database, call_id, SlotSearch(), DEFAULT_SETTINGS, desk(), now=at)

    assert evidence_on_site(database, call_id) is not None
    assert offer.proposed_minutes == job_plan(database, call_id).offer.slot_minutes
