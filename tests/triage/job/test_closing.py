"""Claims about closing a job: proposed from what it holds, stored once, correctable."""

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from tests.triage.job.playing_jobs import (
    NINE,
    OBJECT,
    ON_SITE,
    PUMP,
    WASHER,
    add,
    customer,
    entry,
    finding,
    phoned,
    repair,
    repaired,
)
from triage.errors import (
    AlreadyClosedError,
    NotClosableError,
    NotClosedError,
    StaleCallError,
    UnknownModeError,
    UnknownPartError,
    UnknownRepairError,
)
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import CallReport, Database, find_call, open_call, reopen_call
from triage.services.closing.close import (
    answer_safety_and_close,
    close_job,
    close_what_is_left,
    close_without_visit,
    correct_job,
    end_and_close,
    left_to_close,
)
from triage.services.closing.draft import ClosingDraft, closing_draft
from triage.services.closing.values import (
    CallBackKind,
    CauseClosed,
    ClosingGiven,
    ClosingOutcome,
    Degree,
    PartUsed,
)
from triage.services.job.events import Verified
from triage.services.settings.shop_front import ShopFront, Taxed
from triage.store.calls import Draft
from triage.store.closings import ClosingData, find_closing, read_closing
from triage.store.tables.closings import ClosingRow
from triage.store.tables.people import AuditRow

FRONT = ShopFront(tax_rate_basis_points=825, taxed=(Taxed.PARTS,))
CLOSED_AT = ON_SITE + timedelta(minutes=55)
REPAIRED = ClosingGiven(outcome=ClosingOutcome.REPAIRED)


def draft(database: Database, call_id: int) -> ClosingDraft:
    return closing_draft(database, call_id, DEFAULT_SETTINGS, CLOSED_AT)


def close(database: Database, call_id: int, given: ClosingGiven | None = None) -> None:
    proposed = given or draft(database, call_id).given
    close_job(
        database,
        call_id,
        proposed,
        entry(database, call_id, CLOSED_AT),
        settings=DEFAULT_SETTINGS,
        front=FRONT,
    )


def kept(database: Database, call_id: int) -> ClosingData:
    with database.reading() as session:
        return read_closing(session, call_id).data


def test_everything_is_filled_in_after_a_repair_that_worked(database: Database) -> None:
    given = draft(database, repaired(database)).given

    assert given.outcome is ClosingOutcome.REPAIRED
    assert given.causes == (CauseClosed(PUMP, Degree.WORKS_AFTER_REPAIR),)
    assert given.repairs == ("replace_drain_pump",)
    assert given.verification is Verified.WORKS
    assert [(part.part, part.pieces, part.was_aboard) for part in given.parts] == [
        ("drain_pump", 1, True)
    ]
    assert given.minutes == 55  # first entry of the visit until it is closed
    assert (given.visits, given.fee_minor) == (1, 9000)
    assert given.labour_minor == 5833  # 35 minutes at 100 an hour, half up
    assert given.callback_of == 0


def test_repair_in_vain_is_no_cause(database: Database) -> None:
    call_id = phoned(database)
    add(database, call_id, finding("tests_drain_pump", "hums"), at=ON_SITE)
    in_vain = repair("clear_drain_pump", "still_broken")
    add(database, call_id, in_vain, at=ON_SITE + timedelta(minutes=20))
    add(
        database,
        call_id,
        repair("replace_drain_pump", drain_pump=1),
        at=ON_SITE + timedelta(minutes=50),
    )

    given = draft(database, call_id).given

    assert [cause.degree for cause in given.causes] == [Degree.WORKS_AFTER_REPAIR]
    assert given.causes[0].cause in (PUMP, OBJECT)
    assert given.repairs == ("clear_drain_pump", "replace_drain_pump")


def test_price_that_the_customer_agreed_to_is_the_total_before_tax(database: Database) -> None:
    call_id = repaired(database)
    quote = Draft("job_quote", {"amount_minor": 30000, "what_for": "pump"})
    yes = Draft("job_quote_authorised", {"by_whom": "the tenant", "how": "in person"})
    add(database, call_id, quote, yes, at=ON_SITE + timedelta(minutes=10))

    given = draft(database, call_id).given

    pieces = sum(part.pieces * part.price_minor for part in given.parts)
    assert given.fee_minor + given.labour_minor + pieces == 30000


