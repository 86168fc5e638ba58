"""Claims about what is entered on a visit: evidence in order, undo, quotes, orders, refusals."""

from datetime import date, timedelta

import pytest

from tests.triage.job.job_shop import TEN, enter, job_of_the_morning, page, stock
from tests.web.technician import booked_call
from triage.errors import (
    NotPossibleNowError,
    ReadingError,
    ReadingOutOfSpanError,
    StaleCallError,
    UnknownAnswerError,
    UnknownObservationError,
    UnknownPartError,
    UnknownRepairError,
    UnusableEntryError,
)
from triage.inference import evidence as inference
from triage.inference.evidence import Finding
from triage.network.catalogue import load_network
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.call_log.events import FindingMade, FindingUndone
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.closing.close import close_job
from triage.services.closing.values import ClosingGiven, ClosingOutcome
from triage.services.job.day import waiting_jobs
from triage.services.job.events import (
    AnsweredTwice,
    Arrived,
    JobEvent,
    Left,
    OwnFinding,
    PartArrived,
    PartOrdered,
    PieceUsed,
    QuoteAuthorised,
    QuoteDeclined,
    QuoteGiven,
    RepairDone,
    RepairUndone,
    SecondFault,
    StepOverruled,
    Verified,
    VisitNote,
    as_draft,
    event_from_sent,
    from_stored,
)
from triage.services.job.record import record
from triage.services.job.sheet import find_job
from triage.services.settings.shop_front import DEFAULT_FRONT
from triage.store.visits import visits_of_call

WASHER = load_network("top_load_washer")
PUMP = "tests_drain_pump"
REPLACE_PUMP = "replace_drain_pump"


def evidence(database: Database, call_id: int) -> list[str]:
    """Events on site, as the ranking gets them."""
    events = find_job(database, call_id).evidence(WASHER).events
    return [str(event) for event in events if "says_" not in str(event)]


def some_answers(observation: str) -> list[str]:
    return list(WASHER.observations[observation].answers)


