"""Many jobs played by several policies, and what they came to with 95 % intervals.

Job ``k`` of a seed is the same machine with the same answers and the same luck for every policy, so
differences between policies are paired. The engine that decides knows the network as it is filed;
the machines may come from disturbed copies of it, a new copy for each job.

For speed a decision sees fewer hypotheses than in the program (``site_view.ROWS_MAX``) and the
engine drops more of the posterior's mass (``DROPPED_MASS``).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from triage.inference.engine import Engine
from triage.network.values import FaultNetwork
from triage.planning.shop.costs import CostModel
from triage.simulation.disturbance import Disturbance, disturbed
from triage.simulation.draws import Draws
from triage.simulation.jobs import Played, play_job, take_call
from triage.simulation.machines import MachineSource
from triage.simulation.perfect_check import with_perfect_check
from triage.simulation.site_policies import POLICIES, SitePolicyName

DROPPED_MASS = 1e-3  # of the posterior, at each repair
QUANTILE = 1.96  # of the normal distribution, 95 %


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What to play; ``disturbance`` None for machines as the network says.

    ``FIXED`` is always played: the others are compared with it.
    """

    jobs: int
    seed: int
    policies: tuple[SitePolicyName, ...]
    questions: int
    disturbance: Disturbance | None = None


@dataclass(frozen=True, slots=True)
class Estimate:
    """Mean or share with its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyResult:
    """What a policy came to, per job.

    ``saved_minor`` is the paired saving over the fixed sequence, ``saved_share`` the same as a
    share of the fixed sequence's mean cost. ``first_visit`` is the share of the jobs with a visit
    that needed one visit only; ``solved`` the share of all jobs not given up.
    """

    policy: SitePolicyName
    cost_minor: Estimate
    saved_minor: Estimate
    saved_share: Estimate
    minutes_on_site: Estimate
    tests: Estimate
    repairs: Estimate
    wrong_parts: Estimate
    visits: Estimate
    first_visit: Estimate
    solved: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """Results of all policies; the phone stage is the same for all."""

    solved_by_phone: Estimate
    results: tuple[PolicyResult, ...]


def play_jobs(
    network: FaultNetwork, costs: CostModel, plan: Plan
) -> dict[SitePolicyName, list[Played]]:
    """Play every job by every policy, in the order of the jobs.

    Parameters
    ----------
    network : FaultNetwork
        What the deciding engine knows.
    costs : CostModel
    plan : Plan
    """
    known = with_perfect_check(network)
    engine = Engine(known, dropped_mass=DROPPED_MASS)
    names = [SitePolicyName.FIXED, *(n for n in plan.policies if n is not SitePolicyName.FIXED)]
    played: dict[SitePolicyName, list[Played]] = {name: [] for name in names}
    source = MachineSource(engine)
    for job in range(plan.jobs):
        if plan.disturbance is not None:
            rng = np.random.default_rng([plan.seed, job])
            source = MachineSource(Engine(disturbed(known, plan.disturbance, rng)))
        machine = source.machine(Draws((plan.seed, job)))
        call = take_call(engine, machine, costs, plan.questions)
        for name, jobs in played.items():
            jobs.append(play_job(engine, call, POLICIES[name](), costs))
    return played


def study(network: FaultNetwork, costs: CostModel, plan: Plan) -> Study:
    """Play the jobs of a plan and sum them up."""
    played = play_jobs(network, costs, plan)
    fixed = played[SitePolicyName.FIXED]
    return Study(
        solved_by_phone=share_estimate([job.is_solved_by_phone for job in fixed]),
        results=tuple(_result(name, jobs, fixed) for name, jobs in played.items()),
    )


def mean_estimate(values: Sequence[float]) -> Estimate:
    """Mean with its normal interval; at least two values."""
    mean = float(np.mean(values))
    half = QUANTILE * float(np.std(values, ddof=1)) / len(values) ** 0.5
    return Estimate(mean, mean - half, mean + half)


def share_estimate(hits: Sequence[bool]) -> Estimate:
    """Share with its interval by Wilson (1927); of no cases at all nothing is known."""
    count = len(hits)
    if count == 0:
        return Estimate(0.0, 0.0, 1.0)
    share, weight = sum(hits) / count, QUANTILE**2 / count
    middle = (share + weight / 2.0) / (1.0 + weight)
    half = np.sqrt(share * (1.0 - share) * weight + weight**2 / 4.0) / (1.0 + weight)
    return Estimate(share, max(0.0, float(middle - half)), min(1.0, float(middle + half)))


def _result(
    name: SitePolicyName, played: Sequence[Played], fixed: Sequence[Played]
) -> PolicyResult:
    saved = mean_estimate(
        [usual.cost_minor - job.cost_minor for usual, job in zip(fixed, played, strict=True)]
    )
    fixed_mean = float(np.mean([job.cost_minor for job in fixed]))

    def mean_of(measure: Callable[[Played], float]) -> Estimate:
        return mean_estimate([measure(job) for job in played])

    return PolicyResult(
        policy=name,
        cost_minor=mean_of(lambda job: job.cost_minor),
        saved_minor=saved,
        saved_share=Estimate(
            saved.value / fixed_mean, saved.low / fixed_mean, saved.high / fixed_mean
        ),
        minutes_on_site=mean_of(lambda job: job.minutes_on_site),
        tests=mean_of(lambda job: job.tests),
        repairs=mean_of(lambda job: job.repairs),
        wrong_parts=mean_of(lambda job: job.wrong_parts),
        visits=mean_of(lambda job: job.visits),
        first_visit=share_estimate([job.is_solved_on_first_visit for job in played if job.visits]),
        solved=share_estimate([job.is_solved for job in played]),
    )
