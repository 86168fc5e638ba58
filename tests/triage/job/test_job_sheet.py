"""Claims about the job sheet: place in the printed plan, next step, what an entry changed."""

import pytest

from tests.triage.job.job_shop import TEN, enter, job_of_the_morning
from tests.web.technician import SIGNS, booked_call
from triage.errors import SafetyFirstError
from triage.inference.evidence import Evidence, parse_finding
from triage.network.catalogue import load_network
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.call_log.events import FindingMade
from triage.services.calls.calls import CallReport, Database, Entry, Submission, open_call
from triage.services.job.events import RepairDone, Verified
from triage.services.job.place import place_in_plan, result_label
from triage.services.job.sheet import JobSheet, job_sheet
from triage.services.networks.engines import engine_for
from triage.services.plan.branching import BranchingPlan, LineKind, PlanLine, branching_plan
from triage.services.wording import chance_word

WASHER = load_network("top_load_washer")


def sheet(database: Database, call_id: int) -> JobSheet:
    return job_sheet(database, call_id, DEFAULT_SETTINGS)


@pytest.fixture(scope="module")
def plan() -> BranchingPlan:
    engine = engine_for("top_load_washer")
    said = parse_finding(engine.compiled.index, "says_water_left=volunteered")
    return branching_plan(engine, Evidence.of(said), nodes_max=40)


def below(plan: BranchingPlan, line: PlanLine) -> list[PlanLine]:
    return [one for one in plan.lines if one.came_from == line.number]


def first_test_with_exits(plan: BranchingPlan) -> PlanLine:
    return next(
        one
        for one in plan.lines
        if one.kind is LineKind.TEST and one.test and not one.test.reading and below(plan, one)
    )


def answer_named(line: PlanLine, label: str) -> str:
    assert line.test is not None
    return next(name for name, text in line.test.answers.items() if text == label)


def test_nothing_done_is_the_first_line_of_the_plan(plan: BranchingPlan) -> None:
    place = place_in_plan(plan, [], WASHER)

    assert place.line == plan.lines[0]
    assert not place.is_off


def test_result_leads_to_the_line_that_the_plan_names(plan: BranchingPlan) -> None:
    start = first_test_with_exits(plan)
    assert start.test is not None

    for onward in below(plan, start):
        finding = FindingMade(start.test.id, answer_named(start, onward.came_by))

        assert place_in_plan(plan, [finding], WASHER).line == onward


def test_repair_that_did_not_help_leads_on_and_one_that_works_ends(plan: BranchingPlan) -> None:
    line = next(one for one in plan.lines if one.repair and below(plan, one))
    assert line.repair is not None

    broken = RepairDone(line.repair.id, (), Verified.STILL_BROKEN)
    works = RepairDone(line.repair.id, (), Verified.WORKS)

    assert place_in_plan(plan, [broken], WASHER).line in plan.lines
    assert place_in_plan(plan, [works], WASHER).line is None
    assert not place_in_plan(plan, [works], WASHER).is_off


def test_step_that_the_plan_does_not_have_leads_off_it(plan: BranchingPlan) -> None:
    planned = {one.test.id for one in plan.lines if one.test}
    other = next(
        one
        for one in WASHER.observations.values()
        if one.channel.is_on_site and one.id not in planned
    )

    place = place_in_plan(plan, [FindingMade(other.id, next(iter(other.answers)))], WASHER)

    assert place.line is None
    assert place.left_by.startswith(other.title)


@pytest.mark.parametrize(
    "event",
    [
        FindingMade("tests_drain_pump", "dont_know"),
        RepairDone("replace_drain_pump", (), Verified.NOT_RUN),
        FindingMade("gone_from_the_network", "yes"),
    ],
)
def test_what_tells_nothing_leaves_the_place(
    plan: BranchingPlan, event: FindingMade | RepairDone
) -> None:
    assert place_in_plan(plan, [event], WASHER).line == plan.lines[0]


def test_plan_without_lines_has_no_place() -> None:
    engine = engine_for("top_load_washer")
    empty = branching_plan(engine, Evidence(), nodes_max=0)

    assert place_in_plan(BranchingPlan((), 1.0, "USD", empty.gap), [], WASHER).line is None


def test_reading_is_inside_or_outside_of_its_range() -> None:
    supply = WASHER.observations["meters_supply"]
    assert supply.reading is not None
    low, high = supply.reading.accept

    labels = [result_label(supply, value) for value in (low, high, high + 1)]

    assert labels == ["Inside the range", "Inside the range", "Outside the range"]


@pytest.mark.parametrize("kind", SIGNS)
def test_sheet_of_every_appliance_has_a_step_a_plan_and_a_load(
    database: Database, kind: str
) -> None:
    found = sheet(database, booked_call(database, kind))

    assert found.next_step is not None
    assert found.next_step.recommended is not None
    assert found.plan.lines
    assert found.place is not None
    assert not found.place.is_off
    assert found.load.take or found.load.check
    assert all(one.low_minor <= one.high_minor for one in found.prices)


def test_sheet_tells_what_the_last_entry_changed_in_words_and_numbers(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    before = sheet(database, call_id)
    enter(database, call_id, FindingMade("tests_drain_pump", "silent"))

    after = sheet(database, call_id)

    assert before.shifts == ()
    assert {one.after > one.before for one in after.shifts} == {True, False}
    for shift in after.shifts:
        assert shift.word_before == chance_word(shift.before)
        assert shift.word_after == chance_word(shift.after)
    now = (
        {cause.title: cause.probability for cause in after.ranking.causes} if after.ranking else {}
    )
    named = [shift for shift in after.shifts if shift.title in now]
    assert named
    assert all(now[shift.title] == pytest.approx(shift.after) for shift in named)


def test_off_the_plan_the_plan_is_made_anew_and_findings_still_count(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    printed = sheet(database, call_id)
    enter(database, call_id, FindingMade("looks_for_oil", "found"))

    after = sheet(database, call_id)

    assert after.place is not None
    assert after.place.is_off
    assert after.plan.lines != printed.plan.lines
    assert after.next_step is not None
    assert after.next_step.recommended is not None
    assert len(after.site_made) == 1


def test_after_a_repair_that_works_nothing_or_little_is_left(database: Database) -> None:
    call_id, _ = job_of_the_morning(database)
    enter(database, call_id, FindingMade("tests_drain_pump", "silent"))
    broken = RepairDone("replace_drain_pump", (), Verified.STILL_BROKEN)
    enter(database, call_id, broken)
    still = sheet(database, call_id)
    enter(database, call_id, RepairDone("replace_drain_pump", (), Verified.WORKS))

    works = sheet(database, call_id)

    assert works.ranking is not None
    assert still.ranking is not None
    assert works.next_step is not None
    assert still.next_step is not None
    assert works.next_step.well_share > 0.8 > still.next_step.well_share
    assert works.state.verified(works.network) is Verified.WORKS


def test_sheet_of_a_call_before_its_safety_questions_is_refused(database: Database) -> None:
    report = CallReport(network_id="gas_dryer", caller="A caller", words="")
    entry = Entry(submission=Submission("f" * 32, 0), at=TEN, by="dispatcher")
    call_id = open_call(database, report, entry)

    with pytest.raises(SafetyFirstError, match="safety questions come first"):
        sheet(database, call_id)
