"""Claims about the search of calls: every call is searched, in the database, page by page."""

from datetime import timedelta

import pytest
from sqlalchemy import insert

from tests.triage.desk.booking_shop import MONDAY_SIX, page
from triage.services.call_lists import PAGE_LENGTH, search_calls
from triage.services.calls.calls import CallReport, Database, open_call
from triage.services.folding import folded
from triage.store.tables.calls import CallRow

MANY = 5200  # calls of some years


def called(database: Database, caller: str) -> int:
    report = CallReport(network_id="gas_dryer", caller=caller, words="cold")
    return open_call(database, report, page())


def many_calls(database: Database, caller: str, count: int) -> None:
    """Calls of one caller after each other, a minute apart."""
    rows = [
        {
            "client_id": f"many {number}",
            "network_id": "gas_dryer",
            "network_version": 1,
            "caller": caller,
            "caller_folded": folded(caller),
            "opened_at": MONDAY_SIX + timedelta(minutes=number + 1),
            "opened_by": "ana",
            "version": 0,
            "is_open": False,
        }
        for number in range(count)
    ]
    with database.writing() as session:
        session.execute(insert(CallRow), rows)


def numbers(database: Database, text: str, number: int = 1) -> list[int]:
    return [one.state.call_id for one in search_calls(database, text, "US", page=number).lines]


def test_oldest_of_many_calls_is_found(database: Database) -> None:
    oldest = called(database, "Quillon Abery")
    many_calls(database, "Somebody else", MANY)

    assert numbers(database, "quillon") == [oldest]
    assert numbers(database, "abery quillon") == [oldest]


def test_found_calls_come_page_by_page_newest_first(database: Database) -> None:
    many_calls(database, "Mill cottage", 2 * PAGE_LENGTH + 7)

    pages = [search_calls(database, "mill", "US", page=number) for number in (1, 2, 3, 9)]

    assert [len(one.lines) for one in pages] == [PAGE_LENGTH, PAGE_LENGTH, 7, 7]
    assert [(one.count, one.page, one.pages) for one in pages] == [
        (107, 1, 3),
        (107, 2, 3),
        (107, 3, 3),
        (107, 3, 3),
    ]
    opened = [line.state.opened_at for one in pages[:3] for line in one.lines]
    assert opened == sorted(opened, reverse=True)
    assert len(set(opened)) == 107


@pytest.mark.parametrize("text", ["ASTROM", "åström", "  Astrom zoe", "zoé"])
def test_caller_is_found_in_any_writing(database: Database, text: str) -> None:
    call_id = called(database, "Zoë Åström")

    assert numbers(database, text) == [call_id]


def test_signs_of_a_pattern_stand_for_themselves(database: Database) -> None:
    called(database, "Mill cottage")
    with_sign = called(database, "100 % cotton")

    assert numbers(database, "%") == [with_sign]
    assert numbers(database, "_") == []
    assert numbers(database, "9" * 30) == []


def test_letter_that_becomes_many_when_folded_can_be_called(database: Database) -> None:
    call_id = called(database, "\ufdfa" * 60)  # eighteen letters each once it is folded

    assert numbers(database, "\ufdfa") == [call_id]
