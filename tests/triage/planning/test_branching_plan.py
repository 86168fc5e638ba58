"""The branching plan as a checklist with exits, as data, text and picture."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.benchmarks.calls import draw_call
from triage.cli.main import main
from triage.cli.plan_text import branching_lines
from triage.inference.evidence import parse_findings
from triage.network.catalogue import network_names
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.planning.visit.endings import OutcomeKind
from triage.planning.visit.plan import first_visit_plan
from triage.services.networks.engines import engine_for
from triage.services.plan.branching import (
    STEPS_MAX,
    BranchingPlan,
    LineKind,
    PlanLine,
    branching_plan,
    branching_plan_as_json,
)
from triage.services.plan.drawing import draw_branching_plan
from triage.services.plan.lists import HOLD_RULE
from triage.services.plan.next_step import next_step
from triage.services.plan.vans import loaded_van
from triage.services.wording import percent


@pytest.fixture(scope="module")
def plan() -> BranchingPlan:
    engine = engine_for("top_load_washer")
    evidence = parse_findings(
        engine.compiled.index, ["says_water_left=volunteered", "says_pump_hums=yes"]
    )
    return branching_plan(engine, evidence, nodes_max=40)


def test_every_line_but_the_first_comes_from_an_earlier_one(plan: BranchingPlan) -> None:
    numbers = [line.number for line in plan.lines]

    assert numbers == list(range(1, len(numbers) + 1))
    assert plan.lines[0].came_from is None
    assert all(line.came_from is not None for line in plan.lines[1:])
    assert all((line.came_from or 0) < line.number for line in plan.lines[1:])


def test_results_of_a_step_are_no_more_probable_than_the_step(plan: BranchingPlan) -> None:
    by_number = {line.number: line for line in plan.lines}

    for line in plan.lines[1:]:
        source = by_number[line.came_from or 0]
        assert line.probability <= source.probability + 1e-12


def test_most_probable_result_stays_at_the_depth_of_its_step(plan: BranchingPlan) -> None:
    by_source: dict[int, list[int]] = {}
    for line in plan.lines[1:]:
        by_source.setdefault(line.came_from or 0, []).append(line.number)
    by_number = {line.number: line for line in plan.lines}

    for source, results in by_source.items():
        depths = {by_number[n].depth - by_number[source].depth for n in results}
        assert depths <= {0, 1}
        likeliest = max(results, key=lambda n: by_number[n].probability)
        if by_number[likeliest].depth == by_number[source].depth:
            assert likeliest == max(results)


def test_repairs_carry_parts_price_and_certainty(plan: BranchingPlan) -> None:
    repairs = [line for line in plan.lines if line.kind is LineKind.REPAIR]

    assert repairs
    for line in repairs:
        assert line.repair is not None
        assert 0.0 < line.sure <= 1.0
        assert line.price_minor is not None
        assert line.price_minor[0] <= line.price_minor[1]
        assert {part.id for part in line.parts} == set(line.repair.parts)


def test_repair_says_how_likely_it_did_not_hold_where_the_machine_is_still_not_right(
    plan: BranchingPlan,
) -> None:
    """By Bayes' rule from the numbers of the plan: q is left if the repair holds, s its success."""
    onward = {line.came_from: line.probability for line in plan.lines}
    repairs = [one for one in plan.lines if one.kind is LineKind.REPAIR and one.number in onward]

    assert repairs
    for line in repairs:
        assert line.repair is not None
        success, left = line.repair.success, onward[line.number] / line.probability
        expected = (1.0 - success) * line.sure / (1.0 - success * (1.0 - left))
        assert line.unheld_share == pytest.approx(expected, rel=1e-9)
        assert f"{percent(line.unheld_share)} that it did not hold" in branching_plan_sentences(
            plan
        )
    assert {line.unheld_share for line in plan.lines if line.kind is not LineKind.REPAIR} == {0.0}


def test_plan_with_repairs_says_to_make_sure_of_a_repair_that_did_not_help(
    plan: BranchingPlan,
) -> None:
    without = replace(plan, lines=tuple(one for one in plan.lines if one.kind is LineKind.TEST))

    assert HOLD_RULE in branching_plan_sentences(plan)
    assert HOLD_RULE in picture_text(plan)
    assert HOLD_RULE not in branching_plan_sentences(without)


def test_tests_carry_cautions_in_words(plan: BranchingPlan) -> None:
    tests = [line for line in plan.lines if line.kind is LineKind.TEST]

    assert tests
    assert any(line.cautions for line in tests)
    assert all(caution.endswith(".") for line in tests for caution in line.cautions)


