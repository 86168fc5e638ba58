"""What two versions would have told past callers: ending, parts to load, slot, next question.

A plan takes seconds, so not every past call is planned anew: a sample is drawn with a fixed seed
and gone through in its order until the time is over. The same calls give the same sample; how many
of them were compared is told.
"""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from triage.errors import EvidenceError, NoJobsError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.learning.values import ClosedJob
from triage.planning.shop.settings import ShopSettings
from triage.services.calls.calls import Database
from triage.services.learning.comparing import at_the_phone
from triage.services.learning.proposing import Tell, silent
from triage.services.learning.stored import jobs_to_learn, stored_records
from triage.services.learning.versions import version_in_full
from triage.services.networks.in_use import engine_of_version
from triage.services.plan.endings import OUTCOME_WORDS
from triage.services.plan.offer import visit_offer
from triage.services.plan.ranking import rank
from triage.services.plan.visit import first_visit_plan
from triage.services.shop.settings import current_settings

SEED = 20260101  # the same past calls give the same sample
CALLS_MAX = 30
SECONDS_MAX = 120.0  # then no further call is begun
ENDING, PARTS, SLOT, QUESTION = "ending", "parts", "slot", "question"
WHATS = (ENDING, PARTS, SLOT, QUESTION)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a version tells in a call; ``question`` is empty where none is left to ask."""

    ending: str
    parts: tuple[str, ...]
    slot: int
    question: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplannedCall:
    """A past call with what two versions tell; ``call_id`` leads to the job."""

    call_id: int
    day: str
    before: Told
    after: Told

    @property
    def changed(self) -> tuple[str, ...]:
        """What is told differently, in the order of ``WHATS``."""
        return tuple(
            what for what in WHATS if getattr(self.before, what) != getattr(self.after, what)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Replanned:
    """Calls of a sample that were compared; ``past`` could have been, ``unusable`` did not fit.

    ``is_cut_short`` holds if the time was over before the sample was.
    """

    version_before: int
    version_after: int
    past: int
    sample: int
    unusable: int
    is_cut_short: bool
    calls: tuple[ReplannedCall, ...]

    @property
    def counts(self) -> tuple[tuple[str, int], ...]:
        """What may be told differently, each with the calls in which it is."""
        return tuple((what, sum(what in call.changed for call in self.calls)) for what in WHATS)


def replanned_with(
    database: Database, network_id: str, version: int, *, tell: Tell = silent
) -> Replanned:
    """What a version would have told past callers, against the one in use when it was made.

    Raises
    ------
    UnknownNetworkError, UnknownVersionError, NoJobsError
    """
    parent = version_in_full(database, network_id, version).line.stored.parent_version or version
    settings = current_settings(database)
    before, after = (
        engine_of_version(database, network_id, number, settings) for number in (parent, version)
    )
    records = stored_records(database, network_id)
    jobs = jobs_to_learn(records, before.network)
    if not jobs:
        raise NoJobsError(network_id)
    numbered = [(int(record.job), job) for record, job in zip(records, jobs, strict=True)]
    return replanned(before, after, numbered, settings, tell=tell)


def replanned(
    before: Engine,
    after: Engine,
    jobs: Sequence[tuple[int, ClosedJob]],
    settings: ShopSettings,
    *,
    tell: Tell = silent,
    calls_max: int = CALLS_MAX,
    seconds_max: float = SECONDS_MAX,
    seconds: Callable[[], float] = time.monotonic,
) -> Replanned:
    """Compare what two versions tell in a sample of past calls.

    Parameters
    ----------
    before, after : Engine
    jobs : sequence of (int, ClosedJob)
        Number of the call, and the job.
    settings : ShopSettings
        Of today: only the networks differ.
    tell : callable
        Called before each call.
    calls_max : int
        Size of the sample.
    seconds_max : float
        No further call is begun after that time.
    seconds : callable
        Time that has passed since some moment.
    """
    past = [(number, job) for number, job in jobs if at_the_phone(before, job).events]
    chosen = _sample(past, calls_max)
    calls: list[ReplannedCall] = []
    unusable, begun = 0, seconds()
    for place, (number, job) in enumerate(chosen):
        if seconds() - begun > seconds_max:
            break
        tell("Planning past calls with both versions", place, len(chosen))
        evidence = at_the_phone(before, job)
        try:
            pair = [_told(engine, evidence, settings) for engine in (before, after)]
        except EvidenceError:
            unusable += 1
            continue
        day = f"{job.closed_at:%Y-%m-%d}"
        calls.append(ReplannedCall(call_id=number, day=day, before=pair[0], after=pair[1]))
    return Replanned(
        version_before=before.network.version,
        version_after=after.network.version,
        past=len(past),
        sample=len(chosen),
        unusable=unusable,
        is_cut_short=len(calls) + unusable < len(chosen),
        calls=tuple(calls),
    )


def _sample(jobs: Sequence[tuple[int, ClosedJob]], count: int) -> list[tuple[int, ClosedJob]]:
    """Some of the jobs, in an order by chance that is the same every time."""
    ordered = sorted(jobs, key=lambda pair: pair[0])
    order = np.random.default_rng(SEED).permutation(len(ordered))[:count]
    return [ordered[place] for place in order]


def _told(engine: Engine, evidence: Evidence, settings: ShopSettings) -> Told:
    plan = first_visit_plan(engine, evidence, settings)
    questions = rank(engine, evidence, at_the_phone=True, settings=settings).next_questions
    return Told(
        ending=OUTCOME_WORDS[plan.outcome],
        parts=tuple(sorted(part.part.title for part in plan.parts)),
        slot=visit_offer(plan).slot_minutes,
        question=questions[0].observation.title if questions else "",
    )


def replanned_as_json(found: Replanned) -> dict[str, Any]:
    """Comparison as plain values; keys are stable (docs/json.md)."""
    return {
        "version_before": found.version_before,
        "version_after": found.version_after,
        "past": found.past,
        "sample": found.sample,
        "unusable": found.unusable,
        "is_cut_short": found.is_cut_short,
        "compared": len(found.calls),
        "changed": dict(found.counts),
        "calls": [
            {
                "call": call.call_id,
                "day": call.day,
                "changed": list(call.changed),
                "before": _told_as_json(call.before),
                "after": _told_as_json(call.after),
            }
            for call in found.calls
        ],
    }


def replanned_from_json(kept: Mapping[str, Any]) -> Replanned:
    """Comparison as it was before it was stored."""
    names = ("version_before", "version_after", "past", "sample", "unusable", "is_cut_short")
    return Replanned(
        **{name: kept[name] for name in names},
        calls=tuple(
            ReplannedCall(
                call_id=one["call"],
                day=one["day"],
                before=_told_from_json(one["before"]),
                after=_told_from_json(one["after"]),
            )
            for one in kept["calls"]
        ),
    )


def _told_as_json(told: Told) -> dict[str, Any]:
    return {**asdict(told), "parts": list(told.parts)}


def _told_from_json(kept: Mapping[str, Any]) -> Told:
    return Told(**{**kept, "parts": tuple(kept["parts"])})
