"""Safety table and first visit plan."""

from dataclasses import replace

import pytest

from tests.builders import (
    TEST,
    component,
    network,
    observation,
    random_network,
    repair,
    sign,
)
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, RepairDone
from triage.network.values import (
    Channel,
    FaultNetwork,
    OnVan,
    Part,
    RepairBy,
    SafetyClass,
    SafetyFlag,
)
from triage.planning.policy.phone import phone_advice
from triage.planning.safety import SafetyState, SafetyVerdict
from triage.planning.shop.costs import CostModel
from triage.planning.shop.settings import NewMachine, ShopSettings
from triage.planning.visit.endings import OutcomeKind
from triage.planning.visit.plan import VisitPlan, first_visit_plan

COSTS = CostModel()
KIND = "test_network"  # id of the networks of ``tests.builders``
SETTINGS = ShopSettings(
    costs=COSTS,
    new_machines={KIND: NewMachine(price_minor=72500, installation_minor=17500, life_years=10)},
)


def _taken(plan: VisitPlan) -> list[str]:
    """Parts taken along, in the order of the network."""
    items = {item.key: item.part.id for item in plan.needs.items}
    return [items[key] for key in plan.load.take]


def _flag(name: str, safety_class: SafetyClass) -> SafetyFlag:
    return SafetyFlag(
        id=name,
        title=name,
        wording=f"{name}?",
        safety_class=safety_class,
        script="Leave.",
        referral="Call.",
        provenance=TEST,
    )


def _with_flags(fault_network: FaultNetwork) -> FaultNetwork:
    flags = [
        _flag("hot_belt", SafetyClass.MAKE_SAFE_THEN_BOOK),
        _flag("shock", SafetyClass.MAKE_SAFE_AND_STOP),
        _flag("gas", SafetyClass.LEAVE_AND_CALL),
    ]
    return replace(fault_network, safety_flags={flag.id: flag for flag in flags})


NO_DANGER = {"hot_belt": False, "shock": False, "gas": False}


def test_nothing_is_ranked_while_a_safety_question_is_open() -> None:
    state = SafetyState.of(_with_flags(_choice()), {"hot_belt": False, "shock": None})

    assert state.verdict is SafetyVerdict.ASK
    assert not state.may_rank()
    assert [flag.id for flag in state.unanswered] == ["shock", "gas"]


def test_no_danger_goes_on() -> None:
    assert SafetyState.of(_with_flags(_choice()), NO_DANGER).may_rank()


@pytest.mark.parametrize("flag", ["shock", "gas"])
def test_stopping_flag_is_not_lifted_by_a_confirmation(flag: str) -> None:
    state = SafetyState.of(_with_flags(_choice()), {**NO_DANGER, flag: True}, "Ada Brook")

    assert state.verdict is SafetyVerdict.STOP
    assert not state.may_rank("Ada Brook")


def test_stopping_flag_stops_at_once_with_questions_still_open() -> None:
    assert SafetyState.of(_with_flags(_choice()), {"gas": True}).verdict is SafetyVerdict.STOP


def test_third_class_waits_for_a_named_confirmation() -> None:
    answers = {**NO_DANGER, "hot_belt": True}
    state = SafetyState.of(_with_flags(_choice()), answers)

    assert state.verdict is SafetyVerdict.CONFIRM
    assert not state.may_rank("  ")
    assert state.may_rank("Ada Brook")


def test_worst_class_leads_whatever_the_order_of_the_questions() -> None:
    state = SafetyState.of(_with_flags(_choice()), {"hot_belt": True, "shock": True, "gas": True})

    assert state.worst_class is SafetyClass.LEAVE_AND_CALL
    assert [flag.id for flag in state.raised] == ["gas", "shock", "hot_belt"]


def _choice() -> FaultNetwork:
    """Four exclusive causes, a repair each, one test that tells the first two apart."""
    shares = {"a": 0.4, "b": 0.3, "c": 0.2, "d": 0.1}
    return network(
        [component(name, {"x": share}) for name, share in shares.items()],
        [sign("s", {"a.x": 0.95, "b.x": 0.02, "c.x": 0.02, "d.x": 0.02})],
        [
            observation(
                "test", "s", [[0.97, 0.03], [0.03, 0.97]], channel=Channel.ON_SITE_TEST, minutes=2
            ),
            observation("asks", "s", [[0.8, 0.2], [0.2, 0.8]]),
        ],
        repairs=[repair(f"fix_{name}", [f"{name}.x"]) for name in shares],
        expected_failed_modes=1.0,
    )


