"""Cost of policies above the proved optimum, on small generated problems: table and picture.

    nice python -m tests.benchmarks.bench_policies [--scale 1.0] [--processes 2] [--write]

Every policy is valued exactly, by expanding its whole tree; the optimum is proved by search with
bounds. Problems, seeds and thresholds are fixed, so that costs are the same in every run; times are
CPU time of one thread. The thresholds of the gain policies are the best for other problems, drawn
for that. With --write the table goes into docs/policies.md, the picture into docs/pictures.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import multiprocessing
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from tests.benchmarks.page import DOCS, write_between
from tests.benchmarks.policy_picture import picture
from triage.planning.policy.lookahead import TwoStep
from triage.planning.policy.optimum import Optimum
from triage.planning.policy.site import Action, BasePolicy, Policy, Rollout, policy_cost
from triage.planning.policy.visit import VisitPolicy
from triage.planning.problem.arrays import Belief, TroubleshootingProblem
from triage.simulation.policies import (
    FixedSequence,
    GainToThreshold,
    GatedGain,
    MostProbableFirst,
    OneTestValue,
    RepairsByOdds,
)
from triage.simulation.problems import random_problem

SIZES = {(5, 4, 1): 130, (6, 5, 1): 120, (5, 4, 2): 150, (5, 4, 3): 150}  # repairs, tests, faults
TUNING_SEEDS = range(1_000, 1_015)  # of each size
THRESHOLDS = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
FIXED = "fixed sequence of tests"
PROGRAM = "the program: proof or short rollouts"
Make = Callable[[TroubleshootingProblem], Policy]
POLICIES: Mapping[str, Make] = {
    FIXED: FixedSequence,
    "most probable first, no tests": MostProbableFirst,
    "probability per cost, no tests": RepairsByOdds,
    "value-gated gain per cost": GatedGain,
    "value of one test": OneTestValue,
    "base policy (repair-aware)": BasePolicy,
    "two steps, 3 tests and 3 repairs": lambda problem: TwoStep(problem, 3),
    "short rollouts, 30 nodes": lambda problem: VisitPolicy(problem, nodes_of_proof=0),
    PROGRAM: VisitPolicy,
    "rollout over the base policy": lambda problem: Rollout(BasePolicy(problem)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A problem by its size and seed; the thresholds of the gain policies in use."""

    size: tuple[int, int, int]
    seed: int
    thresholds: Mapping[bool, float]

    def problem(self) -> TroubleshootingProblem:
        repairs, tests, faults_max = self.size
        rng = np.random.default_rng([repairs, tests, faults_max, self.seed])
        return random_problem(rng, repairs=repairs, tests=tests, faults_max=faults_max)


