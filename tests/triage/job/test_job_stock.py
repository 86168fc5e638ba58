"""Claims about the stock of a van: counted, used, refilled, missing; and what the plans see."""

from dataclasses import replace
from uuid import uuid4

import pytest

from tests.triage.job.job_shop import TEN, enter, job_of_the_morning, stock
from triage.errors import UnknownVanError, UnusableEntryError
from triage.inference.evidence import Evidence
from triage.planning.shop.fitting import Variant
from triage.planning.shop.settings import DEFAULT_SETTINGS, PartSettings
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.job.events import PieceUsed, RepairDone
from triage.services.job.stock import (
    count_stock,
    refill_stock,
    settings_with_stock,
    van_stock,
)
from triage.services.networks.engines import engine_for

PUMP = "drain_pump:"
SETTINGS = replace(
    DEFAULT_SETTINGS,
    parts={
        "drain_pump": PartSettings(stock=3),
        "lid_lock": PartSettings(
            variants=(
                Variant(number="LL-1", plates=("QD*",), share=0.7, stock=2),
                Variant(number="LL-2", plates=("QE*",), share=0.3, stock=1),
            )
        ),
    },
)


def a_page() -> Entry:
    return Entry(submission=Submission(uuid4().hex, 0), at=TEN, by="Tova Lind")


def missing(database: Database, van_id: int) -> dict[str, int]:
    return {line.id: line.missing for line in van_stock(database, van_id, SETTINGS).to_refill}


def test_stock_is_the_sum_of_what_was_counted_used_and_refilled(database: Database) -> None:
    call_id, van_id = job_of_the_morning(database)

    count_stock(database, van_id, {PUMP: 4}, SETTINGS, a_page())
    enter(database, call_id, RepairDone("replace_drain_pump", (PieceUsed("drain_pump", "", 3),)))
    refill_stock(database, van_id, {PUMP: 2}, SETTINGS, a_page())

    assert stock(database, van_id) == {("drain_pump", ""): 3}


def test_count_replaces_what_the_moves_say(database: Database) -> None:
    _, van_id = job_of_the_morning(database)
    count_stock(database, van_id, {PUMP: 4, "lid_lock:LL-1": 1}, SETTINGS, a_page())

    count_stock(database, van_id, {PUMP: 1}, SETTINGS, a_page())

    assert stock(database, van_id) == {("drain_pump", ""): 1, ("lid_lock", "LL-1"): 1}


def test_page_sent_twice_counts_once(database: Database) -> None:
    _, van_id = job_of_the_morning(database)
    same = a_page()

    refill_stock(database, van_id, {PUMP: 2}, SETTINGS, same)
    refill_stock(database, van_id, {PUMP: 2}, SETTINGS, same)

    assert stock(database, van_id) == {("drain_pump", ""): 2}


def test_refill_list_names_what_was_counted_below_the_level_wanted(database: Database) -> None:
    _, van_id = job_of_the_morning(database)

    counts = {PUMP: 1, "lid_lock:LL-1": 2, "lid_lock:LL-2": 0}
    count_stock(database, van_id, counts, SETTINGS, a_page())

    assert missing(database, van_id) == {PUMP: 2, "lid_lock:LL-2": 1}


def test_piece_counted_as_none_is_missing_and_one_never_counted_is_not(database: Database) -> None:
    _, van_id = job_of_the_morning(database)
    before = missing(database, van_id)

    count_stock(database, van_id, {"inlet_valve:": 0}, SETTINGS, a_page())

    assert before == {}
    assert missing(database, van_id) == {"inlet_valve:": 1}


@pytest.mark.parametrize(
    ("counts", "message"),
    [
        ({"wings:": 1}, 'piece "wings:"'),
        ({PUMP: -1}, "-1 pieces; expected 0 to 999"),
        ({PUMP: 1000}, "1000 pieces"),
    ],
)
def test_count_that_cannot_be_is_refused(
    database: Database, counts: dict[str, int], message: str
) -> None:
    _, van_id = job_of_the_morning(database)

    with pytest.raises(UnusableEntryError, match=message):
        count_stock(database, van_id, counts, SETTINGS, a_page())

    assert stock(database, van_id) == {}


def test_stock_of_an_unknown_van_is_refused(database: Database) -> None:
    with pytest.raises(UnknownVanError, match="There is no van 9"):
        van_stock(database, 9, SETTINGS)


def test_settings_take_the_counts_of_the_van_and_leave_the_network_alone() -> None:
    counts = {("drain_pump", ""): 0, ("lid_lock", "LL-2"): 5, ("inlet_valve", ""): -2}

    own = settings_with_stock(SETTINGS, counts)

    assert own.parts["drain_pump"].stock == 0
    assert [one.stock for one in own.parts["lid_lock"].variants] == [2, 5]
    assert own.parts["inlet_valve"].stock == 0
    before = engine_for("top_load_washer", SETTINGS)
    assert engine_for("top_load_washer", own).network == before.network
    assert before.posterior(Evidence()).weights.sum() == pytest.approx(1.0)
