"""Jobs played from the call to the end, and the sums over many of them."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.builders import component, network, observation, repair, sign
from triage.cli.main import main
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, RepairDone
from triage.network.catalogue import load_network
from triage.network.values import Channel, FaultNetwork, OnVan, RepairBy
from triage.planning.shop.costs import DEFAULT_COSTS
from triage.simulation.disturbance import Disturbance
from triage.simulation.draws import Draws
from triage.simulation.jobs import Call, Played, play_job, take_call
from triage.simulation.machines import Machine
from triage.simulation.perfect_check import with_perfect_check
from triage.simulation.site_policies import POLICIES, SitePolicyName, forced_tests
from triage.simulation.study import Plan, mean_estimate, play_jobs, share_estimate

SMALL_WASHER = str(Path(__file__).parents[1] / "network" / "networks_files" / "small_washer.yaml")


def pump_or_belt() -> FaultNetwork:
    """Mostly the pump, which the van carries; rarely the belt, which must be ordered."""
    whole = with_perfect_check(
        network(
            [component("pump", {"burnt": 0.97}), component("belt", {"broken": 0.03})],
            [
                sign("no_drain", {"pump.burnt": 0.95}),
                sign("no_spin", {"belt.broken": 0.95}),
            ],
            [
                observation("says_no_spin", "no_spin", [[1, 0], [0, 1]]),
                observation(
                    "tests_spin", "no_spin", [[1, 0], [0, 1]], channel=Channel.ON_SITE_TEST
                ),
            ],
            repairs=[repair("new_pump", ["pump.burnt"]), repair("new_belt", ["belt.broken"])],
            expected_failed_modes=1.0,
        )
    )
    ordered = replace(whole.parts["new_belt_part"], on_van=OnVan.ORDERED)
    return replace(whole, parts={**whole.parts, "new_belt_part": ordered})


def played(mode: str, policy: SitePolicyName) -> Played:
    """A job that starts with nothing asked."""
    known = pump_or_belt()
    machine = Machine(known, Draws(("job",)), (mode,), {})
    call = Call(
        evidence=Evidence(), machine=machine, question_minutes=(), minutes=2.0, steps_done=()
    )
    return play_job(Engine(known), call, POLICIES[policy](), DEFAULT_COSTS)


def test_job_with_the_right_repair_at_once_costs_call_trip_labour_and_part() -> None:
    job = played("pump.burnt", SitePolicyName.PROBABILITY_PER_COST)

    # 2 min of phone at 75, trip 5000, 20 min and a check of 10 at 100, part 1500.
    assert job.cost_minor == pytest.approx(150 + 5000 + 3000 + 1500)
    assert (job.repairs, job.wrong_parts, job.visits) == (1, 0, 1)
    assert job.is_solved_on_first_visit


def test_job_with_the_part_left_behind_costs_a_return_trip() -> None:
    job = played("belt.broken", SitePolicyName.PROBABILITY_PER_COST)

    # The pump first, in vain: 3000 and 1500; then back with the belt: 10000, 3000 and 1500.
    assert job.cost_minor == pytest.approx(150 + 5000 + 4500 + 10000 + 4500)
    assert (job.repairs, job.wrong_parts, job.visits) == (2, 1, 2)
    assert job.is_solved
    assert not job.is_solved_on_first_visit


def test_fixed_sequence_repairs_what_its_failed_test_exercises() -> None:
    job = played("belt.broken", SitePolicyName.FIXED)

    assert (job.tests, job.repairs, job.wrong_parts) == (1, 1, 0)


def test_fixed_sequence_of_the_washer_starts_with_lock_and_water() -> None:
    order = [test.id for test in forced_tests(load_network("top_load_washer"))][:4]

    assert order[:4] == [
        "tests_lid_lock",
        "tests_cold_valve",
        "tests_hot_valve",
        "tests_drain_pump",
    ]


def test_call_ends_when_a_step_of_the_caller_helped() -> None:
    known = pump_or_belt()
    own_step = replace(
        known.repairs["new_pump"], by=RepairBy.CALLER, parts=(), caller_steps="Shake the pump."
    )
    known = replace(known, repairs={**known.repairs, "new_pump": own_step})
    machine = Machine(known, Draws(("job",)), ("pump.burnt",), {})

    call = take_call(Engine(known), machine, DEFAULT_COSTS, questions=3)

    assert call.is_solved
    assert RepairDone("new_pump") in call.evidence.events
    assert call.minutes == 1.0 + 20.0  # one question tells anything, then the step
    job = play_job(Engine(known), call, POLICIES[SitePolicyName.BASE](), DEFAULT_COSTS)
    assert job.is_solved_by_phone
    assert job.cost_minor == pytest.approx(21 * 75)


def test_same_seed_gives_the_same_jobs_whichever_policies_are_played() -> None:
    small = load_network(SMALL_WASHER)
    plan = Plan(jobs=4, seed=3, policies=(SitePolicyName.BASE,), questions=2)
    both = replace(plan, policies=(SitePolicyName.GAIN, SitePolicyName.BASE))

    alone = play_jobs(small, DEFAULT_COSTS, plan)
    together = play_jobs(small, DEFAULT_COSTS, both)

    assert alone[SitePolicyName.BASE] == together[SitePolicyName.BASE]
    assert alone[SitePolicyName.FIXED] == together[SitePolicyName.FIXED]


def test_every_policy_has_the_same_calls_solved_by_phone() -> None:
    small = load_network(SMALL_WASHER)
    plan = Plan(jobs=12, seed=2, policies=tuple(SitePolicyName), questions=4)

    jobs = play_jobs(small, DEFAULT_COSTS, plan)

    solved = {tuple(job.is_solved_by_phone for job in found) for found in jobs.values()}
    assert len(solved) == 1
    assert True in solved.pop()


def test_disturbed_machines_differ_from_those_of_the_network() -> None:
    small = load_network(SMALL_WASHER)
    plan = Plan(jobs=6, seed=2, policies=(), questions=2)

    true = play_jobs(small, DEFAULT_COSTS, plan)
    wrong = play_jobs(small, DEFAULT_COSTS, replace(plan, disturbance=Disturbance()))

    assert true[SitePolicyName.FIXED] != wrong[SitePolicyName.FIXED]


def test_share_has_the_interval_of_wilson() -> None:
    none = share_estimate([False] * 4)

    # z^2 / (n + z^2) with z = 1.96, by hand.
    assert (none.value, none.low) == (0.0, 0.0)
    assert none.high == pytest.approx(3.8416 / 7.8416)


def test_mean_has_the_normal_interval() -> None:
    found = mean_estimate([1.0, 3.0])

    # Standard deviation sqrt(2), of the mean 1.
    assert (found.low, found.value, found.high) == pytest.approx((0.04, 2.0, 3.96))


def test_simulate_prints_the_same_numbers_as_text_and_as_json() -> None:
    words = ["simulate", SMALL_WASHER, "--jobs", "5", "--seed", "4", "--policy", "base"]

    text = CliRunner().invoke(main, words)
    data = json.loads(CliRunner().invoke(main, [*words, "--json"]).stdout)

    assert text.exit_code == 0, text.output
    assert [entry["policy"] for entry in data["policies"]] == ["fixed", "base"]
    shown = " ".join(text.stdout.split())
    for entry in data["policies"]:
        assert entry["title"] in shown
        assert f"cost {entry['cost_minor']['value'] / 100:.0f} (" in shown
    saved = data["policies"][1]["saved_minor"]["value"]
    costs = [entry["cost_minor"]["value"] for entry in data["policies"]]
    assert saved == pytest.approx(costs[0] - costs[1])


def test_simulate_refuses_a_single_job() -> None:
    result = CliRunner().invoke(main, ["simulate", SMALL_WASHER, "--jobs", "1"])

    assert result.exit_code == 2
    assert "1 is not in the range x>=2" in result.stderr