def test_declined_quote_leaves_the_fee_alone(database: Database) -> None:
    call_id = phoned(database)
    add(database, call_id, finding("tests_drain_pump", "silent"), at=ON_SITE)
    quote = Draft("job_quote", {"amount_minor": 30000, "what_for": "pump"})
    no = Draft("job_quote_declined", {"reason": "a new one"})
    add(database, call_id, quote, no, at=ON_SITE + timedelta(minutes=5))

    close(database, call_id)

    found = kept(database, call_id)
    assert (found.outcome, found.total_minor, found.fee_minor) == ("declined", 9000, 9000)
    assert found.parts == ()
    assert [(one["cause"], one["degree"]) for one in found.causes] == [(PUMP, "judged")]


def test_closing_ends_the_call_and_keeps_sums_and_promise(database: Database) -> None:
    call_id = repaired(database)

    close(database, call_id)

    found = kept(database, call_id)
    price = found.parts[0].price_minor
    assert found.tax_minor == round(price * 0.0825)
    assert found.total_minor == 9000 + 5833 + price + found.tax_minor
    assert found.promised["minutes_p50"] <= found.promised["minutes_p80"]
    assert found.promised["price_low_minor"] <= found.promised["price_high_minor"]
    assert PUMP in found.promised["causes"]
    assert not find_call(database, call_id).is_open


def test_promise_is_what_the_phone_knew(database: Database) -> None:
    by_phone = phoned(database)
    on_site = repaired(database)
    for call_id in (by_phone, on_site):
        close(database, call_id, REPAIRED)

    assert kept(database, by_phone).promised == kept(database, on_site).promised


def test_job_closed_twice_by_the_same_page_is_closed_once(database: Database) -> None:
    call_id = repaired(database)
    page = entry(database, call_id, CLOSED_AT)
    given = draft(database, call_id).given

    for _ in range(2):
        close_job(database, call_id, given, page, settings=DEFAULT_SETTINGS, front=FRONT)

    with database.reading() as session:
        assert len(session.scalars(select(ClosingRow)).all()) == 1
    assert find_call(database, call_id).version == page.submission.shown_version + 1


def test_job_that_somebody_else_closed_is_not_closed_again(database: Database) -> None:
    call_id = repaired(database)
    close(database, call_id)

    with pytest.raises(AlreadyClosedError, match=r"closed by pat meanwhile"):
        close(database, call_id, REPAIRED)

    assert kept(database, call_id).fee_minor == 9000


def test_job_that_went_on_since_the_page_was_shown_is_not_closed(database: Database) -> None:
    call_id = repaired(database)
    page = entry(database, call_id, CLOSED_AT)
    add(database, call_id, finding("tests_standpipe", "found"), at=ON_SITE + timedelta(minutes=50))

    with pytest.raises(StaleCallError):
        close_job(database, call_id, REPAIRED, page, settings=DEFAULT_SETTINGS, front=FRONT)

    with database.reading() as session, pytest.raises(NotClosedError, match="is not closed"):
        read_closing(session, call_id)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"is_unsure": True}, "choose at least two"),
        ({"causes": (CauseClosed(PUMP, Degree.SEEN),) * 2}, "stands there twice"),
        ({"callback_of": 1, "callback_kind": CallBackKind.SAME}, "no call-back of itself"),
        ({"callback_of": 2}, "needs the earlier job"),
        ({"fee_minor": -1}, "an amount is below 0"),
        ({"labour_minor": 2_000_001}, "above what any household repair costs"),
        ({"minutes": 0.0}, "the minutes are not above 0"),
        ({"parts": (PartUsed(part="drain_pump", price_minor=1, pieces=0),)}, "pieces of a part"),
    ],
)
def test_closing_that_contradicts_itself_is_refused(
    database: Database, change: dict[str, object], reason: str
) -> None:
    call_id = repaired(database)

    with pytest.raises(NotClosableError, match=reason):
        close(database, call_id, replace(REPAIRED, **change))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"causes": (CauseClosed("drain_pump.burned", Degree.SEEN),)}, UnknownModeError),
        ({"repairs": ("replace_pump",)}, UnknownRepairError),
        ({"parts": (PartUsed(part="pump", price_minor=1),)}, UnknownPartError),
    ],
)
def test_closing_with_a_name_the_network_does_not_have_is_refused(
    database: Database, change: dict[str, object], error: type[Exception]
) -> None:
    call_id = repaired(database)

    with pytest.raises(error, match=r"expected one of|choose one of"):
        close(database, call_id, replace(REPAIRED, **change))  # type: ignore[arg-type]


def test_unsure_causes_share_the_weight_alike(database: Database) -> None:
    call_id = repaired(database)
    either = tuple(CauseClosed(name, Degree.JUDGED) for name in (PUMP, OBJECT))

    close(database, call_id, replace(REPAIRED, causes=either, is_unsure=True))

    assert [one["weight"] for one in kept(database, call_id).causes] == [0.5, 0.5]


