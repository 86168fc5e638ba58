"""A made-up shop that closes jobs: machines drawn from a network that is not quite the shipped one.

Callers say up to two things unasked and answer some questions; the technician makes some tests and
finds what was wrong. Most repairs are checked, some are not; a few jobs end in other ways. Nothing
here is the record of a real shop.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from triage.inference.engine import Engine
from triage.network.values import FaultNetwork, NetworkIndex, Observation
from triage.services.closing.values import (
    CauseClosed,
    ClosingOutcome,
    Degree,
    PartUsed,
    Promised,
)
from triage.services.job.events import Verified
from triage.services.learning.records import JobRecord
from triage.simulation.disturbance import Disturbance, disturbed
from triage.simulation.draws import Draws
from triage.simulation.machines import Machine, MachineSource

FIRST_DAY = datetime(2025, 1, 6, 8, 0, tzinfo=UTC)
PEOPLE = ("Ida Voss", "Jon Pell", "Mara Quist")
VOLUNTEERED_MAX = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """How a made-up shop works; shares of jobs that end in other ways are invented."""

    jobs_a_day: int = 6
    questions: int = 8
    tests: int = 5
    checked_share: float = 0.85
    declined_share: float = 0.08
    unsure_share: float = 0.04


def true_network(network: FaultNetwork, seed: int) -> FaultNetwork:
    """Network of the shop's machines: other shares, strengths and leaks, careless callers."""
    return disturbed(network, Disturbance(share_jobs=60.0), np.random.default_rng(seed))


def closed_records(
    network: FaultNetwork, truth: FaultNetwork, jobs: int, seed: int, shop: Shop | None = None
) -> Iterator[JobRecord]:
    """Jobs in the order in which they were closed."""
    source, at_work = MachineSource(Engine(truth)), shop or Shop()
    for number in range(1, jobs + 1):
        machine = source.machine(Draws((seed, number)))
        rng = np.random.default_rng([seed, number])
        yield _record(network, machine, number, rng, at_work)


def _record(
    network: FaultNetwork, machine: Machine, number: int, rng: np.random.Generator, shop: Shop
) -> JobRecord:
    day = FIRST_DAY + timedelta(days=(number - 1) // shop.jobs_a_day)
    opened = day + timedelta(minutes=37 * (number % shop.jobs_a_day))
    index, end = NetworkIndex(network), rng.random()
    is_declined = end < shop.declined_share
    is_unsure = not is_declined and end < shop.declined_share + shop.unsure_share
    is_checked = rng.random() < shop.checked_share
    repairs = {mode: index.repairs_of[mode][0] for mode in machine.failed}
    parts = dict.fromkeys(part for repair in repairs.values() for part in repair.parts)
    degree = Degree.WORKS_AFTER_REPAIR if is_checked else Degree.SEEN
    causes = [CauseClosed(mode, degree) for mode in machine.failed]
    if is_unsure:
        causes = _either(machine.failed[0], list(index.modes), rng)
    minutes = sum(repair.minutes for repair in repairs.values()) * float(rng.lognormal(0.2, 0.3))
    return JobRecord(
        job=str(number),
        source="old-books",
        appliance=network.id,
        network_version=network.version,
        opened_at=opened,
        closed_at=opened + timedelta(hours=30),
        taken_by=PEOPLE[number % 2],
        closed_by=PEOPLE[2],
        outcome=ClosingOutcome.DECLINED if is_declined else ClosingOutcome.REPAIRED,
        findings=tuple(_findings(network, machine, rng, shop)),
        causes=() if is_declined else tuple(causes),
        is_unsure=is_unsure,
        repairs=() if is_declined else tuple(repair.id for repair in repairs.values()),
        verification=Verified.WORKS if is_checked and not is_declined else Verified.NOT_RUN,
        parts=tuple(
            PartUsed(part=part, price_minor=2500, was_aboard=bool(rng.random() < 0.8))
            for part in ([] if is_declined else parts)
        ),
        minutes=round(minutes + 20.0, 1),
        step_minutes={repair.id: round(minutes, 1) for repair in list(repairs.values())[:1]},
        visits=1 + int(rng.random() < 0.2),
        fee_minor=9000,
        total_minor=9000 + 2500 * len(parts),
        currency=network.currency,
        promised=_promised(network, machine, list(parts)[:1]),
    )


def _either(mode: str, modes: list[str], rng: np.random.Generator) -> list[CauseClosed]:
    """Two causes of which one was wrong, alike likely."""
    others = [other for other in modes if other != mode]
    pair = [mode, others[int(rng.integers(len(others)))]]
    return [CauseClosed(one, Degree.JUDGED, 0.5) for one in pair]


def _promised(network: FaultNetwork, machine: Machine, parts: list[str]) -> Promised:
    return Promised(
        minutes_p50=45.0,
        minutes_p80=70.0,
        price_low_minor=9000,
        price_high_minor=24000,
        first_visit_share=0.75,
        parts=tuple(parts),
        causes=dict.fromkeys(machine.failed, 0.4),
        settings_version=0,
        network_version=network.version,
    )


def _findings(
    network: FaultNetwork, machine: Machine, rng: np.random.Generator, shop: Shop
) -> Iterator[tuple[str, str | float]]:
    """What the caller says unasked, answers to questions, then tests, in that order."""
    phone = [one for one in network.observations.values() if not one.channel.is_on_site]
    site = [
        one
        for one in network.observations.values()
        if one.channel.is_on_site and one.id != network.verification
    ]
    said = [one for one in phone if machine.volunteers(machine.network.observations[one.id])]
    volunteered = _some(said, VOLUNTEERED_MAX, rng)
    for one in volunteered:
        yield one.id, "volunteered"
    rest = [one for one in phone if one not in volunteered]
    for one in [*_some(rest, shop.questions, rng), *_some(site, shop.tests, rng)]:
        yield one.id, machine.answer(machine.network.observations[one.id]).answer


def _some(
    observations: list[Observation], count: int, rng: np.random.Generator
) -> list[Observation]:
    chosen = rng.permutation(len(observations))[:count]
    return [observations[int(place)] for place in chosen]