@dataclass
class Timed:
    """A policy that counts its decisions and their CPU seconds."""

    policy: Policy
    decisions: int = 0
    seconds: float = 0.0
    problem: TroubleshootingProblem = field(init=False)

    def __post_init__(self) -> None:
        self.problem = self.policy.problem

    def action(self, belief: Belief) -> Action:
        started = time.process_time()
        action = self.policy.action(belief)
        self.seconds += time.process_time() - started
        self.decisions += 1
        return action


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Gap over the optimum (percent), decisions and seconds of every policy in one case."""

    gap: Mapping[str, float]
    decisions: Mapping[str, int]
    seconds: Mapping[str, float]
    optimum_seconds: float


def gain_policies(thresholds: Mapping[bool, float]) -> Mapping[str, Make]:
    """The two threshold policies: by gain, and by gain per cost."""
    return {
        f"gain{' per cost' * per_cost} until {100.0 * at:.0f} % sure": (
            lambda problem, at=at, per_cost=per_cost: GainToThreshold(
                problem, at, per_cost=per_cost
            )
        )
        for per_cost, at in thresholds.items()
    }


def outcome(case: Case) -> Outcome:
    """Value every policy in one case."""
    problem = case.problem()
    started = time.process_time()
    best = Optimum(problem).cost(problem.start())
    optimum_seconds = time.process_time() - started
    policies = {**POLICIES, **gain_policies(case.thresholds)}
    timed = {name: Timed(make(problem)) for name, make in policies.items()}
    gap = {
        name: 100.0 * (policy_cost(policy, problem.start()) / best - 1.0)
        for name, policy in timed.items()
    }
    return Outcome(
        gap=gap,
        decisions={name: policy.decisions for name, policy in timed.items()},
        seconds={name: policy.seconds for name, policy in timed.items()},
        optimum_seconds=optimum_seconds,
    )


def best_thresholds() -> dict[bool, float]:
    """Threshold with the least mean gap on the tuning problems, without and with cost."""
    gaps: dict[tuple[bool, float], list[float]] = {}
    for size, seed in product(SIZES, TUNING_SEEDS):
        problem = Case(size=size, seed=seed, thresholds={}).problem()
        best = Optimum(problem).cost(problem.start())
        for per_cost, at in product((False, True), THRESHOLDS):
            policy = GainToThreshold(problem, at, per_cost=per_cost)
            cost = policy_cost(policy, problem.start())
            gaps.setdefault((per_cost, at), []).append(cost / best - 1.0)
    return {
        per_cost: min(THRESHOLDS, key=lambda at: float(np.mean(gaps[per_cost, at])))
        for per_cost in (False, True)
    }


def table(outcomes: Sequence[Outcome]) -> str:
    """Table of all policies, largest mean gap first, in Markdown."""
    gaps = {name: np.array([o.gap[name] for o in outcomes]) for name in outcomes[0].gap}
    fixed = gaps[FIXED].mean()
    lines = [
        "| policy | mean gap, % | 95th percentile, % | largest, % | of the fixed sequence's gap "
        "closed, % | ms a decision |",
        "|---|---|---|---|---|---|",
    ]
    for name, gap in sorted(gaps.items(), key=lambda entry: -entry[1].mean()):
        half = 1.96 * gap.std(ddof=1) / np.sqrt(len(gap))
        seconds = sum(o.seconds[name] for o in outcomes)
        decisions = sum(o.decisions[name] for o in outcomes)
        lines.append(
            f"| {name} | {gap.mean():.2f} ± {half:.2f} | {np.percentile(gap, 95):.2f} "
            f"| {gap.max():.2f} | {100.0 * (1.0 - gap.mean() / fixed):.1f} "
            f"| {1000.0 * seconds / decisions:.2f} |"
        )
    return "\n".join(lines)


def by_size(cases: Sequence[Case], outcomes: Sequence[Outcome]) -> str:
    """Mean gap of three policies and time of the optimum, for each size."""
    shown = (FIXED, "base policy (repair-aware)", PROGRAM)
    lines = [
        f"| repairs × tests, faults | problems | {', % | '.join(shown)}, % | s for the optimum |",
        "|---|---|---|---|---|---|",
    ]
    for size in SIZES:
        own = [o for case, o in zip(cases, outcomes, strict=True) if case.size == size]
        means = [f"{np.mean([o.gap[name] for o in own]):.2f}" for name in shown]
        seconds = np.mean([o.optimum_seconds for o in own])
        lines.append(
            f"| {size[0]} × {size[1]}, {'1' if size[2] == 1 else f'1 to {size[2]}'} | {len(own)} "
            f"| {' | '.join(means)} | {seconds:.2f} |"
        )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--scale", type=float, default=1.0, help="share of the problems")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--write", action="store_true", help="write docs/policies.md")
    words = parser.parse_args()
    thresholds = best_thresholds()
    cases = [
        Case(size=size, seed=seed, thresholds=thresholds)
        for size, count in SIZES.items()
        for seed in range(max(2, round(words.scale * count)))
    ]
    with multiprocessing.get_context("spawn").Pool(words.processes) as pool:
        outcomes = pool.map(outcome, cases, chunksize=4)
    text = f"{len(cases)} problems.\n\n{table(outcomes)}\n\n{by_size(cases, outcomes)}"
    print(text)
    if words.write:
        gaps = {name: [o.gap[name] for o in outcomes] for name in outcomes[0].gap}
        write_between("policies.md", "small-problems", text)
        (DOCS / "pictures" / "policies.svg").write_text(picture(gaps), encoding="utf-8")


if __name__ == "__main__":
    main()
