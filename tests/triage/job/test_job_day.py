"""Claims about the technician's day: whose van, in order, what is late, one load list."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

from tests.triage.job.job_shop import TEN, enter
from tests.web.technician import NINE, booked_call, booked_visit, van_of
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.job.day import (
    DayWanted,
    TechnicianDay,
    VisitStanding,
    technician_day,
    waiting_jobs,
)
from triage.services.job.events import Arrived, PartArrived, PartOrdered
from triage.services.job.stock import count_stock
from triage.services.people.accounts import add_person_with_password
from triage.services.people.audit import Stamp
from triage.services.people.passwords import Passwords
from triage.services.people.roles import Person, Role
from triage.store.visits import add_van

CHEAP = Passwords(passes=1, memory_kib=8, lanes=1)


def day(
    database: Database, *, login: str = "tova", now: datetime = NINE, van_id: int = 0
) -> TechnicianDay:
    wanted = DayWanted(login=login, day=date(2026, 3, 2), zone=UTC, now=now, van_id=van_id)
    return technician_day(database, wanted, DEFAULT_SETTINGS)


def add_technician(database: Database, login: str) -> None:
    person = Person(login, login.title(), Role.TECHNICIAN)
    add_person_with_password(database, person, "a van full of belts", CHEAP, Stamp(NINE, "a test"))


def test_technician_sees_the_visits_of_the_own_van_in_order(database: Database) -> None:
    add_technician(database, "tova")
    own = van_of(database, "tova")
    with database.writing() as session:
        other = add_van(session, "A van before it", 0, "another secret")
    calls = [booked_call(database, number=number) for number in (1, 2, 3)]
    booked_visit(database, calls[0], own, starts_at=TEN + timedelta(hours=3))
    booked_visit(database, calls[1], own, starts_at=TEN)
    booked_visit(database, calls[2], other, starts_at=TEN)

    found = day(database)

    assert found.van is not None
    assert found.van.id == own
    assert [one.visit.call_id for one in found.visits] == [calls[1], calls[0]]
    assert [one.minutes for one in found.visits] == [90.0, 90.0]
    assert [one.visit.call_id for one in day(database, van_id=other).visits] == [calls[2]]


def test_visit_of_another_day_is_not_shown(database: Database) -> None:
    van_id = van_of(database)
    booked_visit(database, booked_call(database), van_id, starts_at=TEN + timedelta(days=1))

    assert day(database).visits == ()
    assert day(database).load is None


def test_day_is_that_of_the_shops_own_clock(database: Database) -> None:
    van_id = van_of(database)
    late_evening = datetime(2026, 3, 3, 4, 0, tzinfo=UTC)  # 22:00 on the second in Chicago
    booked_visit(database, booked_call(database), van_id, starts_at=late_evening)
    zone = ZoneInfo("America/Chicago")
    wanted = DayWanted(login="", day=date(2026, 3, 2), zone=zone, now=NINE)

    assert len(technician_day(database, wanted, DEFAULT_SETTINGS).visits) == 1


def test_standings_tell_what_is_next_late_and_under_way(database: Database) -> None:
    van_id = van_of(database)
    calls = [booked_call(database, number=number) for number in (1, 2, 3)]
    for place, call_id in enumerate(calls):
        booked_visit(database, call_id, van_id, starts_at=TEN + timedelta(hours=2 * place))
    enter(database, calls[0], Arrived())
    half_past_two = TEN + timedelta(hours=4, minutes=30)

    early = [one.standing for one in day(database).visits]
    later = day(database, now=half_past_two).visits

    assert early == [VisitStanding.UNDER_WAY, VisitStanding.NEXT, VisitStanding.BOOKED]
    expected = [VisitStanding.UNDER_WAY, VisitStanding.LATE, VisitStanding.BOOKED]
    assert [one.standing for one in later] == expected
    assert [one.is_next for one in later] == [False, True, False]


def test_one_load_list_serves_all_visits_and_knows_the_stock(database: Database) -> None:
    van_id = van_of(database)
    for number, kind in enumerate(("top_load_washer", "gas_dryer"), start=1):
        call_id = booked_call(database, kind, number)
        booked_visit(database, call_id, van_id, starts_at=TEN + timedelta(hours=2 * number))
    before = day(database).load
    empty = Entry(submission=Submission(uuid4().hex, 0), at=TEN, by="Tova Lind")
    count_stock(database, van_id, {"igniter:": 0}, DEFAULT_SETTINGS, empty)

    after = day(database).load

    assert before is not None
    assert after is not None
    assert len(before.visits) == 2
    assert "igniter" in [entry.part.id for entry in before.check]
    assert "igniter" in [entry.part.id for entry in after.take]
    assert all(entry.reason for entry in (*after.take, *after.check))


def test_shop_without_vans_has_an_empty_day(database: Database) -> None:
    found = day(database)

    assert (found.van, found.visits, found.load) == (None, (), None)


def test_list_of_waiting_jobs_begins_with_those_whose_parts_are_there(database: Database) -> None:
    calls = [booked_call(database, number=number) for number in (1, 2, 3)]
    enter(database, calls[0], PartOrdered("main_control", date(2026, 3, 9)))
    enter(database, calls[1], PartOrdered("main_control", date(2026, 3, 4)))
    enter(database, calls[1], PartArrived("main_control"))

    found = waiting_jobs(database)

    assert [one.job.call.call_id for one in found] == [calls[1], calls[0]]
    assert [bool(one.job.waiting_for) for one in found] == [False, True]
    assert all(one.customer is not None for one in found)