def test_what_was_tested_and_spoke_for_the_cause_is_kept_with_it(database: Database) -> None:
    call_id = repaired(database)

    close(database, call_id)

    assert "tests_drain_pump" in kept(database, call_id).causes[0]["chosen_by"]


def test_call_to_which_nobody_came_is_closed_with_its_outcome(database: Database) -> None:
    call_id = phoned(database, CallOutcome.SOLVED_BY_PHONE)

    close_without_visit(
        database,
        call_id,
        entry(database, call_id, NINE),
        settings=DEFAULT_SETTINGS,
        front=FRONT,
    )

    found = kept(database, call_id)
    assert (found.outcome, found.visits, found.total_minor) == ("solved_by_phone", 0, 0)
    assert found.promised == {}


def test_call_about_what_is_normal_is_closed_as_no_fault(database: Database) -> None:
    call_id = phoned(database, CallOutcome.NORMAL_EXPLAINED)

    close_without_visit(
        database,
        call_id,
        entry(database, call_id, NINE),
        settings=DEFAULT_SETTINGS,
        front=FRONT,
    )

    found = kept(database, call_id)
    assert (found.outcome, found.visits, found.total_minor) == ("no_fault_found", 0, 0)


@pytest.mark.parametrize("outcome", [None, CallOutcome.VISIT])
def test_call_that_is_to_be_visited_is_not_closed_by_the_phone(
    database: Database, outcome: CallOutcome | None
) -> None:
    call_id = phoned(database, outcome)

    with pytest.raises(NotClosableError, match="it is to be visited, or the call has not ended"):
        close_without_visit(
            database,
            call_id,
            entry(database, call_id),
            settings=DEFAULT_SETTINGS,
            front=FRONT,
        )


def test_calls_that_ended_on_the_phone_are_closed_all_at_once(database: Database) -> None:
    to_visit = phoned(database)
    phoned(database, None)
    ended = [phoned(database, CallOutcome.DECLINED), phoned(database, CallOutcome.SOLVED_BY_PHONE)]
    assert left_to_close(database) == tuple(ended)

    page = entry(database, 0, NINE)
    closed = close_what_is_left(database, page, settings=DEFAULT_SETTINGS, front=FRONT)

    assert (closed, left_to_close(database)) == (2, ())
    assert [kept(database, number).outcome for number in ended] == ["declined", "solved_by_phone"]
    with database.reading() as session:
        assert find_closing(session, to_visit) is None


def test_call_ended_where_nobody_is_to_come_is_closed_with_it(database: Database) -> None:
    call_id, other = phoned(database, None), phoned(database, None)
    shop = {"settings": DEFAULT_SETTINGS, "front": FRONT}

    end_and_close(
        database, call_id, CallOutcome.DECLINED, "too dear", entry(database, call_id), **shop
    )
    end_and_close(database, other, CallOutcome.VISIT, "", entry(database, other), **shop)

    assert (kept(database, call_id).outcome, kept(database, call_id).note) == (
        "declined",
        "too dear",
    )
    with database.reading() as session:
        assert find_closing(session, other) is None


def test_danger_that_stops_a_call_closes_it_and_sent_again_closes_it_once(
    database: Database,
) -> None:
    report = CallReport(network_id="gas_dryer", caller="Blue door", words="I smell gas")
    shop = {"settings": DEFAULT_SETTINGS, "front": FRONT}
    stopped = open_call(database, report, entry(database, 0, NINE))
    safe = open_call(database, report, entry(database, 0, NINE))
    page = entry(database, stopped)

    answer_safety_and_close(database, stopped, {"gas_smell": True}, page, **shop)
    version = find_call(database, stopped).version
    answer_safety_and_close(database, stopped, {"gas_smell": True}, page, **shop)
    answer_safety_and_close(database, safe, {"gas_smell": False}, entry(database, safe), **shop)

    assert kept(database, stopped).outcome == "referred_out"
    assert list(kept(database, stopped).causes) == []
    assert find_call(database, stopped).version == version
    assert left_to_close(database) == ()
    with database.reading() as session:
        assert find_closing(session, safe) is None


def test_no_cause_is_named_before_the_safety_questions_allow_it(database: Database) -> None:
    report = CallReport(network_id=WASHER, caller="Blue door", words="I smell gas")
    call_id = open_call(database, report, entry(database, 0, NINE))

    shown = draft(database, call_id)

    assert (shown.causes, shown.other_causes, shown.given.causes) == ((), (), ())


