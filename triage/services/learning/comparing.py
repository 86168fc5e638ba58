"""What another version would have recommended in past calls.

A recommendation here is the leading cause at the end of the call, and with it the repair that is
prepared for: the first of the network that cures it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.errors import EvidenceError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.learning.values import ClosedJob

CALLS_COMPARED = 200
CALLS_SHOWN = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedCall:
    """A call whose recommendation is another one: causes before and after as people read them.

    ``truth`` is what was confirmed, empty if nothing was. ``verdict`` is ``better`` or ``worse``
    where the one and not the other names the truth, else empty.
    """

    job: str
    day: str
    before: str
    after: str
    truth: str
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Effects:
    """What changes over the last calls; ``shown`` are the newest of those that change."""

    calls: int
    changed: int
    other_repair: int
    better: int
    worse: int
    shown: tuple[ChangedCall, ...]


def effects(before: Engine, after: Engine, jobs: Sequence[ClosedJob]) -> Effects:
    """Compare two versions over the last calls with findings at the phone, newest first."""
    ordered = sorted(jobs, key=lambda job: (job.closed_at, job.id), reverse=True)
    calls = changed = other_repair = better = worse = 0
    shown: list[ChangedCall] = []
    for job in ordered:
        evidence = at_the_phone(before, job)
        if not evidence.events or calls == CALLS_COMPARED:
            continue
        pair = [_leading(engine, evidence) for engine in (before, after)]
        if None in pair:
            continue
        calls += 1
        first, second = (str(mode) for mode in pair)
        if first == second:
            continue
        verdict = _verdict(job, first, second)
        changed += 1
        other_repair += _repair(before, first) != _repair(after, second)
        better += verdict == "better"
        worse += verdict == "worse"
        if len(shown) < CALLS_SHOWN:
            shown.append(_shown(before, job, first, second, verdict))
    return Effects(
        calls=calls,
        changed=changed,
        other_repair=other_repair,
        better=better,
        worse=worse,
        shown=tuple(shown),
    )


def at_the_phone(engine: Engine, job: ClosedJob) -> Evidence:
    """What was known at the end of the call, as far as the network has it."""
    known = engine.network.observations
    return Evidence.of(
        *(
            finding
            for finding in job.findings
            if finding.observation in known and not known[finding.observation].channel.is_on_site
        )
    )


def _leading(engine: Engine, evidence: Evidence) -> str | None:
    try:
        chances = engine.posterior(evidence).mode_probabilities
    except EvidenceError:
        return None
    return engine.compiled.mode_ids[int(np.argmax(chances))]


def _repair(engine: Engine, mode: str) -> str:
    repairs = engine.compiled.index.repairs_of[mode]
    return repairs[0].id if repairs else ""


def _verdict(job: ClosedJob, before: str, after: str) -> str:
    truth = {cause.mode for cause in job.causes}
    if not truth or (before in truth) == (after in truth):
        return ""
    return "better" if after in truth else "worse"


def _shown(engine: Engine, job: ClosedJob, before: str, after: str, verdict: str) -> ChangedCall:
    index = engine.compiled.index
    known = [cause.mode for cause in job.causes if cause.mode in index.modes]
    return ChangedCall(
        job=job.id,
        day=f"{job.closed_at:%Y-%m-%d}",
        before=index.mode_title(before),
        after=index.mode_title(after),
        truth=" and ".join(index.mode_title(mode) for mode in known),
        verdict=verdict,
    )


def effects_as_json(found: Effects) -> dict[str, Any]:
    """Effects as plain values; keys are stable (docs/json.md)."""
    return {
        "calls": found.calls,
        "changed": found.changed,
        "other_repair": found.other_repair,
        "better": found.better,
        "worse": found.worse,
        "changed_calls": [
            {
                "job": one.job,
                "day": one.day,
                "before": one.before,
                "after": one.after,
                "truth": one.truth,
                "verdict": one.verdict,
            }
            for one in found.shown
        ],
    }


def effects_from_json(kept: Mapping[str, Any]) -> Effects:
    """Effects as they were before they were stored."""
    counts = {name: value for name, value in kept.items() if name != "changed_calls"}
    return Effects(**counts, shown=tuple(ChangedCall(**one) for one in kept["changed_calls"]))
