"""Claims about entries made without signal: in order, each once, conflicts told."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.triage.job.job_shop import TEN, enter, job_of_the_morning, kept, stock
from triage.errors import UnknownCallError
from triage.network.catalogue import load_network
from triage.services.call_log.events import FindingMade
from triage.services.calls.calls import Database
from triage.services.job.events import AnsweredTwice
from triage.services.job.record import Reception, SentEntry, record_entries
from triage.services.job.sheet import find_job

WASHER = load_network("top_load_washer")
PUMP = "tests_drain_pump"
LOOK = "sees_standing_water"
NOON = TEN + timedelta(hours=2)
ANSWERS = {name: list(WASHER.observations[name].answers) for name in (PUMP, LOOK)}


def made_without_signal(shown: int) -> list[SentEntry]:
    """A finding, a repair with its piece, and a finding after it."""
    repair = {
        "repair": "replace_drain_pump",
        "pieces": [{"part": "drain_pump", "variant": "", "pieces": 1}],
        "verified": "still_broken",
    }
    return [
        kept("finding", {"observation": PUMP, "answer": ANSWERS[PUMP][2]}, shown=shown),
        kept("job_repair", repair, shown=shown, made_at=TEN + timedelta(minutes=20)),
        kept(
            "finding",
            {"observation": PUMP, "answer": ANSWERS[PUMP][0]},
            shown=shown,
            made_at=TEN + timedelta(minutes=30),
        ),
    ]


def on_site(database: Database, call_id: int) -> list[str]:
    events = find_job(database, call_id).evidence(WASHER).events
    return [str(event) for event in events if "says_" not in str(event)]


def test_entries_go_in_once_and_in_order_however_often_they_are_sent(database: Database) -> None:
    call_id, van_id = job_of_the_morning(database)
    entries = made_without_signal(find_job(database, call_id).version)

    first = record_entries(database, call_id, entries, at=NOON, by="Tova Lind")
    again = record_entries(database, call_id, entries, at=NOON, by="Tova Lind")

    assert [one.reception for one in first] == [Reception.STORED] * 3
    assert [one.reception for one in again] == [Reception.STORED_BEFORE] * 3
    assert on_site(database, call_id) == [
        f"{PUMP}={ANSWERS[PUMP][2]}",
        "repair replace_drain_pump",
        "verification_run=fails",
        f"{PUMP}={ANSWERS[PUMP][0]}",
    ]
    assert stock(database, van_id) == {("drain_pump", ""): -1}


def test_batch_of_which_half_arrived_is_completed(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    entries = made_without_signal(find_job(database, call_id).version)
    record_entries(database, call_id, entries[:2], at=NOON, by="Tova Lind")

    rest = record_entries(database, call_id, entries, at=NOON, by="Tova Lind")

    expected = [Reception.STORED_BEFORE, Reception.STORED_BEFORE, Reception.STORED]
    assert [one.reception for one in rest] == expected
    assert len(on_site(database, call_id)) == 4


@pytest.mark.parametrize(("minutes", "counts"), [(-10, 0), (10, 1)])
def test_answer_given_twice_stays_twice_in_the_log_and_the_later_one_counts(
    database: Database, minutes: int, counts: int
) -> None:
    call_id, _ = job_of_the_morning(database)
    shown = find_job(database, call_id).version
    kept_answer, other_answer = ANSWERS[LOOK][:2]
    meanwhile = TEN + timedelta(minutes=minutes)
    enter(database, call_id, FindingMade(LOOK, other_answer), at=meanwhile)
    entry = kept("finding", {"observation": LOOK, "answer": kept_answer}, shown=shown)

    record_entries(database, call_id, [entry], at=NOON, by="Tova Lind")

    job = find_job(database, call_id)
    answer = (kept_answer, other_answer)[counts]
    assert job.answer_to(LOOK) == answer
    assert [one.event for one in job.told] == [
        AnsweredTwice(LOOK, kept_answer, other_answer, answer)
    ]
    assert job.version == shown + 3  # both answers, and that they met


def test_same_answer_given_twice_is_no_conflict(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    shown = find_job(database, call_id).version
    enter(database, call_id, FindingMade(LOOK, ANSWERS[LOOK][0]))
    entry = kept("finding", {"observation": LOOK, "answer": ANSWERS[LOOK][0]}, shown=shown)

    record_entries(database, call_id, [entry], at=NOON, by="Tova Lind")

    assert find_job(database, call_id).told == ()


def test_correction_within_what_was_kept_is_no_conflict(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    shown = find_job(database, call_id).version
    entries = [
        kept("finding", {"observation": LOOK, "answer": answer}, shown=shown)
        for answer in ANSWERS[LOOK][:2]
    ]

    record_entries(database, call_id, entries, at=NOON, by="Tova Lind")

    job = find_job(database, call_id)
    assert (job.answer_to(LOOK), job.told) == (ANSWERS[LOOK][1], ())


def test_entry_that_is_refused_does_not_hold_up_the_others(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    shown = find_job(database, call_id).version
    entries = [
        kept("finding", {"observation": PUMP, "answer": "perhaps"}, shown=shown),
        kept("dance", {}, shown=shown),
        kept("job_note", {"text": "Side door is open"}, shown=shown),
    ]

    received = record_entries(database, call_id, entries, at=NOON, by="Tova Lind")

    expected = [Reception.REFUSED, Reception.REFUSED, Reception.STORED]
    assert [one.reception for one in received] == expected
    assert 'Unknown answer "perhaps"' in received[0].message
    assert find_job(database, call_id).version == shown + 1


@pytest.mark.parametrize(
    ("made_at", "expected"),
    [
        (datetime(2020, 1, 1, tzinfo=UTC), TEN - timedelta(hours=1)),  # before the call was opened
        (datetime(2030, 1, 1, tzinfo=UTC), NOON),
        (TEN, TEN),
    ],
)
def test_time_of_a_device_counts_between_the_call_and_now(
    database: Database, made_at: datetime, expected: datetime
) -> None:
    call_id, _ = job_of_the_morning(database)
    shown = find_job(database, call_id).version
    entry = kept("job_note", {"text": "Bell is broken"}, shown=shown, made_at=made_at)

    record_entries(database, call_id, [entry], at=NOON, by="Tova Lind")

    assert [one.at for one in find_job(database, call_id).told] == [expected]


def test_entries_of_an_unknown_job_are_refused(database: Database) -> None:
    with pytest.raises(UnknownCallError, match='No call "77"'):
        record_entries(database, 77, [], at=NOON, by="Tova Lind")