def test_findings_and_repairs_are_evidence_in_the_order_they_were_made(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    first, second = some_answers(PUMP)[:2]

    enter(database, call_id, FindingMade(PUMP, first))
    enter(database, call_id, RepairDone(REPLACE_PUMP, verified=Verified.STILL_BROKEN))
    enter(database, call_id, FindingMade(PUMP, second))

    assert evidence(database, call_id) == [
        f"{PUMP}={first}",
        f"repair {REPLACE_PUMP}",
        "verification_run=fails",
        f"{PUMP}={second}",
    ]


def test_same_test_before_a_repair_replaces_the_answer(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    first, second = some_answers(PUMP)[:2]

    enter(database, call_id, FindingMade(PUMP, first))
    enter(database, call_id, FindingMade(PUMP, second))

    assert evidence(database, call_id) == [f"{PUMP}={second}"]


def test_repair_without_a_check_run_says_nothing_of_the_machine(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)

    enter(database, call_id, RepairDone(REPLACE_PUMP))

    assert evidence(database, call_id) == [f"repair {REPLACE_PUMP}"]
    assert find_job(database, call_id).verified(WASHER) is Verified.NOT_RUN


def test_check_run_entered_by_itself_counts_for_the_repair_before_it(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    enter(database, call_id, RepairDone(REPLACE_PUMP))

    enter(database, call_id, FindingMade("verification_run", "passes"))

    assert find_job(database, call_id).verified(WASHER) is Verified.WORKS


def test_undone_entries_are_no_evidence(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    enter(database, call_id, FindingMade(PUMP, some_answers(PUMP)[0]))
    enter(database, call_id, RepairDone(REPLACE_PUMP, verified=Verified.WORKS))

    enter(database, call_id, RepairUndone(REPLACE_PUMP))
    enter(database, call_id, FindingUndone(PUMP))

    assert evidence(database, call_id) == []


def test_undoing_a_finding_that_is_not_there_adds_nothing(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    before = find_job(database, call_id).version

    enter(database, call_id, FindingUndone(PUMP))

    assert find_job(database, call_id).version == before


def test_reading_is_a_number_of_the_evidence(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)

    enter(database, call_id, FindingMade("meters_supply", "117.5"))

    found = find_job(database, call_id).evidence(WASHER).events[-1]
    assert found == Finding("meters_supply", 117.5)


def test_entry_sent_twice_is_recorded_once(database: Database) -> None:
    call_id, van_id = job_of_the_morning(database)
    same = page(database, call_id)
    event = RepairDone(REPLACE_PUMP, (PieceUsed("drain_pump"),), Verified.WORKS)

    record(database, call_id, event, same)
    record(database, call_id, event, same)

    assert evidence(database, call_id) == [f"repair {REPLACE_PUMP}", "verification_run=passes"]
    assert stock(database, van_id) == {("drain_pump", ""): -1}


def test_page_that_sends_something_else_the_second_time_is_stale(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    same = page(database, call_id)
    record(database, call_id, VisitNote("first"), same)

    with pytest.raises(StaleCallError, match="changed in another window"):
        record(database, call_id, VisitNote("second"), same)


def test_page_older_than_the_job_is_stale(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    old = page(database, call_id)
    enter(database, call_id, VisitNote("meanwhile"))

    with pytest.raises(StaleCallError, match="changed in another window"):
        record(database, call_id, VisitNote("late"), old)


def test_repair_takes_its_pieces_off_the_van_and_undoing_puts_them_back(
    database: Database,
) -> None:
    call_id, van_id = job_of_the_morning(database)
    pieces = (PieceUsed("drain_pump", "", 1), PieceUsed("drain_pump", "", 2))

    enter(database, call_id, RepairDone(REPLACE_PUMP, pieces, Verified.WORKS))
    used = stock(database, van_id)
    enter(database, call_id, RepairUndone(REPLACE_PUMP))

    assert used == {("drain_pump", ""): -3}
    assert stock(database, van_id) == {("drain_pump", ""): 0}


def test_repair_without_a_visit_moves_no_stock(database: Database) -> None:
    _, van_id = job_of_the_morning(database)
    other = booked_call(database, number=2)

    enter(database, other, RepairDone(REPLACE_PUMP, (PieceUsed("drain_pump"),)))

    assert stock(database, van_id) == {}


def test_overruled_step_is_taken_until_it_is_done(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)

    enter(database, call_id, StepOverruled(PUMP, "tests_low_spin", "It spun at the door"))
    taken = find_job(database, call_id).taken
    enter(database, call_id, FindingMade("tests_low_spin", some_answers("tests_low_spin")[0]))

    assert taken == "tests_low_spin"
    assert find_job(database, call_id).taken == ""


def test_what_is_written_down_is_kept_with_time_and_name(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    told: list[JobEvent] = [
        OwnFinding("A mouse nest", "drain_pump"),
        SecondFault("The door squeaks"),
        VisitNote("Come by the yard"),
    ]

    for event in told:
        enter(database, call_id, event)

    kept = find_job(database, call_id).told
    assert [one.event for one in kept] == told
    assert {(one.at, one.by) for one in kept} == {(TEN, "Tova Lind")}


def test_quote_is_open_until_the_customer_decides(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)

    enter(database, call_id, QuoteGiven(21500, "Drain pump"))
    given = find_job(database, call_id).quote
    enter(database, call_id, QuoteAuthorised("Ada Fenwick", "In person"))
    authorised = find_job(database, call_id).quote
    enter(database, call_id, QuoteGiven(39000, "Drain pump and hose"))
    enter(database, call_id, QuoteDeclined("Too dear"))
    declined = find_job(database, call_id).quote

    assert given is not None
    assert given.is_open
    assert authorised is not None
    assert authorised.authorised is not None
    assert authorised.decided_at == TEN
    assert declined is not None
    assert declined.declined == QuoteDeclined("Too dear")
    assert declined.given.amount_minor == 39000
    assert declined.authorised is None


def test_job_waits_until_every_ordered_part_is_there(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    for day in (5, 9):
        enter(database, call_id, PartOrdered("main_control", date(2026, 3, day)))

    enter(database, call_id, PartArrived("main_control"))
    one_left = find_job(database, call_id).waiting_for
    enter(database, call_id, PartArrived("main_control"))

    assert [order.expected_on.day for order in one_left] == [9]
    assert find_job(database, call_id).waiting_for == ()
    assert [job.job.call.call_id for job in waiting_jobs(database)] == [call_id]


def test_arriving_and_leaving_move_the_visit_on(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    states = []

    for event in (Arrived(), Left()):
        enter(database, call_id, event)
        with database.reading() as session:
            states += [visit.state for visit in visits_of_call(session, call_id)]

    assert states == ["under_way", "done"]


@pytest.mark.parametrize(
    ("event", "error", "message"),
    [
        (FindingMade("tests_nothing", "yes"), UnknownObservationError, "tests_nothing"),
        (FindingMade(PUMP, "perhaps"), UnknownAnswerError, "perhaps"),
        (FindingMade("meters_supply", "much"), ReadingError, "a number in V"),
        (FindingMade("meters_supply", "nan"), ReadingError, "a finite number in V"),
        (FindingMade("meters_supply", 1175.0), ReadingOutOfSpanError, "expected 0 to 140 V"),
        (RepairDone("replace_all"), UnknownRepairError, "replace_all"),
        (RepairDone(REPLACE_PUMP, (PieceUsed("pomp"),)), UnknownPartError, "Unknown part"),
        (RepairDone(REPLACE_PUMP, (PieceUsed("drain_pump", "", 0),)), UnusableEntryError, "1 to"),
        (
            RepairDone(REPLACE_PUMP, (PieceUsed("drain_pump", "x" * 101),)),
            UnusableEntryError,
            "at most 100 characters",
        ),
        (RepairUndone(REPLACE_PUMP), NotPossibleNowError, "is not in the log"),
        (StepOverruled("", PUMP, " "), UnusableEntryError, "the reason is missing"),
        (StepOverruled("", "dance", "why not"), UnknownRepairError, "dance"),
        (OwnFinding("x", "wings"), UnusableEntryError, 'component "wings"'),
        (VisitNote("x" * 1001), UnusableEntryError, "has 1001 characters"),
        (QuoteGiven(-1, "x"), UnusableEntryError, "expected 0 to 100000"),
        (QuoteAuthorised("Ada", "In person"), NotPossibleNowError, "No quote was given"),
        (PartOrdered("wings", date(2026, 3, 5)), UnknownPartError, "wings"),
        (PartOrdered("main_control", date(2026, 3, 5), 100), UnusableEntryError, "1 to 99"),
        (PartArrived("main_control"), NotPossibleNowError, "does not wait for"),
        (AnsweredTwice(PUMP, "a", "b", "a"), UnusableEntryError, "the program itself"),
    ],
)
def test_entry_that_the_job_cannot_take_is_refused(
    database: Database, event: JobEvent, error: type[Exception], message: str
) -> None:
    call_id, _ = job_of_the_morning(database)
    before = find_job(database, call_id)

    with pytest.raises(error, match=message):
        enter(database, call_id, event)

    assert find_job(database, call_id) == before


@pytest.mark.parametrize(
    ("kind", "payload", "message"),
    [
        ("outcome", {}, 'no kind of entry "outcome"'),
        (AnsweredTwice.kind, {}, "no kind of entry"),
        ("job_quote", {"amount_minor": "many", "what_for": "x"}, "the amount is none"),
        ("job_note", {}, "the text is missing"),
        ("job_part_ordered", {"part": "x", "expected_on": "soon"}, "the day is none"),
    ],
)
def test_entry_that_is_none_is_refused(kind: str, payload: dict[str, object], message: str) -> None:
    with pytest.raises(UnusableEntryError, match=message):
        event_from_sent(kind, payload)


def test_closed_job_takes_no_entry(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    given = ClosingGiven(outcome=ClosingOutcome.NO_FAULT_FOUND, minutes=20.0)
    close_job(
        database,
        call_id,
        given,
        page(database, call_id),
        settings=DEFAULT_SETTINGS,
        front=DEFAULT_FRONT,
    )

    with pytest.raises(NotPossibleNowError, match="The job is closed"):
        enter(database, call_id, VisitNote("Too late"))


def test_event_is_the_same_after_it_was_stored() -> None:
    events: list[JobEvent] = [
        RepairDone(REPLACE_PUMP, (PieceUsed("drain_pump", "QD-7", 2),), Verified.WORKS),
        PartOrdered("main_control", date(2026, 3, 5)),
        FindingMade("meters_supply", 117.5),
    ]

    drafts = [as_draft(event) for event in events]

    assert [from_stored(one.kind, one.payload) for one in drafts] == events


def test_event_that_was_made_earlier_counts_earlier(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    first, second = some_answers(PUMP)[:2]
    enter(database, call_id, FindingMade(PUMP, second), at=TEN + timedelta(minutes=5))

    version = find_job(database, call_id).version
    late = Entry(submission=Submission("a" * 32, version), at=TEN, by="Tova Lind")
    record(database, call_id, FindingMade(PUMP, first), late)

    assert evidence(database, call_id) == [f"{PUMP}={second}"]


def test_evidence_skips_what_the_network_no_longer_has(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    enter(database, call_id, RepairDone(REPLACE_PUMP))
    enter(database, call_id, FindingMade(PUMP, some_answers(PUMP)[0]))

    other = find_job(database, call_id).evidence(load_network("gas_dryer"))

    assert not [one for one in other.events if isinstance(one, inference.RepairDone)]
    assert PUMP not in [finding.observation for finding in other.findings]
