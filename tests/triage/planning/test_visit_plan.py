"""Endings of a call with their costs, the van of a visit, settings and offer of a visit plan."""

from dataclasses import replace

import pytest

from tests.builders import component, network, observation, repair, sign
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, parse_findings
from triage.network.values import (
    Channel,
    Component,
    ComponentKind,
    FaultNetwork,
    OnVan,
    Repair,
    RepairBy,
)
from triage.planning.parts.van import all_ready, visit_needs, with_van
from triage.planning.problem.site import site_problem
from triage.planning.shop.costs import CostModel
from triage.planning.shop.fitting import Variant
from triage.planning.shop.settings import DEFAULT_SETTINGS, NewMachine, PartSettings, ShopSettings
from triage.planning.visit.endings import OutcomeKind
from triage.planning.visit.plan import VisitPlan, first_visit_plan
from triage.services.networks.engines import engine_for
from triage.services.plan import visit
from triage.services.plan.load import VisitRequest, load_as_json, load_list
from triage.services.plan.offer import visit_offer

NETWORKS = ("top_load_washer", "front_load_washer", "electric_dryer", "gas_dryer")
KIND = "test_network"  # id of the networks of ``tests.builders``
SHOP = ShopSettings(costs=CostModel(verification_minutes=0))


def _fault_network(
    *, by_b: RepairBy = RepairBy.TECHNICIAN, is_b_sound: bool = False
) -> FaultNetwork:
    """Two exclusive causes with a repair each; parts that are not on the van."""
    second: Component = component("b", {"y": 0.5})
    if is_b_sound:
        second = replace(second, kind=ComponentKind.NOTHING_FAILED)
    fix_b: Repair = repair("fix_b", ["b.y"])
    if by_b is not RepairBy.TECHNICIAN:
        fix_b = replace(fix_b, by=by_b, parts=(), caller_steps="Do this.")
    found = network(
        [component("a", {"x": 0.5}), second],
        [sign("s", {"a.x": 0.95, "b.y": 0.05})],
        [
            observation("asks", "s", [[0.95, 0.05], [0.05, 0.95]]),
            observation(
                "test", "s", [[0.9, 0.1], [0.1, 0.9]], channel=Channel.ON_SITE_TEST, minutes=2
            ),
        ],
        repairs=[repair("fix_a", ["a.x"]), fix_b],
        expected_failed_modes=1.0,
    )
    parts = {name: replace(part, on_van=OnVan.ORDERED) for name, part in found.parts.items()}
    return replace(found, parts=parts)


def _costs(plan: VisitPlan) -> dict[OutcomeKind, int]:
    return {entry.kind: entry.expected_cost_minor for entry in plan.outcome.alternatives}


def test_visit_with_its_parts_is_cheaper_than_with_the_van_as_it_is() -> None:
    plan = first_visit_plan(Engine(_fault_network()), Evidence(), SHOP)

    found = _costs(plan)

    # Without the parts every job costs a return trip of 100; taking both along costs 14.50.
    assert found[OutcomeKind.VISIT] < found[OutcomeKind.VISIT_VAN_AS_IS]
    difference = found[OutcomeKind.VISIT_VAN_AS_IS] - found[OutcomeKind.VISIT]
    assert difference >= 10000 - 2 * (500 + 0.15 * 1500)


def test_ordered_part_that_is_aboard_costs_no_return_trip() -> None:
    engine = Engine(_fault_network())
    site = site_problem(engine, Evidence(), SHOP.costs)

    ready = with_van(site, {"fix_a_part": 1.0, "fix_b_part": 0.25}, 10000)

    assert ready.problem.repair_cost[0] == site.problem.repair_cost[0]
    # A quarter of the pieces fit; the others mean coming again.
    assert ready.problem.repair_cost[1] == site.problem.repair_cost[1] + 0.75 * 10000


def test_other_trade_brings_its_own_parts() -> None:
    theirs = replace(repair("fix", ["a.x"]), by=RepairBy.LICENSED_TRADE)

    assert all_ready(theirs, {}) == 1.0


def test_wrong_no_fault_makes_saying_so_dear_while_something_may_have_failed() -> None:
    engine = Engine(_fault_network(by_b=RepairBy.CALLER, is_b_sound=True))
    dear = replace(SHOP, costs=replace(SHOP.costs, wrong_no_fault_minor=50000))

    cheap_mistake = _costs(first_visit_plan(engine, Evidence(), SHOP))
    dear_mistake = _costs(first_visit_plan(engine, Evidence(), dear))

    # P(something failed) is one half, and 400 more are due in that half.
    more = dear_mistake[OutcomeKind.SAY_NO_FAULT] - cheap_mistake[OutcomeKind.SAY_NO_FAULT]
    assert more == pytest.approx(0.5 * 40000, abs=1)


