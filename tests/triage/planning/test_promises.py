"""What a forecast promises holds for machines drawn from the network, within binomial intervals."""

from dataclasses import dataclass, replace

import pytest
from scipy.stats import binom

from tests.builders import component, network, observation, repair, sign
from triage.inference.engine import Engine
from triage.network.values import Channel, FaultNetwork
from triage.planning.policy.site import BasePolicy
from triage.planning.policy.visit import IGNORED_SHARE
from triage.planning.problem.site import site_problem
from triage.planning.shop.costs import CostModel
from triage.planning.visit.outcomes import VisitForecast, visit_forecast
from triage.planning.visit.tree import plan_tree
from triage.simulation.draws import Draws
from triage.simulation.jobs import Call, Played, play_job, take_call
from triage.simulation.machines import MachineSource
from triage.simulation.perfect_check import with_perfect_check
from triage.simulation.site_policies import POLICIES, SitePolicyName

SHARES = {"pump": 0.35, "belt": 0.25, "lock": 0.2, "valve": 0.12, "board": 0.08}
MINUTES = {"pump": 35, "belt": 25, "lock": 30, "valve": 20, "board": 40}
SAID = [[0.85, 0.15], [0.3, 0.7]]  # P(answer | the sign is not there, is there)
SEEN = [[0.92, 0.08], [0.1, 0.9]]
HOLDS = 0.8
COSTS = CostModel()
CALLS, QUESTIONS, SEED = 120, 2, 4
SPELT_OUT = 8  # steps; the rest of the visits is played on
OUTSIDE = 0.005  # of samples, on either side of the interval


@dataclass(frozen=True)
class Compared:
    """A forecast and what happened; every part is aboard."""

    forecast: VisitForecast
    job: Played


def five_causes() -> FaultNetwork:
    """Five causes with a question and a test each, both unsure, and repairs that may not hold."""
    asked = [observation(f"says_{name}", f"sign_{name}", SAID) for name in SHARES]
    tested = [
        observation(f"tests_{name}", f"sign_{name}", SEEN, channel=Channel.ON_SITE_TEST, minutes=6)
        for name in SHARES
    ]
    return network(
        [component(name, {"bad": share}) for name, share in SHARES.items()],
        [sign(f"sign_{name}", {f"{name}.bad": 0.9}, leak=0.05) for name in SHARES],
        [*asked, *tested],
        repairs=[
            repair(f"fix_{name}", [f"{name}.bad"], HOLDS, minutes=minutes)
            for name, minutes in MINUTES.items()
        ],
        expected_failed_modes=1.05,
    )


def compared(engine: Engine, call: Call) -> Compared:
    site = site_problem(engine, call.evidence, COSTS)
    policy = BasePolicy(site.problem, IGNORED_SHARE)
    tree = plan_tree(policy, covered_share=1.0, nodes_max=SPELT_OUT, holds=site.holds)
    parts = dict(engine.network.parts)
    forecast = visit_forecast(site, tree, policy, parts, COSTS, declined_share=0.0)
    by_hand = POLICIES[SitePolicyName.BASE]()
    return Compared(forecast, play_job(engine, call, by_hand, COSTS, loaded=frozenset(parts)))


@pytest.fixture(scope="module")
def visits() -> list[Compared]:
    engine = Engine(with_perfect_check(five_causes()))
    source = MachineSource(engine)
    machines = [source.machine(Draws((SEED, number))) for number in range(CALLS)]
    calls = [take_call(engine, machine, COSTS, QUESTIONS) for machine in machines]
    return [compared(engine, call) for call in calls]


@pytest.mark.parametrize("share", [0.5, 0.8, 0.95])
def test_share_of_visits_within_the_minutes_promised_is_the_one_promised(
    visits: list[Compared], share: float
) -> None:
    kept = sum(one.job.minutes_on_site <= one.forecast.minutes(share) for one in visits)

    low, high = binom.ppf([OUTSIDE, 1.0 - OUTSIDE], len(visits), share)
    assert low <= kept <= high


def test_share_of_visits_within_the_price_promised_is_the_one_promised(
    visits: list[Compared],
) -> None:
    ranges = [one.forecast.price_minor(0.1, 0.9) for one in visits]

    kept = sum(
        low <= one.job.price_minor <= high for one, (low, high) in zip(visits, ranges, strict=True)
    )

    low, high = binom.ppf([OUTSIDE, 1.0 - OUTSIDE], len(visits), 0.8)
    assert low <= kept <= high


def test_machines_work_after_the_visit_as_often_as_promised(visits: list[Compared]) -> None:
    ready = dict.fromkeys((f"fix_{name}_part" for name in SHARES), 1.0)
    promised = sum(one.forecast.first_visit_share(ready) for one in visits) / len(visits)

    happened = sum(one.job.is_solved_on_first_visit for one in visits)

    # A sum of unequal chances varies less than a binomial one of the same mean.
    low, high = binom.ppf([OUTSIDE, 1.0 - OUTSIDE], len(visits), promised)
    assert low <= happened <= high


def test_forecast_that_takes_every_repair_for_lasting_is_too_short() -> None:
    engine = Engine(with_perfect_check(five_causes()))
    lasting = replace(
        engine.network,
        repairs={name: replace(r, success=1.0) for name, r in engine.network.repairs.items()},
    )
    call = take_call(engine, MachineSource(engine).machine(Draws((SEED, 0))), COSTS, QUESTIONS)

    honest = compared(engine, call).forecast
    hopeful = compared(Engine(lasting), call).forecast

    assert hopeful.minutes(0.95) < honest.minutes(0.95)
    assert hopeful.minutes_expected < 0.9 * honest.minutes_expected