def test_plan_says_what_each_result_leads_to() -> None:
    plan = first_visit_plan(Engine(_choice()), Evidence(), SETTINGS)

    step = plan.tests[0]
    leads_to = {result.answer: result.next_repair.id for result in step.results}  # type: ignore[union-attr]
    assert leads_to["yes"] == "fix_a"
    assert leads_to["no"] != "fix_a"
    assert sum(result.probability for result in step.results) == pytest.approx(1.0)


def test_part_is_loaded_when_missing_it_would_cost_more_than_carrying_it() -> None:
    dear_trip = ShopSettings(costs=CostModel(return_trip_minor=100_000))
    cheap_trip = ShopSettings(costs=CostModel(return_trip_minor=600))
    fault_network = _choice()
    not_aboard = {
        name: replace(part, on_van=OnVan.SOMETIMES) for name, part in fault_network.parts.items()
    }
    engine = Engine(replace(fault_network, parts=not_aboard))

    many = first_visit_plan(engine, Evidence(), dear_trip)
    few = first_visit_plan(engine, Evidence(), cheap_trip)

    assert _taken(many) == [f"fix_{name}_part" for name in "abcd"]
    assert _taken(few) == []
    assert many.first_visit_share > few.first_visit_share


def test_cause_the_caller_can_cure_is_solved_by_phone() -> None:
    fault_network = _choice()
    by_caller = replace(
        fault_network.repairs["fix_a"], by=RepairBy.CALLER, parts=(), caller_steps="Plug it in."
    )
    fault_network = replace(fault_network, repairs={**fault_network.repairs, "fix_a": by_caller})
    heard = Evidence.of(Finding("asks", "yes"), Finding("asks", "yes", by="neighbour"))

    plan = first_visit_plan(Engine(fault_network), heard, SETTINGS)

    assert plan.outcome.kind is OutcomeKind.SOLVE_BY_PHONE
    assert plan.caller_steps[0].repair.id == "fix_a"
    cheapest = min(plan.outcome.alternatives, key=lambda entry: entry.expected_cost_minor)
    assert cheapest.kind is OutcomeKind.SOLVE_BY_PHONE


def test_dear_part_turns_the_visit_into_a_warning() -> None:
    fault_network = _choice()
    dear = {
        part: Part(
            id=part,
            title=part,
            cost=(40_000, 60_000),
            on_van=entry.on_van,
            provenance=TEST,
        )
        for part, entry in fault_network.parts.items()
    }
    plan = first_visit_plan(Engine(replace(fault_network, parts=dear)), Evidence(), SETTINGS)

    assert plan.outcome.kind is OutcomeKind.VISIT_NOT_WORTH_REPAIRING
    assert plan.outcome.share > 0.5


@pytest.mark.parametrize("seed", range(4))
def test_plan_of_any_network_is_finite_and_deterministic(seed: int) -> None:
    engine = Engine(random_network(seed))
    evidence = Evidence.of(Finding("o_s0_0", "a"))

    first = first_visit_plan(engine, evidence, SETTINGS)

    assert first == first_visit_plan(engine, evidence, SETTINGS)
    assert first.price_range_minor[0] <= first.price_range_minor[1]
    assert first.minutes_expected > 0.0


def test_machine_that_may_be_well_after_a_repair_is_said_to_be() -> None:
    engine = Engine(_choice())
    repaired = Evidence.of(Finding("test", "yes", by="technician"), RepairDone("fix_a"))

    plan = first_visit_plan(engine, repaired, SETTINGS)

    assert plan.well_share > 0.9
    assert plan.first_repair is not None
    assert plan.first_repair.id != "fix_a"
    assert plan.first_repair_probability < 0.1
    assert _taken(plan) == []


def test_plan_of_a_machine_that_can_have_nothing_wrong_is_empty() -> None:
    everything = Evidence.of(*(RepairDone(f"fix_{name}") for name in "abcd"))

    plan = first_visit_plan(Engine(_choice()), everything, SETTINGS)

    assert plan.well_share == pytest.approx(1.0)
    assert plan.tests == ()
    assert plan.first_repair is None
    assert plan.first_visit_share == pytest.approx(1.0)
    assert plan.minutes_expected == pytest.approx(0.0)


def test_nothing_pays_to_ask_about_a_machine_that_is_well() -> None:
    everything = Evidence.of(*(RepairDone(f"fix_{name}") for name in "abcd"))

    assert not phone_advice(Engine(_choice()), everything, COSTS).is_worth_asking
