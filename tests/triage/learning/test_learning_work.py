"""Long work, scores, practice, numbers worth measuring, parts worth carrying."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from tests.triage.learning.learning_shop import (
    NOW,
    STAMP,
    WASHER,
    made_up_jobs,
    proposal,
    read_text,
    take_in,
)
from triage.errors import (
    LearningSettingsError,
    NoJobsError,
    UnknownJobFileError,
    UnknownRunError,
)
from triage.network.catalogue import load_network
from triage.planning.shop.costs import DEFAULT_COSTS
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.closing.values import ClosingOutcome, PartUsed
from triage.services.job.events import StepOverruled
from triage.services.learning.files import choose_columns, file_preview, send_file
from triage.services.learning.importing import import_jobs
from triage.services.learning.job_file import jobs_as_text
from triage.services.learning.overview import overview, stock_of_shop
from triage.services.learning.practice import practice, who_was_right
from triage.services.learning.proposing import (
    Proposal,
    checked_settings,
    proposal_as_json,
    proposal_from_json,
    propose,
    settings_from_json,
)
from triage.services.learning.reports import learned_from_store
from triage.services.learning.stock import StockTerms, stock_advice
from triage.services.learning.versions import version_in_full, versions_of
from triage.services.learning.work import Work, ask_for, newest_result, state_of, work_off
from triage.services.networks.in_use import engine_in_use


def entry(number: int) -> Entry:
    return Entry(submission=Submission(f"page-{number}", 0), at=NOW, by=STAMP.by)


def clock() -> datetime:
    return NOW


def done(database: Database, kind: Work, network: str = "", **request: object) -> int:
    number, _ = ask_for(database, kind, network, request, entry(len(request) + ord(kind[0])))
    work_off(database, number, clock)
    return number


def test_work_is_asked_for_once(database: Database) -> None:
    first = ask_for(database, Work.EVALUATE, "", {}, entry(1))
    again = ask_for(database, Work.EVALUATE, "", {}, entry(1))

    assert first == (1, True)
    assert again == (1, False)


def test_proposal_comes_of_work(database: Database) -> None:
    take_in(database, 40)

    number = done(database, Work.PROPOSE, WASHER, reason="spring")

    run = state_of(database, number, NOW).run
    assert (run.state, run.result) == ("done", {"version": 2})
    assert versions_of(database, WASHER)[0].stored.reason == "spring"
    assert overview(database, NOW).networks[-1].waiting == (2,)


def test_work_without_jobs_says_so(database: Database) -> None:
    number = done(database, Work.PROPOSE, WASHER)

    state = state_of(database, number, NOW)
    assert (state.run.state, state.is_going) == ("failed", False)
    assert "got no closed job; expected at least one" in state.run.problem


def test_work_whose_program_died_is_told_from_work_that_goes_on(database: Database) -> None:
    number, _ = ask_for(database, Work.EVALUATE, "", {}, entry(1))

    assert state_of(database, number, NOW + timedelta(minutes=1)).is_going
    assert state_of(database, number, NOW + timedelta(hours=1)).is_dead


def test_unknown_work_and_file_are_told(database: Database) -> None:
    with pytest.raises(UnknownRunError, match="There is no work 4"):
        state_of(database, 4, NOW)
    with pytest.raises(UnknownJobFileError, match="No file 4 was sent in"):
        file_preview(database, 4)


def test_scores_come_of_work(database: Database) -> None:
    take_in(database, 150)

    done(database, Work.EVALUATE)

    found = newest_result(database, Work.EVALUATE)
    assert found is not None
    (scores,) = found.result["scores"]
    assert scores["overall"]["jobs"] + scores["not_scored"] == 150
    assert [one["name"] for one in found.result["by_appliance"]] == [WASHER]
    assert found.result["overruled"]["times"] == 0


def test_numbers_worth_measuring_come_of_work(database: Database) -> None:
    take_in(database, 40)

    done(database, Work.SENSITIVITY, WASHER)

    found = newest_result(database, Work.SENSITIVITY, WASHER)
    assert found is not None
    losses = [one["regret_minor"] for one in found.result["numbers"]]
    assert losses
    assert losses == sorted(losses, reverse=True)
    assert all(one["low"] < one["value"] < one["high"] for one in found.result["numbers"])


def test_file_is_looked_through_then_taken_in_once(database: Database) -> None:
    text = f"Nr,Machine,closed at,Outcome\n1,{WASHER},2026-01-05,repaired\n"
    number = send_file(database, "C:\\books\\jobs.csv", text.encode(), entry(1))
    before = file_preview(database, number)
    columns = {**before.columns, "job": "Nr", "appliance": "Machine"}
    choose_columns(database, number, columns)
    preview = file_preview(database, number)

    done(database, Work.IMPORT, file=number)

    assert "no column for job, appliance" in before.refusal
    assert (preview.file.name, preview.is_good, preview.refusal) == ("jobs.csv", True, "")
    after = file_preview(database, number)
    assert (after.file.jobs, after.file.text, after.is_good) == (1, "", False)


def test_proposal_without_a_job_is_refused(database: Database) -> None:
    engine = engine_in_use(database, WASHER)

    with pytest.raises(NoJobsError, match="expected at least one"):
        propose(engine.network, engine, [], settings_from_json({}), NOW)


def test_setting_out_of_its_range_is_refused() -> None:
    with pytest.raises(LearningSettingsError, match="share_jobs"):
        checked_settings({"share_jobs": -1.0})


def test_proposal_of_a_shop_borrows_from_its_other_kinds_unless_told_not_to(
    database: Database,
) -> None:
    take_in(database, 15)
    others = [
        replace(one, source="other-books") for one in made_up_jobs(60, kind="front_load_washer")
    ]
    read = read_text(database, jobs_as_text(others), "other-books")
    import_jobs(database, read, "other-books.csv", STAMP)

    _, together = learned_from_store(database, WASHER, {}, STAMP, "")
    _, alone = learned_from_store(database, WASHER, {"learns_together": False}, STAMP, "")

    kept = [
        full.proposal
        for number in (2, 3)
        if (full := version_in_full(database, WASHER, number)).proposal
    ]
    assert [dict(one.lenders) for one in kept if one] == [{"front_load_washer": 60}, {}]
    assert sum(row.borrowed for row in together.version.changes) > 3.0
    assert "jobs of other kinds" in together.version.source
    assert {row.borrowed for row in alone.version.changes} == {0.0}
    assert alone.version.changes == proposal(database).version.changes


def test_proposal_of_an_older_program_is_read_as_it_was(database: Database) -> None:
    take_in(database, 15)
    found = proposal(database)
    kept = proposal_as_json(found)
    del kept["careless"]
    del kept["settings"]["careless_share"]
    kept["settings"]["leak_factor"] = 3.0

    again = proposal_from_json(kept, found.version.base)

    assert again.settings.careless_share == 0.0
    assert again.version.careless == ()
    assert again.version.changes == found.version.changes


def test_shares_of_careless_answers_are_kept_with_the_proposal(database: Database) -> None:
    take_in(database, 15)
    found = proposal(database)

    again = proposal_from_json(proposal_as_json(found), found.version.base)

    assert len(found.version.careless) == 2
    assert again.version.careless == found.version.careless


def test_heavier_prior_moves_less(database: Database) -> None:
    take_in(database, 60)

    light, heavy = proposal(database, share_jobs=10.0), proposal(database, share_jobs=5000.0)

    def moved(found: Proposal) -> float:
        rows = found.version.changes
        return sum(abs(row.after - row.before) for row in rows if row.kind == "share")

    assert moved(heavy) < moved(light) / 5


def test_practice_counts_what_was_promised_and_done() -> None:
    first, second = (
        replace(job, outcome=ClosingOutcome.REPAIRED, visits=visits, minutes=minutes, parts=parts)
        for job, visits, minutes, parts in zip(
            made_up_jobs(2),
            (1, 2),
            (40.0, 80.0),
            ((PartUsed(part="a", price_minor=1, was_aboard=False),), ()),
            strict=True,
        )
    )
    assert first.promised is not None
    first = replace(first, promised=replace(first.promised, parts=("a", "b")))
    second = replace(second, promised=replace(first.promised, parts=()))

    found = practice([first, second])

    # By hand: one of two on the first visit; part "a" not aboard; "b" not fitted; 40 of 45 minutes
    # within both, 80 of 45 and 70 within neither; ratios 40/45 and 80/45.
    assert (found.first_visit.value, found.first_visit_jobs) == (0.5, 2)
    assert (found.parts_aboard.value, found.parts_fitted) == (0.0, 1)
    assert (found.parts_unneeded.value, found.parts_promised) == (0.5, 2)
    assert (found.within_p50.value, found.within_p80.value) == (0.5, 0.5)
    assert found.minutes_ratio == pytest.approx((40 / 45 + 80 / 45) / 2)


PUMP_REPAIR, BELT_REPAIR, TEST = "replace_drain_pump", "replace_drive_belt", "tests_cold_valve"


@pytest.mark.parametrize(
    ("proposed", "taken", "cause", "right"),
    [
        (BELT_REPAIR, PUMP_REPAIR, "drain_pump.burnt", "technician"),
        (PUMP_REPAIR, BELT_REPAIR, "drain_pump.burnt", "plan"),
        (PUMP_REPAIR, BELT_REPAIR, "tub_bearing.worn", ""),
        (TEST, PUMP_REPAIR, "drain_pump.burnt", "technician"),
        (TEST, PUMP_REPAIR, "drive_belt.broken", "plan"),
        (PUMP_REPAIR, TEST, "drain_pump.burnt", "plan"),
        (PUMP_REPAIR, TEST, "drive_belt.broken", "technician"),
        (TEST, TEST, "drain_pump.burnt", ""),
        (PUMP_REPAIR, BELT_REPAIR, "", ""),
    ],
)
def test_who_was_right_follows_from_the_confirmed_cause(
    proposed: str, taken: str, cause: str, right: str
) -> None:
    step = StepOverruled(proposed, taken, "looked like it")
    network = load_network(WASHER)
    assert {PUMP_REPAIR, BELT_REPAIR} <= set(network.repairs)

    assert who_was_right(network, step, {cause} - {""}) == right


def test_part_that_spares_more_than_it_costs_is_carried() -> None:
    network = load_network(WASHER)
    cheap, dear = list(network.parts)[:2]
    costs = {cheap: (1_000, 1_000), dear: (400_000, 400_000)}
    parts = {
        name: replace(part, cost=costs.get(name, part.cost)) for name, part in network.parts.items()
    }
    jobs = [
        replace(job, closed_at=NOW - timedelta(days=9), parts=(PartUsed(part=part, price_minor=1),))
        for job, part in zip(made_up_jobs(5), [cheap, cheap, cheap, dear, cheap], strict=True)
    ]
    old = replace(jobs[0], closed_at=NOW - timedelta(days=400))

    found = stock_advice(
        [*jobs, old],
        [replace(network, parts=parts)],
        DEFAULT_COSTS,
        StockTerms(),
        NOW,
        "USD",
    )

    # A return trip costs 100: four of them are spared for 2.50 a year; one is not worth 1,000.
    by_part = {one.part: one for one in found.parts}
    assert found.jobs == 5
    assert (by_part[cheap].is_carried, by_part[cheap].jobs) == (True, 4)
    assert by_part[cheap].spared_minor == 4 * DEFAULT_COSTS.return_trip_minor
    assert by_part[cheap].holding_minor == 250
    assert (by_part[dear].is_carried, by_part[dear].holding_minor) == (False, 100_000)
    assert found.fill_rate == 0.8


def test_parts_worth_only_together_are_carried_together() -> None:
    network = load_network(WASHER)
    pair = list(network.parts)[:2]
    both = tuple(PartUsed(part=part, price_minor=1) for part in pair)
    jobs = [replace(job, closed_at=NOW - timedelta(days=9), parts=both) for job in made_up_jobs(3)]

    found = stock_advice(jobs, [network], DEFAULT_COSTS, StockTerms(), NOW, "USD")

    assert [one.is_carried for one in found.parts] == [True, True]
    assert [one.alone for one in found.parts] == [0, 0]


def test_shop_without_jobs_gets_no_advice(database: Database) -> None:
    found = stock_of_shop(database, StockTerms(), NOW)

    assert (found.parts, found.jobs, found.fill_rate) == ((), 0, 0.0)
