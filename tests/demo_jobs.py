"""Draw the closed jobs of the demo shop: ``python -m tests.demo_jobs`` writes them.

Machines come from copies of the shipped networks that are a little wrong, so that there is
something to learn. The phone asks the questions that tell most, the technician follows the policy
that weighs savings against costs, and what was promised is the plan of that call. The same seed
gives the same file. It takes some minutes; nothing in it is the record of a real shop.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from importlib.resources import files
from pathlib import Path

import numpy as np

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.network.values import ComponentKind, FaultNetwork, Repair, RepairBy
from triage.planning.shop.settings import ShopSettings
from triage.services.closing.amounts import amounts, minor_of_minutes
from triage.services.closing.proposal import price_of_part
from triage.services.closing.values import (
    CallBackKind,
    CauseClosed,
    ClosingOutcome,
    Degree,
    PartUsed,
    Promised,
)
from triage.services.job.events import Verified
from triage.services.learning.job_file import jobs_as_text
from triage.services.learning.records import JobRecord
from triage.services.networks.engines import engine_for
from triage.services.plan.visit import first_visit_plan
from triage.services.settings.shop_front import ShopFront
from triage.services.shop.settings import check_text
from triage.simulation.disturbance import Disturbance, disturbed
from triage.simulation.draws import Draws
from triage.simulation.jobs import Call, play_job, take_call
from triage.simulation.machines import MachineSource
from triage.simulation.perfect_check import CHECK, with_perfect_check
from triage.simulation.site_policies import POLICIES, SitePolicy, SitePolicyName, Step
from triage.simulation.site_view import SiteView
from webform.demo.closed_jobs import FILE, LAST_DAY, SOURCE
from webform.demo.shop import SETTINGS_TEXT

SEED = 20260101
JOBS = {"top_load_washer": 140, "front_load_washer": 65, "electric_dryer": 55, "gas_dryer": 40}
DAYS = 360
QUESTIONS = 6
CAUSES_KEPT = 5
WRONG = Disturbance(share_jobs=60.0, link_sd=0.5, careless_share=0.05)
DISPATCHER, TECHNICIAN, OWNER = "Wren Ashby", "Tarn Holloway", "Larke Merrow"
# Shares of what happens beside the machine: invented.
DECLINED, UNSURE, CHECKED, JUDGED, CALLED_BACK = 0.12, 0.04, 0.85, 0.3, 0.04
MINUTES_SD = 0.25  # of minutes taken, on the scale of the logarithm
CALLBACK_DAYS = 25
MORNING_MINUTES = 390  # visits begin from eight to half past two
LONGEST_MINUTES = 150  # of the last visit; what took longer was done on several


@dataclass(frozen=True, slots=True)
class Books:
    """What every job of one appliance is drawn with."""

    network: FaultNetwork
    known: Engine
    shipped: Engine
    source: MachineSource
    settings: ShopSettings
    front: ShopFront


@dataclass(slots=True)
class Watched:
    """A policy that is followed, with the steps it named and what was known before each."""

    policy: SitePolicy = field(default_factory=POLICIES[SitePolicyName.BASE])
    views: list[SiteView] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)

    def step(self, view: SiteView) -> Step:
        """Next step of the policy."""
        found = self.policy.step(view)
        self.views.append(view)
        self.steps.append(found)
        return found

    def repairs(self) -> list[tuple[Repair, SiteView]]:
        """Repairs in their order, with what was known before each."""
        pairs = zip(self.steps, self.views, strict=True)
        return [(step, view) for step, view in pairs if isinstance(step, Repair)]

    def findings(self) -> tuple[Finding, ...]:
        """Findings before the first repair, or all of them without one."""
        done = self.repairs()
        last = done[0][1] if done else self.views[-1]
        return last.evidence.findings


def books_of(name: str, seed: int) -> Books:
    """What the jobs of an appliance are drawn with."""
    found = check_text(SETTINGS_TEXT)
    assert found.settings is not None, found.problems
    shipped = engine_for(name)
    known = with_perfect_check(shipped.network)
    truth = disturbed(known, WRONG, np.random.default_rng(seed))
    return Books(
        network=shipped.network,
        known=Engine(known),
        shipped=shipped,
        source=MachineSource(Engine(truth)),
        settings=found.settings,
        front=found.front,
    )


def drawn_jobs() -> tuple[JobRecord, ...]:
    """Every job, in the order in which they were closed, with a few call-backs."""
    drawn: list[JobRecord] = []
    for place, (name, count) in enumerate(JOBS.items()):
        books = books_of(name, SEED + place)
        for number in range(count):
            rng = np.random.default_rng([SEED, place, number])
            drawn.append(_job(books, Draws((SEED, place, number)), rng))
    drawn.sort(key=lambda job: (job.closed_at, job.appliance, job.opened_at))
    numbered = [replace(job, job=str(number)) for number, job in enumerate(drawn, start=1)]
    return tuple(_with_callbacks(numbered, np.random.default_rng(SEED)))


def _job(books: Books, draws: Draws, rng: np.random.Generator) -> JobRecord:
    machine = books.source.machine(draws)
    costs = books.settings.costs
    call = take_call(books.known, machine, costs, QUESTIONS)
    opened = _moment(rng)
    said = tuple(one for one in call.evidence.findings if one.observation != CHECK)
    blank = JobRecord(
        job="",
        source=SOURCE,
        appliance=books.network.id,
        network_version=books.network.version,
        opened_at=opened,
        closed_at=opened + timedelta(minutes=round(call.minutes) + 4),
        taken_by=DISPATCHER,
        closed_by=DISPATCHER,
        outcome=ClosingOutcome.SOLVED_BY_PHONE,
        findings=_answers(said),
        visits=0,
        currency=books.network.currency,
    )
    if call.is_solved:
        causes = tuple(CauseClosed(mode, Degree.WORKS_AFTER_REPAIR) for mode in machine.failed)
        steps = tuple(
            name for name in call.steps_done if set(_cures(books, name)) & {*machine.failed}
        )
        return replace(blank, causes=causes, repairs=steps, verification=Verified.WORKS)
    return _visited(books, blank, call, said, rng)


def _visited(
    books: Books, job: JobRecord, call: Call, said: tuple[Finding, ...], rng: np.random.Generator
) -> JobRecord:
    watched = Watched()
    played = play_job(books.known, call, watched, books.settings.costs)
    day = job.opened_at.replace(hour=8, minute=0) + timedelta(days=1 + int(rng.integers(4)))
    came = day + timedelta(minutes=int(rng.integers(MORNING_MINUTES)))
    failed, done = call.machine.failed, watched.repairs()
    job = replace(
        job,
        closed_by=TECHNICIAN if rng.random() < 0.7 else OWNER,
        findings=_answers([one for one in watched.findings() if one.observation != CHECK]),
        visits=max(1, played.visits),
        fee_minor=books.settings.costs.service_fee_minor,
        promised=_promised(books, said),
    )
    stayed = round(played.minutes_on_site * float(rng.lognormal(0.0, MINUTES_SD)), 1)
    is_declined = bool(rng.random() < DECLINED) or not played.is_solved
    nothing = all(_is_nothing(books.network, mode) for mode in failed)
    if nothing and not is_declined:
        causes = tuple(CauseClosed(mode, Degree.JUDGED) for mode in failed)
        job = replace(job, outcome=ClosingOutcome.NO_FAULT_FOUND, causes=causes)
    elif is_declined:
        stayed = round(15.0 + 20.0 * float(rng.random()), 1)
        causes = tuple(CauseClosed(mode, Degree.JUDGED) for mode in failed)
        job = replace(
            job,
            outcome=ClosingOutcome.DECLINED,
            causes=causes if rng.random() < JUDGED else (),
            visits=1,
        )
    else:
        job = _repaired(books, job, failed, done, rng)
    last = timedelta(days=4 * (job.visits - 1), minutes=min(round(stayed), LONGEST_MINUTES))
    closed = came + last + timedelta(minutes=10)
    return _priced(books, replace(job, minutes=max(10.0, stayed), closed_at=closed))


def _repaired(
    books: Books,
    job: JobRecord,
    failed: tuple[str, ...],
    done: list[tuple[Repair, SiteView]],
    rng: np.random.Generator,
) -> JobRecord:
    is_checked = bool(rng.random() < CHECKED)
    degree = Degree.WORKS_AFTER_REPAIR if is_checked else Degree.SEEN
    causes = [CauseClosed(mode, degree) for mode in failed]
    likely = [one.mode for one in books.shipped.assess(Evidence()).causes[:6]]
    others = [mode for mode in likely if mode not in failed]
    is_unsure = bool(rng.random() < UNSURE)
    if is_unsure:
        pair = (failed[0], others[int(rng.integers(len(others)))])
        causes = [CauseClosed(mode, Degree.JUDGED, 0.5) for mode in pair]
    parts: dict[str, PartUsed] = {}
    for repair, view in done:
        if repair.by is RepairBy.LICENSED_TRADE:
            continue
        for part in repair.parts:
            price = price_of_part(books.network, books.settings, part, "")
            aboard = part in view.aboard
            parts.setdefault(part, PartUsed(part=part, price_minor=price, was_aboard=aboard))
    return replace(
        job,
        outcome=ClosingOutcome.REPAIRED,
        causes=tuple(causes),
        is_unsure=is_unsure,
        repairs=tuple(dict.fromkeys(repair.id for repair, _ in done)),
        verification=Verified.WORKS if is_checked else Verified.NOT_RUN,
        parts=tuple(parts.values()),
    )


def _priced(books: Books, job: JobRecord) -> JobRecord:
    """The job with its labour and sums."""
    minutes = sum(books.network.repairs[name].minutes for name in job.repairs)
    rate = books.settings.costs.labour_price_minor_per_hour
    labour = minor_of_minutes(minutes, rate)
    sums = amounts(
        fee_minor=job.fee_minor,
        labour_minor=labour,
        parts_minor=[(part.pieces, part.price_minor) for part in job.parts],
        front=books.front,
    )
    return replace(job, labour_minor=labour, tax_minor=sums.tax_minor, total_minor=sums.total_minor)


def _promised(books: Books, said: tuple[Finding, ...]) -> Promised:
    evidence = Evidence(said)
    plan = first_visit_plan(books.shipped, evidence, books.settings)
    causes = books.shipped.assess(evidence).causes[:CAUSES_KEPT]
    low, high = plan.price_range_minor
    return Promised(
        minutes_p50=round(plan.minutes_p50, 1),
        minutes_p80=round(plan.minutes_p80, 1),
        price_low_minor=low,
        price_high_minor=high,
        first_visit_share=round(plan.first_visit_share, 3),
        parts=tuple(dict.fromkeys(part.number or part.part.id for part in plan.parts)),
        causes={cause.mode: round(cause.probability, 3) for cause in causes},
        settings_version=0,
        network_version=books.network.version,
    )


def _with_callbacks(jobs: list[JobRecord], rng: np.random.Generator) -> Iterator[JobRecord]:
    """Jobs, some of which follow up an earlier one of the same appliance."""
    used: set[str] = set()
    for place, job in enumerate(jobs):
        earlier = next(
            (
                one
                for one in reversed(jobs[:place])
                if one.appliance == job.appliance
                and one.outcome is ClosingOutcome.REPAIRED
                and one.job not in used
                and timedelta(days=4) < job.opened_at - one.closed_at < timedelta(CALLBACK_DAYS)
            ),
            None,
        )
        if earlier is None or job.visits == 0 or rng.random() > CALLED_BACK:
            yield job
            continue
        used |= {earlier.job, job.job}
        is_same = bool({one.cause for one in job.causes} & {one.cause for one in earlier.causes})
        kind = CallBackKind.SAME if is_same or rng.random() < JUDGED else CallBackKind.NEW
        yield replace(job, callback_of=earlier.job, callback_kind=kind)


def _moment(rng: np.random.Generator) -> datetime:
    """When a call came: a day of the year before the last one, by the clock of the shop."""
    day = LAST_DAY - timedelta(days=8 + int(rng.integers(DAYS)))
    return datetime(day.year, day.month, day.day, 8 + int(rng.integers(9)), int(rng.integers(60)))


def _answers(findings: list[Finding] | tuple[Finding, ...]) -> tuple[tuple[str, str | float], ...]:
    """Findings as a file holds them; of an observation made twice the last answer counts."""
    return tuple({one.observation: one.answer for one in findings}.items())


def _cures(books: Books, repair: str) -> tuple[str, ...]:
    return tuple(books.network.repairs[repair].cures)


def _is_nothing(network: FaultNetwork, mode: str) -> bool:
    return any(
        component.kind is ComponentKind.NOTHING_FAILED
        for component in network.components.values()
        if mode in [one.id for one in component.modes]
    )


def main() -> None:
    """Write the file that the demo is filled with."""
    jobs = drawn_jobs()
    with (
        Path(str(files("webform.demo")))
        .joinpath(FILE)
        .open("w", encoding="utf-8", newline="") as out
    ):
        out.write(jobs_as_text(jobs))
    print(f"{len(jobs)} jobs written to {FILE}")


if __name__ == "__main__":
    main()
