"""Do plans hold? What first visit plans promise against what happens to drawn machines: a table.

    nice python -m tests.benchmarks.bench_plans [--jobs 120] [--processes 2] [--write]

A machine is drawn, the call asks eight questions, the visit is planned, and the job is played by
the base policy with the parts of the plan. Nobody declines the price here, and the plan knows that.
Brackets are 95 % intervals by Wilson. With --write the table goes into docs/policies.md.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import multiprocessing
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice
from time import process_time

import numpy as np

from tests.benchmarks.bench_jobs import interval
from tests.benchmarks.page import write_between
from triage.inference.engine import Engine
from triage.network.catalogue import load_network, network_names
from triage.network.values import OnVan
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.planning.visit.plan import VisitPlan, first_visit_plan
from triage.services.simulation import QUESTIONS
from triage.simulation.draws import Draws
from triage.simulation.jobs import Call, play_job, take_call
from triage.simulation.machines import MachineSource
from triage.simulation.perfect_check import with_perfect_check
from triage.simulation.site_policies import POLICIES, SitePolicyName
from triage.simulation.study import DROPPED_MASS, mean_estimate, share_estimate

SEED = 21
SETTINGS = replace(DEFAULT_SETTINGS, quote_declined_share=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What one plan promised and whether the job kept to it.

    ``parts_promised`` is the expected number of parts of the list that are needed.
    """

    within_p50: bool
    within_p80: bool
    within_p95: bool
    minutes_promised: float
    minutes: float
    within_price: bool
    above_price: bool
    first_visit_promised: float
    first_visit: bool
    parts_promised: float
    parts_needed: int
    plan_seconds: float
    cpu_seconds: float


def kept_promises(task: tuple[str, int, int]) -> list[Kept]:
    """Plans and jobs ``start`` to ``stop`` of a network, those with a visit only."""
    name, start, stop = task
    network = with_perfect_check(load_network(name))
    engine = Engine(network, dropped_mass=DROPPED_MASS)
    costs = SETTINGS.costs_for(network.id)
    source = MachineSource(engine)
    calls = (
        take_call(engine, source.machine(Draws((SEED, job))), costs, QUESTIONS)
        for job in range(start, stop)
    )
    return [kept(engine, call) for call in islice(calls, stop - start) if not call.is_solved]


def kept(engine: Engine, call: Call) -> Kept:
    """Plan the visit of a call, play it, and compare."""
    begun = process_time()
    plan = first_visit_plan(engine, call.evidence, SETTINGS)
    planned = process_time()
    items = {item.key: item for item in plan.needs.items}
    taken = frozenset(items[key].part.id for key in plan.load.take)
    usual = {p.id for p in engine.network.parts.values() if p.on_van is OnVan.USUALLY}
    listed = taken | usual
    costs = SETTINGS.costs_for(engine.network.id)
    job = play_job(engine, call, POLICIES[SitePolicyName.BASE](), costs, loaded=taken)
    low, high = plan.price_range_minor
    return Kept(
        within_p50=job.minutes_on_site <= plan.minutes_p50,
        within_p80=job.minutes_on_site <= plan.minutes_p80,
        within_p95=job.minutes_on_site <= plan.minutes_p95,
        minutes_promised=plan.minutes_expected,
        minutes=job.minutes_on_site,
        within_price=low <= job.price_minor <= high,
        above_price=job.price_minor > high,
        first_visit_promised=plan.first_visit_share,
        first_visit=job.is_solved_on_first_visit,
        parts_promised=_promised(plan, listed),
        parts_needed=len(job.parts & listed),
        plan_seconds=planned - begun,
        cpu_seconds=process_time() - begun,
    )


def _promised(plan: VisitPlan, listed: frozenset[str] | set[str]) -> float:
    return sum(plan.needs.need(item.key) for item in plan.needs.items if item.part.id in listed)


def table(found: dict[str, list[Kept]]) -> str:
    """One row per network and one for all, in Markdown; brackets are 95 % intervals."""
    lines = [
        "| network, visits | within P50 | within P80 | within P95 | minutes promised, spent "
        "| within the price range | above it | one visit promised, happened "
        "| parts of the list needed: promised, happened |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    every = [job for jobs in found.values() for job in jobs]
    lines += [_row(name, jobs) for name, jobs in [*found.items(), ("all", every)]]
    return "\n".join(lines)


def _row(name: str, jobs: Sequence[Kept]) -> str:
    minutes = mean_estimate([job.minutes for job in jobs])
    parts = mean_estimate([float(job.parts_needed) for job in jobs])
    cells = [
        f"{name}, {len(jobs)}",
        interval(share_estimate([job.within_p50 for job in jobs])),
        interval(share_estimate([job.within_p80 for job in jobs])),
        interval(share_estimate([job.within_p95 for job in jobs])),
        f"{np.mean([job.minutes_promised for job in jobs]):.0f}, {minutes.value:.0f} ± "
        f"{(minutes.high - minutes.low) / 2.0:.0f}",
        interval(share_estimate([job.within_price for job in jobs])),
        interval(share_estimate([job.above_price for job in jobs])),
        f"{100 * np.mean([job.first_visit_promised for job in jobs]):.0f}, "
        + interval(share_estimate([job.first_visit for job in jobs])),
        f"{np.mean([job.parts_promised for job in jobs]):.2f}, {parts.value:.2f} ± "
        f"{(parts.high - parts.low) / 2.0:.2f}",
    ]
    return f"| {' | '.join(cells)} |"


def timed(found: dict[str, list[Kept]]) -> str:
    """How long planning took, in a sentence."""
    jobs = [job for jobs in found.values() for job in jobs]
    middle, rare = np.quantile([job.plan_seconds for job in jobs], [0.5, 0.95])
    return (
        f"CPU time: {middle:.2f} s a plan (median), {rare:.2f} s at most in 95 of 100; "
        f"{sum(job.cpu_seconds for job in jobs) / 60.0:.0f} minutes for planning and playing all."
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=120, help="of each network")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--write", action="store_true", help="write docs/policies.md")
    words = parser.parse_args()
    starts = range(0, words.jobs, 10)
    tasks = [
        (name, start, min(start + 10, words.jobs)) for name in network_names() for start in starts
    ]
    with multiprocessing.get_context("spawn").Pool(words.processes) as pool:
        answers = pool.map(kept_promises, tasks, chunksize=1)
    found: dict[str, list[Kept]] = {}
    for (name, _, _), jobs in zip(tasks, answers, strict=True):
        found.setdefault(name, []).extend(jobs)
    text = f"{words.jobs} calls a network; shares in percent:\n\n{table(found)}\n\n{timed(found)}"
    print(text)
    if words.write:
        write_between("policies.md", "plans", text)


if __name__ == "__main__":
    main()