def test_plan_says_how_much_is_told_step_by_step_and_how_much_in_lists(
    plan: BranchingPlan,
) -> None:
    stepwise = 1.0 - plan.listed - plan.beyond

    assert 0.0 < plan.listed < 1.0
    assert plan.beyond_sentence.startswith(f"Step by step for {percent(stepwise)} of such visits")
    assert f"for {percent(plan.listed)} a list says the order" in plan.beyond_sentence


@pytest.mark.parametrize("name", network_names())
@pytest.mark.parametrize("findings", [0, 3, 6])
def test_plan_says_what_to_do_in_at_least_95_of_100_visits(name: str, findings: int) -> None:
    engine = engine_for(name)
    _, evidence = draw_call(engine, 4, [findings])

    plan = branching_plan(engine, evidence[findings])

    ends = [line for line in plan.lines if line.kind in (LineKind.LIST, LineKind.STOP)]
    assert plan.beyond <= 0.05
    assert len(plan.lines) < 3 * STEPS_MAX
    assert sum(line.probability for line in ends) >= plan.listed - 1e-9


def test_more_steps_tell_more_step_by_step_and_cost_no_more(plan: BranchingPlan) -> None:
    engine = engine_for("top_load_washer")
    evidence = parse_findings(
        engine.compiled.index, ["says_water_left=volunteered", "says_pump_hums=yes"]
    )

    shorter = branching_plan(engine, evidence, nodes_max=10)

    assert shorter.listed > plan.listed
    assert shorter.gap.upper_minor >= plan.gap.upper_minor


def test_lists_name_repairs_parts_price_and_how_each_repair_is_checked(
    plan: BranchingPlan,
) -> None:
    lists = [line for line in plan.lines if line.kind is LineKind.LIST]
    told = {check.repair.id for check in plan.checks}

    assert lists
    for line in lists:
        assert line.in_order
        assert line.sentence.startswith(line.in_order[0].repair.title)
        assert line.price_minor is not None
        needed = {part for one in line.in_order for part in one.repair.parts}
        assert {part.id for part in line.parts} == needed
        assert {one.repair.id for one in line.in_order if one.checks} <= told
    assert all(check.tests and check.sentence for check in plan.checks)


def test_results_that_end_in_the_same_list_stand_on_one_line(plan: BranchingPlan) -> None:
    by_source: dict[int | None, list[PlanLine]] = {}
    for line in plan.lines:
        by_source.setdefault(line.came_from, []).append(line)

    assert any(len(line.results) > 1 for line in plan.lines)
    for lines in by_source.values():
        lists = [
            (
                tuple((one.repair.id, *(t.id for t in one.checks)) for one in line.in_order),
                line.sentence,
            )
            for line in lines
            if line.in_order
        ]
        assert len(set(lists)) == len(lists)


def test_plan_is_kept_and_not_computed_again(plan: BranchingPlan) -> None:
    engine = engine_for("top_load_washer")
    evidence = parse_findings(
        engine.compiled.index, ["says_water_left=volunteered", "says_pump_hums=yes"]
    )

    assert branching_plan(engine, evidence, nodes_max=40) is plan
    assert next_step(engine, evidence) is next_step(engine, evidence)


@pytest.mark.parametrize("name", network_names())
@pytest.mark.parametrize("findings", [0, 3, 6])
def test_plan_branches_and_next_step_begin_alike_and_cost_alike(name: str, findings: int) -> None:
    engine = engine_for(name)
    _, calls = draw_call(engine, 4, [findings])
    evidence, costs = calls[findings], DEFAULT_SETTINGS.costs_for(name)
    van = loaded_van(engine, evidence)

    plan = first_visit_plan(engine, evidence)
    branches = branching_plan(engine, evidence, costs, van=van)
    now = next_step(engine, evidence, costs, van=van)

    first = branches.lines[0]
    assert now.recommended is not None
    assert now.recommended.title == first.title
    if first.test is not None:
        assert plan.tests[0].observation == first.test
    else:
        assert plan.tests == ()
    visit = next(one for one in plan.outcome.alternatives if one.kind is OutcomeKind.VISIT)
    carried = plan.needs.carrying_minor(plan.load.take, DEFAULT_SETTINGS)
    going = costs.trip_minor + carried
    expected = (visit.expected_cost_minor - going) / (1.0 - now.well_share)
    assert now.expected_minor == pytest.approx(expected, abs=1.0)
    assert now.gap.lower_minor == pytest.approx(branches.gap.lower_minor)