def test_machine_that_is_probably_sound_is_not_visited() -> None:
    engine = Engine(_fault_network(is_b_sound=True))
    heard = Evidence.of(*(Finding("asks", "no", by=person) for person in ("one", "two", "three")))

    plan = first_visit_plan(engine, heard, SHOP)

    assert plan.outcome.kind is OutcomeKind.SAY_NO_FAULT
    assert plan.outcome.share > 0.9


def test_work_of_another_trade_is_referred_out() -> None:
    engine = Engine(_fault_network(by_b=RepairBy.LICENSED_TRADE))
    heard = Evidence.of(*(Finding("asks", "no", by=person) for person in ("one", "two", "three")))

    plan = first_visit_plan(engine, heard, SHOP)

    assert plan.outcome.kind is OutcomeKind.REFER_OUT
    assert plan.outcome.share > 0.9


def test_step_of_the_caller_counts_though_the_technician_could_do_it_cheaper() -> None:
    fault_network = _fault_network()
    cheap = replace(fault_network.repairs["fix_b"], minutes=1, parts=())
    step = replace(
        fault_network.repairs["fix_b"],
        id="do_it",
        by=RepairBy.CALLER,
        parts=(),
        minutes=5,
        caller_steps="Do this.",
    )
    repairs = {**fault_network.repairs, "fix_b": cheap, "do_it": step}

    plan = first_visit_plan(Engine(replace(fault_network, repairs=repairs)), Evidence(), SHOP)

    assert [entry.repair.id for entry in plan.caller_steps] == ["do_it"]
    assert plan.caller_steps[0].probability == pytest.approx(0.5, abs=0.01)
    assert OutcomeKind.SOLVE_BY_PHONE in _costs(plan)


def test_leaving_it_unrepaired_is_an_ending_at_its_cost() -> None:
    settings = replace(SHOP, unrepaired_minor=12345)

    plan = first_visit_plan(Engine(_fault_network()), Evidence(), settings)

    assert _costs(plan)[OutcomeKind.VISIT_NOT_WORTH_REPAIRING] == 12345


def test_rules_that_agree_on_a_new_machine_turn_the_visit_into_a_warning() -> None:
    cheap_new = NewMachine(price_minor=8000, installation_minor=1000, life_years=10)
    settings = replace(SHOP, new_machines={KIND: cheap_new}, unrepaired_minor=200000)

    plan = first_visit_plan(Engine(_fault_network()), Evidence(), settings)

    assert plan.outcome.kind is OutcomeKind.VISIT_NOT_WORTH_REPAIRING
    assert plan.advice is not None
    assert plan.outcome.share == plan.advice.rules[0].share_above > 0.5


def test_quotes_declined_come_from_the_settings() -> None:
    engine = Engine(_fault_network())

    never = first_visit_plan(engine, Evidence(), replace(SHOP, quote_declined_share=0.0))
    often = first_visit_plan(engine, Evidence(), replace(SHOP, quote_declined_share=0.5))

    assert often.declined_share == 0.5
    assert often.minutes_expected < never.minutes_expected
    assert often.first_visit_share == pytest.approx(never.first_visit_share)


def test_minutes_rise_with_the_share_of_visits_they_keep() -> None:
    engine = engine_for("top_load_washer")

    plan = first_visit_plan(engine, Evidence())

    assert plan.minutes_p50 <= plan.minutes_p80 <= plan.minutes_p95
    assert plan.minutes_p50 < plan.minutes_p95


@pytest.mark.parametrize("name", NETWORKS)
def test_plan_and_load_list_are_one_computation(name: str) -> None:
    engine = engine_for(name)
    settings = ShopSettings(parts={"drain_pump": PartSettings(stock=0, fit_share=0.5)})

    plan = visit.first_visit_plan(engine, Evidence(), settings)
    alone = load_list([VisitRequest(engine, Evidence())], settings)

    assert load_as_json(plan.load) == load_as_json(alone)
    assert {entry.part.id for entry in plan.parts} == {
        entry.part.id for entry in (*alone.take, *alone.check)
    }


