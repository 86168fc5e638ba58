"""Claims about booking: nothing is booked twice, and what happens is told to the call."""

import threading
from datetime import datetime, timedelta

import pytest

from tests.triage.desk.booking_shop import (
    MONDAY_SIX,
    booked,
    call_for_visit,
    desk,
    local,
    now_page,
    page,
    vans,
)
from triage.errors import (
    SlotTakenError,
    SlotTimeError,
    StaleCallError,
    UnknownVanError,
    UnknownVisitError,
    VisitStateError,
)
from triage.services.booking.overview import booking_of_call
from triage.services.booking.visits import (
    BookingWanted,
    SlotWanted,
    book_visit,
    cancel_visit,
    find_visit,
    miss_visit,
    move_visit,
    run_late,
)
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import Database, answer_question, end_call, find_call, reopen_call
from triage.store.calls import read_call
from triage.store.visits import DONE, change_visit


def slot(van_id: int, starts_at: datetime, minutes: int = 60) -> SlotWanted:
    return SlotWanted(van_id=van_id, starts_at=starts_at, minutes=minutes)


def kinds(database: Database, call_id: int) -> list[str]:
    with database.reading() as session:
        return [event.kind for event in read_call(session, call_id).events]


def test_booked_visit_has_its_window_and_is_told_to_the_call(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    wanted = BookingWanted(
        call_id=call_id, slot=slot(van, local(3, 10)), note="dog", promised={"fee_minor": 9000}
    )

    visit_id = book_visit(database, wanted, desk(), now_page(database, call_id))

    visit = find_visit(database, visit_id)
    assert (visit.starts_at, visit.ends_at) == (local(3, 10), local(3, 11))
    assert (visit.window_starts_at, visit.window_ends_at) == (local(3, 10), local(3, 12))
    assert kinds(database, call_id)[-1] == "visit_booked"
    assert booking_of_call(database, call_id).promised == {"fee_minor": 9000}
    assert booking_of_call(database, call_id).live == visit


def test_booking_an_open_call_ends_it_with_a_visit(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database, ended=False)

    booked(database, van, local(3, 10), call_id=call_id)

    outcome = find_call(database, call_id).outcome
    assert outcome is not None
    assert outcome.outcome is CallOutcome.VISIT
    assert kinds(database, call_id)[-2:] == ["outcome", "visit_booked"]


def test_booking_sent_twice_is_one_visit(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    wanted = BookingWanted(call_id=call_id, slot=slot(van, local(3, 10)))
    entry = now_page(database, call_id)
    first = book_visit(database, wanted, desk(), entry)

    second = book_visit(database, wanted, desk(), entry)

    assert second == first
    assert len(booking_of_call(database, call_id).visits) == 1


def test_other_time_from_the_same_page_is_stale(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    entry = now_page(database, call_id)
    book_visit(
        database, BookingWanted(call_id=call_id, slot=slot(van, local(3, 10))), desk(), entry
    )

    with pytest.raises(StaleCallError):
        book_visit(
            database, BookingWanted(call_id=call_id, slot=slot(van, local(3, 14))), desk(), entry
        )


@pytest.mark.parametrize(
    ("hour", "minute", "minutes"),
    [(10, 0, 60), (9, 30, 60), (10, 30, 15), (9, 0, 180), (11, 10, 60), (9, 0, 45)],
)
def test_time_that_is_taken_with_its_way_is_refused(
    database: Database, hour: int, minute: int, minutes: int
) -> None:
    van, _ = vans(database)
    booked(database, van, local(3, 10), 60)

    with pytest.raises(SlotTakenError, match="North has a visit from 10:00 to 11:00, and 20 min"):
        booked(database, van, local(3, hour, minute), minutes)


def test_neighbouring_time_and_the_other_van_are_free(database: Database) -> None:
    van, other = vans(database)
    booked(database, van, local(3, 10), 60)

    booked(database, van, local(3, 11, 20), 60)
    booked(database, van, local(3, 8, 40), 60)
    booked(database, other, local(3, 10), 60)


def test_of_two_who_book_one_time_at_once_one_is_refused(database: Database) -> None:
    van, _ = vans(database)
    calls = [call_for_visit(database) for _ in range(6)]
    entries = [now_page(database, call_id) for call_id in calls]
    start = threading.Barrier(len(calls))
    ends: list[object] = []

    def book(number: int) -> None:
        start.wait()
        wanted = BookingWanted(call_id=calls[number], slot=slot(van, local(3, 10, number * 5)))
        try:
            ends.append(book_visit(database, wanted, desk(), entries[number]))
        except SlotTakenError as error:
            ends.append(error)

    threads = [threading.Thread(target=book, args=(number,)) for number in range(len(calls))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(type(end).__name__ for end in ends) == ["SlotTakenError"] * 5 + ["int"]


def test_of_two_who_book_one_call_at_once_one_is_refused(database: Database) -> None:
    van, other = vans(database)
    call_id = call_for_visit(database)
    entries = [now_page(database, call_id) for _ in range(2)]
    start = threading.Barrier(2)
    ends: list[object] = []

    def book(number: int) -> None:
        start.wait()
        wanted = BookingWanted(call_id=call_id, slot=slot((van, other)[number], local(3, 10)))
        try:
            ends.append(book_visit(database, wanted, desk(), entries[number]))
        except StaleCallError as error:
            ends.append(error)

    threads = [threading.Thread(target=book, args=(number,)) for number in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(type(end).__name__ for end in ends) == ["StaleCallError", "int"]


@pytest.mark.parametrize(
    ("starts_at", "minutes", "message"),
    [
        (MONDAY_SIX - timedelta(minutes=1), 60, "that time is past"),
        (local(3, 10), 0, "a visit of 0 minutes"),
        (local(3, 10), 481, "a visit of 481 minutes"),
    ],
)
def test_time_that_cannot_be_is_refused(
    database: Database, starts_at: datetime, minutes: int, message: str
) -> None:
    van, _ = vans(database)

    with pytest.raises(SlotTimeError, match=message):
        booked(database, van, starts_at, minutes)


def test_unknown_van_and_visit_are_refused(database: Database) -> None:
    with pytest.raises(UnknownVanError):
        booked(database, 9, local(3, 10))
    with pytest.raises(UnknownVisitError, match="No visit 9 is booked"):
        find_visit(database, 9)


def test_call_that_has_a_visit_takes_no_second(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    booked(database, van, local(3, 10), call_id=call_id)

    with pytest.raises(SlotTimeError, match="has a visit already"):
        booked(database, van, local(3, 14), call_id=call_id)


def test_call_that_was_declined_takes_no_visit(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database)
    reopen_call(database, call_id, now_page(database, call_id))
    end_call(database, call_id, CallOutcome.DECLINED, "", now_page(database, call_id))

    with pytest.raises(SlotTimeError, match="did not end with a visit"):
        booked(database, van, local(3, 10), call_id=call_id)


def test_visit_moved_to_another_van_and_time_counts_up_and_frees_the_old(
    database: Database,
) -> None:
    van, other = vans(database)
    visit_id = booked(database, van, local(3, 10))
    run_late(database, visit_id, 30, now_page(database, 1))

    move_visit(database, visit_id, slot(other, local(4, 9), 90), desk(), now_page(database, 1))

    visit = find_visit(database, visit_id)
    assert (visit.van, visit.starts_at, visit.ends_at) == ("South", local(4, 9), local(4, 10, 30))
    assert (visit.window_starts_at, visit.late_minutes) == (local(4, 9), 0)
    assert visit.sequence == 2
    booked(database, van, local(3, 10))


def test_visit_cannot_be_moved_onto_another(database: Database) -> None:
    van, _ = vans(database)
    booked(database, van, local(3, 14))
    visit_id = booked(database, van, local(3, 10))

    with pytest.raises(SlotTakenError):
        move_visit(database, visit_id, slot(van, local(3, 13)), desk(), now_page(database, 2))

    assert find_visit(database, visit_id).starts_at == local(3, 10)


def test_running_late_moves_the_window_from_the_plan_and_not_from_before(
    database: Database,
) -> None:
    van, _ = vans(database)
    visit_id = booked(database, van, local(3, 10))

    run_late(database, visit_id, 40, now_page(database, 1))
    run_late(database, visit_id, 25, now_page(database, 1))

    visit = find_visit(database, visit_id)
    assert (visit.window_starts_at, visit.window_ends_at) == (local(3, 10, 25), local(3, 12, 25))
    assert (visit.late_minutes, visit.starts_at) == (25, local(3, 10))


@pytest.mark.parametrize("minutes", [-5, 481])
def test_late_by_an_impossible_time_is_refused(database: Database, minutes: int) -> None:
    van, _ = vans(database)
    visit_id = booked(database, van, local(3, 10))

    with pytest.raises(SlotTimeError, match="not between 0 and 480"):
        run_late(database, visit_id, minutes, now_page(database, 1))


def test_cancelled_visit_keeps_its_reason_and_the_call_can_be_booked_again(
    database: Database,
) -> None:
    van, _ = vans(database)
    visit_id = booked(database, van, local(3, 10))

    cancel_visit(database, visit_id, " ill ", now_page(database, 1))
    again = booked(database, van, local(3, 10), call_id=1)

    with database.reading() as session:
        cancelled = next(
            one for one in read_call(session, 1).events if one.kind == "visit_cancelled"
        )
    assert cancelled.payload["reason"] == "ill"
    assert [one.state for one in booking_of_call(database, 1).visits] == ["cancelled", "booked"]
    assert again != visit_id


def test_nobody_can_be_missed_before_the_visit(database: Database) -> None:
    van, _ = vans(database)
    visit_id = booked(database, van, local(3, 10))

    with pytest.raises(SlotTimeError, match="has not begun"):
        miss_visit(database, visit_id, now_page(database, 1))

    miss_visit(database, visit_id, now_page(database, 1, at=local(3, 10, 20)))
    assert find_visit(database, visit_id).state == "no_show"


def test_visit_that_is_done_is_left_as_it_is(database: Database) -> None:
    van, _ = vans(database)
    visit_id = booked(database, van, local(3, 10))
    with database.writing() as session:
        change_visit(session, visit_id, at=MONDAY_SIX, state=DONE)

    for change in (
        lambda entry: cancel_visit(database, visit_id, "", entry),
        lambda entry: run_late(database, visit_id, 10, entry),
        lambda entry: move_visit(database, visit_id, slot(van, local(4, 9)), desk(), entry),
    ):
        with pytest.raises(VisitStateError, match="This visit is done"):
            change(now_page(database, 1))


def test_change_from_an_old_page_is_refused(database: Database) -> None:
    van, _ = vans(database)
    visit_id = booked(database, van, local(3, 10))
    old = now_page(database, 1)
    run_late(database, visit_id, 10, now_page(database, 1))

    with pytest.raises(StaleCallError):
        cancel_visit(database, visit_id, "", old)


def test_change_sent_twice_counts_once(database: Database) -> None:
    van, _ = vans(database)
    visit_id = booked(database, van, local(3, 10))
    entry = now_page(database, 1)

    run_late(database, visit_id, 10, entry)
    run_late(database, visit_id, 10, entry)

    assert find_visit(database, visit_id).sequence == 1


def test_rebooking_for_a_part_keeps_every_finding(database: Database) -> None:
    van, _ = vans(database)
    call_id = call_for_visit(database, ended=False)
    answer_question(database, call_id, "asks_age", "over_12", now_page(database, call_id))
    visit_id = booked(database, van, local(3, 10), call_id=call_id)
    with database.writing() as session:
        change_visit(session, visit_id, at=MONDAY_SIX, state=DONE)

    booked(database, van, local(9, 10), call_id=call_id)

    assert find_call(database, call_id).answer_to("asks_age") == "over_12"
    assert [one.state for one in booking_of_call(database, call_id).visits] == ["done", "booked"]


def test_visit_across_a_clock_change_is_as_long_as_was_booked(database: Database) -> None:
    van, _ = vans(database)

    call_id = call_for_visit(database)
    night = SlotWanted(van_id=van, starts_at=local(8, 1, 30), minutes=60, outside_hours=True)
    wanted = BookingWanted(call_id=call_id, slot=night)

    visit = find_visit(database, book_visit(database, wanted, desk(), now_page(database, call_id)))

    assert visit.ends_at == local(8, 3, 30)  # the clock goes from 2:00 to 3:00
    assert visit.window_ends_at == local(8, 4, 30)


def test_page_carries_who_booked(database: Database) -> None:
    van, _ = vans(database)
    visit_id = booked(database, van, local(3, 10))

    assert find_visit(database, visit_id).booked_by == page().by