def test_plan_begins_with_the_next_step(plan: BranchingPlan) -> None:
    engine = engine_for("top_load_washer")
    evidence = parse_findings(
        engine.compiled.index, ["says_water_left=volunteered", "says_pump_hums=yes"]
    )

    found = next_step(engine, evidence)

    assert found.recommended is not None
    assert plan.lines[0].title == found.recommended.title


def test_minutes_of_a_line_hold_what_must_be_done_first(plan: BranchingPlan) -> None:
    prepared = [line for line in plan.lines if line.setup_minutes]

    assert prepared
    for line in prepared:
        assert line.minutes > line.setup_minutes
        assert line.preparations


def test_plan_says_how_far_it_is_from_the_best_possible_at_most(plan: BranchingPlan) -> None:
    assert 0.0 < plan.gap.lower_minor <= plan.gap.upper_minor
    assert plan.gap_sentence in branching_plan_sentences(plan)


def branching_plan_sentences(plan: BranchingPlan) -> str:
    """The text of a plan as one line."""
    text = " ".join(" ".join(line.split()) for line in branching_lines(plan))
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_json_holds_one_entry_per_line(plan: BranchingPlan) -> None:
    data = branching_plan_as_json(plan)

    assert isinstance(data["steps"], list)
    assert len(data["steps"]) == len(plan.lines)


def test_picture_is_well_formed_and_has_no_inline_style(plan: BranchingPlan) -> None:
    picture = draw_branching_plan(plan, "Top-load washer & more")
    root = ElementTree.fromstring(picture)

    texts = [entry.text or "" for entry in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any(text.startswith("1. ") for text in texts)
    assert all("style" not in entry.attrib for entry in root.iter())
    assert picture == draw_branching_plan(plan, "Top-load washer & more")


def picture_text(plan: BranchingPlan) -> str:
    """All text that can be read in the picture, hidden titles left out, as one line."""
    root = ElementTree.fromstring(draw_branching_plan(plan, "Top-load washer"))
    texts = [entry.text or "" for entry in root.iter("{http://www.w3.org/2000/svg}text")]
    return " ".join(" ".join(texts).split())


def test_picture_tells_every_title_acceptance_preparation_and_caution(plan: BranchingPlan) -> None:
    text = picture_text(plan)

    told = [f"{line.number}. " for line in plan.lines] + [line.title for line in plan.lines]
    told += [line.test.acceptance for line in plan.lines if line.test is not None]
    told += [step for line in plan.lines for step in line.preparations]
    told += [caution for line in plan.lines for caution in line.cautions]
    assert any(line.cautions for line in plan.lines)
    assert [one for one in told if " ".join(one.split()) not in text] == []


def test_picture_names_the_cautions_of_a_step_by_letters_told_at_its_foot(
    plan: BranchingPlan,
) -> None:
    text = picture_text(plan)
    foot = text[text.index(" Cautions ") :]

    for line in plan.lines:
        letters = sorted(re.findall(rf" ([A-Z]+)\. {re.escape(c)}", foot)[0] for c in line.cautions)
        named = f"{'Cautions' if len(letters) > 1 else 'Caution'}: {', '.join(letters)}."
        assert not letters or named in text


def test_picture_tells_how_the_lists_check_a_repair(plan: BranchingPlan) -> None:
    text = picture_text(plan)

    assert plan.checks
    for check in plan.checks:
        assert f"{check.repair.title}: {check.sentence}." in text
        assert all(test.acceptance in text for test in check.tests)


def test_every_check_of_a_list_has_an_answer_that_speaks_for_the_repair(
    plan: BranchingPlan,
) -> None:
    for check in plan.checks:
        assert check.sentence.count("\N{LEFT DOUBLE QUOTATION MARK}") >= len(check.tests)


def test_command_prints_the_branches_and_writes_the_picture(tmp_path: Path) -> None:
    picture = tmp_path / "plan.svg"
    words = ["plan", "top_load_washer", "--finding", "says_dead=yes", "--branches"]

    result = CliRunner().invoke(main, [*words, "--picture", str(picture)])

    assert result.exit_code == 0, result.output
    assert result.output.lstrip().startswith("1. ")
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    assert CliRunner().invoke(main, [*words, "--picture", str(picture)]).exit_code == 2


def test_picture_without_branches_is_refused_with_the_way_out(tmp_path: Path) -> None:
    words = ["plan", "top_load_washer", "--picture", str(tmp_path / "x.svg")]

    result = CliRunner().invoke(main, words)

    assert result.exit_code == 2
    assert "add --branches" in result.output