def test_visit_after_all_replaces_what_the_phone_closed(database: Database) -> None:
    call_id = phoned(database, CallOutcome.DECLINED)
    close_without_visit(
        database, call_id, entry(database, call_id, NINE), settings=DEFAULT_SETTINGS, front=FRONT
    )
    reopen_call(database, call_id, entry(database, call_id, NINE + timedelta(hours=2)))
    done = repair("replace_drain_pump", drain_pump=1)
    add(database, call_id, Draft("outcome", {"outcome": "visit", "note": ""}), at=ON_SITE)
    add(database, call_id, done, at=ON_SITE + timedelta(minutes=40))

    close(database, call_id)

    assert kept(database, call_id).outcome == "repaired"


def test_call_about_a_machine_of_others_can_only_be_referred(database: Database) -> None:
    call_id = phoned(database, CallOutcome.REFER_OUT, network="heat_pump_dryer")

    with pytest.raises(NotClosableError, match="does not repair such machines"):
        close(database, call_id, REPAIRED)
    referred = replace(REPAIRED, outcome=ClosingOutcome.REFERRED_OUT, repairs=("monitor",))
    with pytest.raises(NotClosableError, match="not known of others"):
        close(database, call_id, referred)
    close_without_visit(
        database, call_id, entry(database, call_id), settings=DEFAULT_SETTINGS, front=FRONT
    )

    assert kept(database, call_id).outcome == "referred_out"


def test_correction_is_told_with_its_reason_and_what_was_before(database: Database) -> None:
    call_id = repaired(database)
    close(database, call_id)
    seen = replace(
        draft(database, call_id).given, causes=(CauseClosed(OBJECT, Degree.SEEN),), fee_minor=0
    )
    page = entry(database, call_id, CLOSED_AT + timedelta(days=1), "boss")

    for _ in range(2):
        correct_job(
            database, call_id, seen, "coin found", page, settings=DEFAULT_SETTINGS, front=FRONT
        )

    found = kept(database, call_id)
    assert [one["cause"] for one in found.causes] == [OBJECT]
    with database.reading() as session:
        acts = session.scalars(select(AuditRow).where(AuditRow.action == "closing_corrected")).all()
        told = [(one.by, one.subject, one.detail["reason"]) for one in acts]
        was = acts[0].detail["was"]
    assert told == [("boss", f"job {call_id}", "coin found")]
    assert was["fee_minor"] == 9000
    assert was["causes"][0]["cause"] == PUMP


def test_job_that_is_not_closed_cannot_be_corrected(database: Database) -> None:
    call_id = repaired(database)

    with pytest.raises(NotClosedError, match="Close it first"):
        correct_job(
            database,
            call_id,
            REPAIRED,
            "why",
            entry(database, call_id),
            settings=DEFAULT_SETTINGS,
            front=FRONT,
        )


def test_same_complaint_on_the_same_machine_soon_after_is_proposed_as_a_call_back(
    database: Database,
) -> None:
    who = customer(database)
    first = repaired(database, of=who)
    close(database, first)
    again = repaired(database, of=who, at=ON_SITE + timedelta(days=9))

    shown = draft(database, again)

    assert [(one.call_id, one.is_same_machine) for one in shown.earlier] == [(first, True)]
    assert (shown.given.callback_of, shown.given.callback_kind) == (first, CallBackKind.SAME)
    assert (shown.given.fee_minor, shown.given.labour_minor) == (0, 0)  # own work is guaranteed
    assert [part.price_minor for part in shown.given.parts] == [0]  # and so is the pump


def test_minutes_are_those_from_arriving_to_leaving(database: Database) -> None:
    call_id = repaired(database)
    add(database, call_id, Draft("job_arrived", {}), at=ON_SITE - timedelta(minutes=6))
    add(database, call_id, Draft("job_left", {}), at=ON_SITE + timedelta(minutes=50))

    assert draft(database, call_id).given.minutes == 56


def test_call_back_that_the_phone_judged_is_taken_as_judged(database: Database) -> None:
    who = customer(database)
    first = repaired(database, of=who)
    close(database, first)
    again = repaired(database, of=who, at=ON_SITE + timedelta(days=9))
    judged = Draft("callback", {"call_id": first, "verdict": "new"})
    add(database, again, judged, at=NINE + timedelta(minutes=1))

    given = draft(database, again).given

    assert (given.callback_of, given.callback_kind) == (first, CallBackKind.NEW)
    assert given.fee_minor == 9000
