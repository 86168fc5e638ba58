"""What leaving light rows out of a decision costs: the same calls, decided with several shares.

    nice python -m tests.benchmarks.bench_ignored [--calls 6] [--write]

Each first step is valued as a plan of the whole problem that begins with it, 60 steps spelt out
(``plan_cost_at_most``), against the cheapest of the first steps found. With --write the table goes
into docs/policies.md.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import statistics
import time
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.calls import draw_machine, lead_call
from tests.benchmarks.page import write_between
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.catalogue import load_network, network_names
from triage.planning.policy.site import Action
from triage.planning.policy.visit import VisitPolicy
from triage.planning.problem.site import site_problem
from triage.planning.shop.costs import DEFAULT_COSTS
from triage.planning.visit.value import PlanValue

SHARES = (3e-3, 1e-3, 3e-4, 1e-4)
FINDINGS = (0, 2, 3, 4, 6, 8)
STEPS = 60
SEED = 7


@dataclass(frozen=True, slots=True)
class Choice:
    """What a share comes to in one call; ``excess`` above the cheapest step found."""

    left_out: float
    excess: float
    seconds: float


def choices(engine: Engine, evidence: Evidence) -> list[Choice]:
    """One for each share."""
    problem = site_problem(engine, evidence, DEFAULT_COSTS).problem
    start, plans = problem.start(), PlanValue(problem, nodes_max=STEPS)
    steps: list[tuple[Action, float, float]] = []
    for share in SHARES:
        started = time.process_time()
        action = VisitPolicy(problem, share, values=plans.values).action(start)
        seconds = time.process_time() - started
        left_out = start.weights[start.weights <= share * start.mass].sum() / start.mass
        steps.append((action, seconds, float(left_out)))
    costs = {action: plans.cost(start, action) for action, _, _ in steps}
    best = min(costs.values())
    return [Choice(out, costs[action] / best - 1.0, s) for action, s, out in steps]


def table(calls: int) -> str:
    """One row per share, in Markdown."""
    found = []
    for name in network_names():
        engine, rng = Engine(load_network(name)), np.random.default_rng(SEED)
        for findings in FINDINGS[:calls]:
            found.append(
                choices(engine, lead_call(engine, draw_machine(engine, rng), findings, rng))
            )
    lines = [
        f"{len(found)} calls:",
        "",
        "| rows left out below | of the belief, % | dearer than the best step, % | at most, % "
        "| ms a decision |",
        "|---|---|---|---|---|",
    ]
    for share, own in zip(SHARES, zip(*found, strict=True), strict=True):
        lines.append(
            f"| {100.0 * share:g} % | {100.0 * statistics.mean(c.left_out for c in own):.1f} "
            f"| {100.0 * statistics.mean(c.excess for c in own):.2f} "
            f"| {100.0 * max(c.excess for c in own):.1f} "
            f"| {1000.0 * statistics.median(c.seconds for c in own):.0f} |"
        )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--calls", type=int, default=len(FINDINGS), help="of each network")
    parser.add_argument("--write", action="store_true", help="write docs/policies.md")
    words = parser.parse_args()
    text = table(words.calls)
    print(text)
    if words.write:
        write_between("policies.md", "ignored", text)


if __name__ == "__main__":
    main()