def test_job_types_of_a_visit_sum_to_one() -> None:
    engine = engine_for("top_load_washer")
    site = site_problem(engine, Evidence(), DEFAULT_SETTINGS.costs)

    needs = visit_needs(site, engine.network, DEFAULT_SETTINGS)

    assert sum(job.probability for job in needs.jobs) == pytest.approx(1.0)


def test_two_numbers_of_a_part_and_no_plate_ask_for_a_photo() -> None:
    variants = tuple(
        Variant(number=number, plates=(f"{number}*",), share=0.5, stock=1) for number in "AB"
    )
    settings = ShopSettings(parts={"drain_pump": PartSettings(variants=variants)})
    engine = engine_for("top_load_washer", settings)
    evidence = parse_findings(engine.compiled.index, ["says_water_left=yes"])

    unread = visit.first_visit_plan(engine, evidence, settings)
    read = visit.first_visit_plan(engine, evidence, settings, plate="A 17")

    assert any("photo of the plate" in text for text in unread.load.visits[0].asks)
    assert any("photo of the plate" in text for text in visit_offer(unread).script)
    assert not any("photo of the plate" in text for text in visit_offer(read).script)


def test_piece_that_does_not_fit_lowers_the_share_of_first_visits() -> None:
    engine = engine_for("top_load_washer")
    evidence = parse_findings(engine.compiled.index, ["says_water_left=yes"])
    seldom = ShopSettings(parts={"drain_pump": PartSettings(stock=1, fit_share=0.5)})

    as_usual = visit.first_visit_plan(engine, evidence)
    plan = visit.first_visit_plan(engine, evidence, seldom)

    assert plan.first_visit_share < as_usual.first_visit_share - 0.05


def test_every_ending_says_what_it_costs_how_much_dearer_it_is_and_why() -> None:
    plan = visit.first_visit_plan(engine_for("gas_dryer"), Evidence())

    assert plan.endings[0].difference_minor == 0
    costs = [entry.expected_cost_minor for entry in plan.endings]
    assert costs == sorted(costs)
    assert [entry.difference_minor for entry in plan.endings] == [c - costs[0] for c in costs]
    assert all(entry.sentence.endswith(".") for entry in plan.endings)
    assert {OutcomeKind.VISIT, OutcomeKind.REFER_OUT, OutcomeKind.SAY_NO_FAULT} <= {
        entry.kind for entry in plan.endings
    }


def test_slot_is_eight_of_ten_visits_in_whole_quarters_of_an_hour() -> None:
    plan = visit.first_visit_plan(engine_for("gas_dryer"), Evidence())

    slots = {
        minutes: visit_offer(replace(plan, minutes_p80=minutes)).slot_minutes
        for minutes in (0.0, 15.0, 44.5, 45.0, 46.0)
    }

    assert slots == {0.0: 15, 15.0: 15, 44.5: 45, 45.0: 45, 46.0: 60}


def test_offer_says_slot_price_and_what_to_prepare() -> None:
    plan = visit.first_visit_plan(engine_for("gas_dryer"), Evidence())

    offer = visit_offer(plan)

    assert f"about {offer.slot_minutes} minutes" in offer.script[0]
    assert offer.script[1] == offer.price_sentence
    assert "90 USD" in offer.price_sentence
    assert len(offer.script) == 2 + len(offer.preparation)


def test_advice_to_replace_names_the_customer_as_the_one_who_decides() -> None:
    engine = engine_for("front_load_washer")
    evidence = parse_findings(engine.compiled.index, ["asks_age=over_12"])

    plan = visit.first_visit_plan(engine, evidence)

    assert plan.advice is not None
    assert plan.advice.advice.age_years == 14.0
    assert plan.advice.reasons[-1] == "This is advice; the customer decides."


def test_settings_that_change_nothing_share_the_engine_and_others_get_their_own() -> None:
    own = ShopSettings(parts={"drain_pump": PartSettings(cost_minor=(9000, 9000))})

    assert engine_for("gas_dryer", ShopSettings(quote_declined_share=0.1)) is engine_for(
        "gas_dryer"
    )
    assert engine_for("top_load_washer", own) is not engine_for("top_load_washer")
    assert engine_for("top_load_washer", own) is engine_for("top_load_washer", own)
    assert engine_for("top_load_washer", own).network.parts["drain_pump"].cost == (9000, 9000)


def test_settings_applied_twice_change_nothing_more() -> None:
    own = ShopSettings(parts={"drain_pump": PartSettings(cost_minor=(9000, 9000))})
    once = own.applied_to(engine_for("top_load_washer").network)

    assert own.applied_to(once) is once
