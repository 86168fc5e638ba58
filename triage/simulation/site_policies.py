"""Policies of a visit, by name.

Most see the rest of the visit as a problem (``triage.planning.problem.site``), computed afresh from
the exact posterior after every result. The **fixed sequence** is what the trade does without a
program: force one load after the other; at the first that fails, repair what that test exercises,
most probable per cost first, running the test again after each; then go on; at the end repair
whatever is left by probability per cost. It is given the same posterior, so that it differs in the
order of its tests alone.
"""

from collections.abc import Callable, Generator, Mapping
from enum import StrEnum
from typing import Protocol

import numpy as np

from triage.inference.evidence import Finding, finding_likelihood
from triage.network.values import UNTESTABLE, FaultNetwork, Observation, Repair, RepairBy
from triage.planning.policy.lookahead import TwoStep
from triage.planning.policy.site import ActionKind, BasePolicy, Policy
from triage.planning.policy.visit import CANDIDATES, IGNORED_SHARE, VisitPolicy
from triage.planning.problem.arrays import TroubleshootingProblem
from triage.simulation.policies import GainToThreshold, MostProbableFirst, RepairsByOdds
from triage.simulation.site_view import SiteView

THRESHOLD = 0.7  # of the gain policy; the best on small problems (docs/policies.md)
SUSPICION_MIN = 0.05  # a repair less probable than this is not tried for a failed test
SUSPECTS_MAX = 3  # repairs tried for one failed test
# The usual order of the trade: what must lock, then water in, water out, then what turns and heats.
# Common practice, no source.
FORCED_TESTS = (
    "tests_lid_lock",
    "tests_door_lock",
    "tests_cold_valve",
    "tests_hot_valve",
    "tests_drain_pump",
    "tests_low_spin",
    "tests_high_spin",
    "tests_agitation",
    "tests_tumbling",
    "tests_mode_shift",
    "tests_heater",
    "tests_circulation_pump",
    "tests_level",
    "tests_motor",
    "tests_heat",
    "tests_burner_cold",
    "tests_burner_hot",
    "tests_warm_run",
    "tests_panel",
)

Step = Observation | Repair | None  # None: give up


class SitePolicyName(StrEnum):
    """Policies of a visit."""

    FIXED = "fixed"
    MOST_PROBABLE = "most_probable"
    PROBABILITY_PER_COST = "probability_per_cost"
    GAIN = "gain"
    BASE = "base"
    TWO_STEPS = "two_steps"
    PROGRAM = "program"


class SitePolicy(Protocol):
    """Names the next step of one visit; asked once per step, in order."""

    def step(self, view: SiteView) -> Step:
        """Next test or repair; None to give up."""
        ...


class OnProblem:
    """Follows a policy for troubleshooting problems."""

    def __init__(self, policy: Callable[[TroubleshootingProblem], Policy]) -> None:
        self.policy = policy

    def step(self, view: SiteView) -> Step:
        """First step of the policy in what is left of the visit."""
        site = view.site
        action = self.policy(site.problem).action(view.belief)
        if action.kind is ActionKind.TEST:
            return site.tests[action.place]
        return site.repairs[action.place] if action.kind is ActionKind.REPAIR else None


class FixedSequence:
    """Forces one load after the other and repairs what a failed test exercises."""

    def __init__(self) -> None:
        self._steps: Generator[Step, SiteView, None] | None = None

    def step(self, view: SiteView) -> Step:
        """Next step of the sequence."""
        if self._steps is None:
            self._steps = _sequence(view)
            return next(self._steps)
        return self._steps.send(view)


def _sequence(view: SiteView) -> Generator[Step, SiteView, None]:
    for test in forced_tests(view.engine.network):
        view = yield test
        for _ in range(SUSPECTS_MAX):
            suspect = _suspect(view, test) if _has_failed(view, test) else None
            if suspect is None:
                break
            view = yield suspect
            view = yield test
    while True:
        view = yield OnProblem(RepairsByOdds).step(view)


def forced_tests(network: FaultNetwork) -> tuple[Observation, ...]:
    """Tests of the fixed sequence; all on-site tests as the file has them if it knows none."""
    known = [network.observations[name] for name in FORCED_TESTS if name in network.observations]
    every = [
        entry
        for entry in network.observations.values()
        if entry.channel.is_on_site and entry.sign is not None and entry.id != network.verification
    ]
    return tuple(known or every)


def _has_failed(view: SiteView, test: Observation) -> bool:
    """Whether the latest answer speaks most for a state that is neither normal nor untestable."""
    last = view.evidence.events[-1]
    if not isinstance(last, Finding) or last.observation != test.id or test.sign is None:
        return False
    likelihood = finding_likelihood(test, last.answer)
    states = view.engine.network.signs[test.sign].states
    if likelihood is None:
        return False
    best = states[int(np.argmax(likelihood))]
    return best not in (states[0], UNTESTABLE)


def _suspect(view: SiteView, test: Observation) -> Repair | None:
    """Repair of what a test exercises with the best probability per cost, if it is probable."""
    exercised = set(view.engine.network.signs[test.sign or ""].parents)
    best, best_rank = None, 0.0
    for repair in view.engine.network.repairs.values():
        if repair.by is RepairBy.CALLER:
            continue
        cured = [mode for mode in repair.cures if mode in exercised]
        probability = sum(view.mode_probabilities[mode] for mode in cured)
        rank = probability / view.repair_minor(repair)
        if probability >= SUSPICION_MIN and rank > best_rank:
            best, best_rank = repair, rank
    return best


POLICIES: Mapping[SitePolicyName, Callable[[], SitePolicy]] = {
    SitePolicyName.FIXED: FixedSequence,
    SitePolicyName.MOST_PROBABLE: lambda: OnProblem(MostProbableFirst),
    SitePolicyName.PROBABILITY_PER_COST: lambda: OnProblem(RepairsByOdds),
    SitePolicyName.GAIN: lambda: OnProblem(
        lambda problem: GainToThreshold(problem, THRESHOLD, per_cost=True)
    ),
    SitePolicyName.BASE: lambda: OnProblem(lambda problem: BasePolicy(problem, IGNORED_SHARE)),
    SitePolicyName.TWO_STEPS: lambda: OnProblem(
        lambda problem: TwoStep(problem, CANDIDATES, IGNORED_SHARE)
    ),
    SitePolicyName.PROGRAM: lambda: OnProblem(VisitPolicy),
}
