"""What policies of a visit come to on the shipped networks, true and disturbed: two tables.

    nice python -m tests.benchmarks.bench_jobs [--jobs 200] [--processes 2] [--write]

The jobs are those of ``triage simulate --seed 1``. With --write the tables go into
docs/policies.md.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import multiprocessing
import statistics
import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count, islice, product

from tests.benchmarks.page import write_between
from triage.inference.engine import Engine
from triage.network.catalogue import load_network, network_names
from triage.planning.policy.visit import VisitPolicy
from triage.planning.problem.site import ROWS_MAX, site_problem
from triage.planning.shop.costs import DEFAULT_COSTS
from triage.services.simulation import QUESTIONS, simulate
from triage.simulation import site_view
from triage.simulation.draws import Draws
from triage.simulation.jobs import take_call
from triage.simulation.machines import MachineSource
from triage.simulation.perfect_check import with_perfect_check
from triage.simulation.study import Estimate, Study

SEED = 1
CALLS_TIMED = 10  # first decisions of a visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A network, and whether its machines are drawn from disturbed copies."""

    network: str
    is_disturbed: bool
    jobs: int


def played(task: Task) -> tuple[Study, float]:
    """The study of a task, and its CPU seconds a job."""
    started = time.process_time()
    found = simulate(
        Engine(load_network(task.network)),
        jobs=task.jobs,
        seed=SEED,
        is_disturbed=task.is_disturbed,
    )
    return found, (time.process_time() - started) / task.jobs


def decision_ms(network: str, rows_max: int) -> float:
    """Median CPU milliseconds of the first decision of a visit: problem and action."""
    engine = Engine(with_perfect_check(load_network(network)))
    source = MachineSource(engine)
    machines = (source.machine(Draws(("time", job))) for job in count())
    calls = (take_call(engine, machine, DEFAULT_COSTS, QUESTIONS) for machine in machines)
    seconds = []
    for call in islice((call for call in calls if not call.is_solved), CALLS_TIMED):
        started = time.process_time()
        problem = site_problem(engine, call.evidence, DEFAULT_COSTS, rows_max=rows_max).problem
        VisitPolicy(problem).action(problem.start())
        seconds.append(time.process_time() - started)
    return 1000.0 * statistics.median(seconds)


def table(tasks: Sequence[Task], studies: Sequence[Study]) -> str:
    """One row per network and policy, in Markdown."""
    lines = [
        "| network, solved by phone | policy | cost, USD | saved, % | minutes on site | tests "
        "| repairs | parts in vain | one visit, % | works, % |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for task, found in zip(tasks, studies, strict=True):
        name = f"{task.network}, {percent(found.solved_by_phone)} %"
        for result in found.results:
            saved = interval(result.saved_share) if result.policy.value != "fixed" else ""
            lines.append(
                f"| {name} | `{result.policy.value}` | {number(result.cost_minor, 100)} | {saved} "
                f"| {number(result.minutes_on_site)} | {number(result.tests)} "
                f"| {number(result.repairs)} | {number(result.wrong_parts)} "
                f"| {interval(result.first_visit)} | {interval(result.solved)} |"
            )
            name = ""
    return "\n".join(lines)


def number(estimate: Estimate, unit: float = 1.0) -> str:
    """Mean and half its interval."""
    half = (estimate.high - estimate.low) / 2.0
    digits = 0 if estimate.value / unit >= 20 else 2
    return f"{estimate.value / unit:.{digits}f} ± {half / unit:.{digits}f}"


def percent(estimate: Estimate) -> str:
    return f"{100.0 * estimate.value:.0f}"


def interval(estimate: Estimate) -> str:
    """Percent with its interval."""
    return f"{percent(estimate)} ({100.0 * estimate.low:.0f} to {100.0 * estimate.high:.0f})"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=200, help="of each network")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--write", action="store_true", help="write docs/policies.md")
    words = parser.parse_args()
    networks = network_names()
    tasks = [
        Task(network=network, is_disturbed=is_disturbed, jobs=words.jobs)
        for is_disturbed, network in product((False, True), networks)
    ]
    with multiprocessing.get_context("spawn").Pool(words.processes) as pool:
        answers = pool.map(played, tasks, chunksize=1)
    studies = [found for found, _ in answers]
    half = len(networks)
    sizes = (site_view.ROWS_MAX, ROWS_MAX)
    times = {rows: [decision_ms(network, rows) for network in networks] for rows in sizes}
    text = "\n\n".join(
        [
            f"{words.jobs} jobs a network, machines as the network says:",
            table(tasks[:half], studies[:half]),
            "The same from disturbed copies, a new one for each job:",
            table(tasks[half:], studies[half:]),
            f"CPU time: {statistics.mean(seconds for _, seconds in answers):.2f} s a job for all "
            "policies; the first decision of a visit takes "
            + " and ".join(f"{max(ms):.0f} ms at {rows} rows" for rows, ms in times.items())
            + " (median of the slowest network).",
        ]
    )
    print(text)
    if words.write:
        write_between("policies.md", "jobs", text)


if __name__ == "__main__":
    main()
