"""CPU time of decisions on calls of the shipped networks: the next step, and the whole plan.

    nice python -m tests.benchmarks.bench_decisions [--calls 5] [--write]

Calls are drawn from the networks themselves and led by gain per minute (``calls.py``);
one seed gives the same calls. Times are medians of CPU time, one thread. With --write the table
goes into docs/policies.md.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from tests.benchmarks.calls import draw_machine, lead_call
from tests.benchmarks.page import write_between
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.catalogue import load_network, network_names
from triage.planning.policy.visit import VisitPolicy
from triage.planning.problem.site import site_problem
from triage.planning.shop.costs import DEFAULT_COSTS
from triage.services.plan.branching import branching_plan
from triage.services.plan.next_step import next_step

Result = TypeVar("Result")
FINDINGS = (0, 3, 8)
SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Milliseconds of one call, and how well its plan is spelt out and bounded."""

    build: float
    decision: float
    step: float
    plan: float
    stepwise: float
    told: float
    excess: float


def timed(work: Callable[[], Result]) -> tuple[float, Result]:
    """CPU milliseconds of some work, and its result."""
    started = time.process_time()
    result = work()
    return 1000.0 * (time.process_time() - started), result


def times(engine: Engine, evidence: Evidence) -> Times:
    """Times of one call; the posterior is known already, as after an answer."""
    engine.posterior(evidence)
    build, site = timed(lambda: site_problem(engine, evidence, DEFAULT_COSTS))
    decision, _ = timed(lambda: VisitPolicy(site.problem).action(site.problem.start()))
    step, _ = timed(lambda: next_step(engine, evidence))
    whole, plan = timed(lambda: branching_plan(engine, evidence))
    return Times(
        build=build,
        decision=decision,
        step=step,
        plan=whole,
        stepwise=100.0 * (1.0 - plan.listed - plan.beyond),
        told=100.0 * (1.0 - plan.beyond),
        excess=100.0 * plan.gap.excess_share,
    )


def table(calls: int) -> str:
    """One row per network and number of findings, medians, in Markdown."""
    lines = [
        "| network | findings | problem, ms | decision, ms "
        "| next step with alternatives and bound, ms | whole plan, ms | step by step, % "
        "| with lists, % "
        "| above the best possible at most, % |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for name in network_names():
        engine = Engine(load_network(name))
        rng = np.random.default_rng(SEED)
        for findings in FINDINGS:
            drawn = [
                lead_call(engine, draw_machine(engine, rng), findings, rng) for _ in range(calls)
            ]
            found = [times(engine, evidence) for evidence in dict.fromkeys(drawn)]  # plans are kept
            columns = [
                statistics.median(getattr(entry, field) for entry in found)
                for field in ("build", "decision", "step", "plan", "stepwise", "told", "excess")
            ]
            cells = " | ".join(f"{value:.0f}" for value in columns)
            lines.append(f"| {name} | {findings} | {cells} |")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--calls", type=int, default=5, help="of each network and number")
    parser.add_argument("--write", action="store_true", help="write docs/policies.md")
    words = parser.parse_args()
    text = table(words.calls)
    print(text)
    if words.write:
        write_between("policies.md", "decisions", text)


if __name__ == "__main__":
    main()
