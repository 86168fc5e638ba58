"""When to stop asking on the phone: what each rule comes to in whole jobs on the shipped networks.

    nice python -m tests.benchmarks.bench_phone [--jobs 100] [--processes 2] [--write]

Every rule meets the same machines, asks in the same order and stops at another question; then the
job is played to its end by the program's policy. A minute on the phone grows dearer as the caller
tires (``triage.planning.policy.phone.patience``). With --write the table goes into
docs/policies.md.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import multiprocessing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.page import write_between
from triage.inference.engine import Engine
from triage.network.catalogue import load_network, network_names
from triage.planning.policy.phone import QuestionValue, patience, phone_advice
from triage.planning.shop.costs import CostModel
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.simulation.draws import Draws
from triage.simulation.jobs import Call, calls_question_by_question, play_job, with_caller_steps
from triage.simulation.machines import MachineSource
from triage.simulation.perfect_check import with_perfect_check
from triage.simulation.site_policies import POLICIES, SitePolicyName
from triage.simulation.study import DROPPED_MASS, Estimate, mean_estimate, share_estimate

SEED = 11
QUESTIONS_MAX = 24
BASELINE = "8 questions"


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment of a call: questions asked, what the open ones are worth, gain of the next."""

    asked: int
    values: tuple[QuestionValue, ...]
    next_id: str
    gain_bits_per_minute: float

    def next_pays(self) -> bool:
        """Whether the question that would be asked now saves more than it costs."""
        return any(
            entry.saving_per_cost > 1.0
            for entry in self.values
            if entry.observation.id == self.next_id
        )

    def ratio(self) -> float:
        """Largest saving of a question per its cost, the caller's patience in the cost."""
        return max((entry.saving_per_cost for entry in self.values), default=0.0)


def _fixed(count: int) -> Callable[[Moment], bool]:
    return lambda moment: moment.asked >= count


def _ratio_below(least: float) -> Callable[[Moment], bool]:
    return lambda moment: moment.ratio() < least


def _gain_below(least: float) -> Callable[[Moment], bool]:
    return lambda moment: moment.gain_bits_per_minute < least


RULES: Mapping[str, Callable[[Moment], bool]] = {
    "no question": _fixed(0),
    **{f"{count} questions": _fixed(count) for count in (4, 8, 12, 16, 24)},
    "gain under 0.2 bits a minute": _gain_below(0.2),
    "gain under 0.1 bits a minute": _gain_below(0.1),
    "the next question costs more than it saves": lambda moment: not moment.next_pays(),
    **{
        f"no question saves {least:g} times its cost": _ratio_below(least)
        for least in (1.0, 2.0, 4.0, 6.0, 8.0, 12.0, 16.0)
    },
}


@dataclass(frozen=True, slots=True)
class Result:
    """A job under one rule. ``tired_minor`` is what the caller's patience adds to the cost."""

    cost_minor: float
    tired_minor: float
    questions: int
    minutes: float
    is_solved_by_phone: bool


def played(task: tuple[str, int, int]) -> list[dict[str, Result]]:
    """Results of the jobs ``start`` to ``stop`` of a network, by rule."""
    name, start, stop = task
    network = with_perfect_check(load_network(name))
    engine = Engine(network, dropped_mass=DROPPED_MASS)
    costs = DEFAULT_SETTINGS.costs_for(network.id)
    source = MachineSource(engine)
    return [_job(engine, source, costs, Draws((SEED, job))) for job in range(start, stop)]


def _job(
    engine: Engine, source: MachineSource, costs: CostModel, draws: Draws
) -> dict[str, Result]:
    machine = source.machine(draws)
    calls = list(calls_question_by_question(engine, machine, QUESTIONS_MAX))
    moments = [_moment(engine, call, costs) for call in calls]
    stops = {
        rule: next((k for k, moment in enumerate(moments) if stop(moment)), len(calls) - 1)
        for rule, stop in RULES.items()
    }
    results = {asked: _result(engine, calls[asked], costs) for asked in sorted({*stops.values()})}
    return {rule: results[asked] for rule, asked in stops.items()}


def _moment(engine: Engine, call: Call, costs: CostModel) -> Moment:
    assessment = engine.assess(call.evidence, check_missing_mass=False)
    questions = [
        entry for entry in assessment.open_observations if not entry.observation.channel.is_on_site
    ]
    values = phone_advice(engine, call.evidence, costs).questions
    if not questions:
        return Moment(call.questions, values, "", 0.0)
    first = questions[0]
    return Moment(call.questions, values, first.observation.id, first.gain_bits_per_minute)


def _result(engine: Engine, call: Call, costs: CostModel) -> Result:
    tired = sum(
        costs.on_phone_minor(minutes) * (patience(asked) - 1.0)
        for asked, minutes in enumerate(call.question_minutes)
    )
    asked = call.questions
    call = with_caller_steps(engine, call, costs)
    job = play_job(engine, call, POLICIES[SitePolicyName.BASE](), costs)
    return Result(job.cost_minor + tired, tired, asked, call.minutes, job.is_solved_by_phone)


def table(found: Mapping[str, Sequence[dict[str, Result]]]) -> str:
    """One row per rule, in Markdown: all networks together, and the saving on each."""
    names = list(found)
    lines = [
        "| stop when | questions | minutes | solved by phone, % | cost, USD | "
        f"saved over {BASELINE}, % | {' | '.join(names)} |",
        "|---|---|---|---|---|---|" + "---|" * len(names),
    ]
    every = [job for jobs in found.values() for job in jobs]
    for rule in RULES:
        cost = mean_estimate([job[rule].cost_minor for job in every])
        solved = share_estimate([job[rule].is_solved_by_phone for job in every])
        lines.append(
            f"| {rule} | {np.mean([job[rule].questions for job in every]):.1f} "
            f"| {np.mean([job[rule].minutes for job in every]):.1f} "
            f"| {100 * solved.value:.0f} ({100 * solved.low:.0f} to {100 * solved.high:.0f}) "
            f"| {cost.value / 100:.0f} ± {(cost.high - cost.low) / 200:.0f} "
            f"| {_saved(every, rule)} | {' | '.join(_saved(found[name], rule) for name in names)} |"
        )
    return "\n".join(lines)


def _saved(jobs: Sequence[dict[str, Result]], rule: str) -> str:
    """Paired saving in percent of the baseline's cost, with half its interval."""
    if rule == BASELINE:
        return ""
    usual = float(np.mean([job[BASELINE].cost_minor for job in jobs]))
    saved: Estimate = mean_estimate(
        [job[BASELINE].cost_minor - job[rule].cost_minor for job in jobs]
    )
    half = (saved.high - saved.low) / 2.0
    return f"{100 * saved.value / usual:.1f} ± {100 * half / usual:.1f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=100, help="of each network")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--write", action="store_true", help="write docs/policies.md")
    words = parser.parse_args()
    pieces = range(0, words.jobs, 10)
    tasks = [
        (name, start, min(start + 10, words.jobs)) for name in network_names() for start in pieces
    ]
    with multiprocessing.get_context("spawn").Pool(words.processes) as pool:
        answers = pool.map(played, tasks, chunksize=1)
    found: dict[str, list[dict[str, Result]]] = {}
    for (name, _, _), jobs in zip(tasks, answers, strict=True):
        found.setdefault(name, []).extend(jobs)
    text = f"{words.jobs} jobs a network, {len(found)} networks:\n\n{table(found)}"
    print(text)
    if words.write:
        write_between("policies.md", "phone", text)


if __name__ == "__main__":
    main()
