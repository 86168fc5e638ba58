"""What was promised and planned against what happened: first visits, parts, minutes, overruling.

All of it is counted from closed jobs as they stand; nothing here depends on the learning.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from triage.learning.scores import ShareInterval, wilson
from triage.network.values import FaultNetwork
from triage.services.calls.calls import Database
from triage.services.closing.values import ClosingOutcome
from triage.services.job.events import StepOverruled
from triage.services.learning.records import JobRecord
from triage.services.learning.scoring import share_as_json
from triage.services.networks.in_use import network_of_call
from triage.services.networks.scope import OTHER_KINDS
from triage.store.closings import ClosingFilter
from triage.store.imports import walk_jobs


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """Shares over jobs with a visit; each with its 95 % interval.

    ``first_visit`` of the repaired jobs were done on one visit; ``promised_first_visit`` is what
    was said on average. ``parts_aboard`` of the parts fitted were on the van; ``parts_unneeded`` of
    those to take along were not fitted. ``within_p50`` and ``within_p80`` of the jobs took at most
    the minutes that half, and eight of ten, were to take; ``minutes_ratio`` is the median of
    minutes taken over those promised, None without any.
    """

    jobs: int
    first_visit: ShareInterval
    first_visit_jobs: int
    promised_first_visit: float | None
    parts_aboard: ShareInterval
    parts_fitted: int
    parts_unneeded: ShareInterval
    parts_promised: int
    within_p50: ShareInterval
    within_p80: ShareInterval
    minutes_ratio: float | None
    timed_jobs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Overruled:
    """How often another step was taken than the one proposed, and who was right.

    ``technician_right`` counts those where the step taken fits the confirmed cause and the one
    proposed does not, ``plan_right`` the other way round; the rest cannot be told.
    """

    jobs: int
    jobs_overruled: int
    times: int
    technician_right: int
    plan_right: int

    @property
    def share(self) -> ShareInterval:
        """Share of jobs in which the plan was overruled."""
        return wilson(self.jobs_overruled, self.jobs)

    @property
    def not_told(self) -> int:
        """How often it cannot be told who was right."""
        return self.times - self.technician_right - self.plan_right


def practice(records: Sequence[JobRecord]) -> Practice:
    """Count what was promised and what happened."""
    visited = [one for one in records if one.visits > 0]
    repaired = [one for one in visited if one.outcome is ClosingOutcome.REPAIRED]
    promised = [one for one in repaired if one.promised is not None]
    fitted = [part for one in visited for part in one.parts]
    wanted, unneeded = _promised_parts(promised)
    timed = [one for one in promised if one.minutes is not None]
    chances = [one.promised.first_visit_share for one in promised if one.promised]
    return Practice(
        jobs=len(records),
        first_visit=wilson(sum(one.visits == 1 for one in repaired), len(repaired)),
        first_visit_jobs=len(repaired),
        promised_first_visit=sum(chances) / len(chances) if chances else None,
        parts_aboard=wilson(sum(part.was_aboard for part in fitted), len(fitted)),
        parts_fitted=len(fitted),
        parts_unneeded=wilson(unneeded, wanted),
        parts_promised=wanted,
        within_p50=wilson(sum(_taken(one) <= _promise(one)[0] for one in timed), len(timed)),
        within_p80=wilson(sum(_taken(one) <= _promise(one)[1] for one in timed), len(timed)),
        minutes_ratio=median(_taken(one) / _promise(one)[0] for one in timed) if timed else None,
        timed_jobs=len(timed),
    )


def practice_by(
    records: Sequence[JobRecord], names: Iterable[str]
) -> tuple[tuple[str, Practice], ...]:
    """The same by group; one name for each record."""
    groups: dict[str, list[JobRecord]] = {}
    for record, name in zip(records, names, strict=True):
        groups.setdefault(name, []).append(record)
    return tuple((name, practice(groups[name])) for name in sorted(groups))


def _promised_parts(records: Sequence[JobRecord]) -> tuple[int, int]:
    """Parts to take along, and how many of them were not fitted."""
    wanted = unneeded = 0
    for record in records:
        fitted = {name for part in record.parts for name in (part.part, part.variant)}
        parts = record.promised.parts if record.promised else ()
        wanted += len(parts)
        unneeded += sum(part not in fitted for part in parts)
    return wanted, unneeded


def _promise(record: JobRecord) -> tuple[float, float]:
    assert record.promised is not None
    return record.promised.minutes_p50, record.promised.minutes_p80


def _taken(record: JobRecord) -> float:
    assert record.minutes is not None
    return record.minutes


def overruled(database: Database, network_id: str = "") -> Overruled:
    """Count how the plan was overruled in closed jobs, and who was right."""
    jobs = with_some = times = technician = plan = 0
    with database.reading() as session:
        for closing, call, _ in walk_jobs(session, ClosingFilter(network_id=network_id)):
            if closing.network_id in OTHER_KINDS:
                continue
            network = network_of_call(database, call.network_id, call.network_version)
            causes = {str(one["cause"]) for one in closing.data.causes}
            sure = causes if not closing.data.is_unsure else set()
            steps = [
                StepOverruled(**event.payload)
                for event in call.events
                if event.kind == StepOverruled.kind
            ]
            jobs += 1
            with_some += bool(steps)
            times += len(steps)
            verdicts = [who_was_right(network, step, sure) for step in steps]
            technician += verdicts.count("technician")
            plan += verdicts.count("plan")
    return Overruled(
        jobs=jobs,
        jobs_overruled=with_some,
        times=times,
        technician_right=technician,
        plan_right=plan,
    )


def who_was_right(network: FaultNetwork, step: StepOverruled, causes: set[str]) -> str:
    """Say ``technician``, ``plan``, or nothing where it cannot be told.

    A repair fits if it cures a confirmed cause. A test in place of a repair was right if the repair
    would have been in vain, and not needed if it would not.
    """
    if not causes:
        return ""
    proposed = _fits(network, step.proposed, causes)
    taken = _fits(network, step.taken, causes)
    if proposed is None and taken is None:
        return ""
    if taken is None:
        return "plan" if proposed else "technician"
    if proposed is None:
        return "technician" if taken else "plan"
    if proposed == taken:
        return ""
    return "technician" if taken else "plan"


def _fits(network: FaultNetwork, step: str, causes: set[str]) -> bool | None:
    """Whether a repair cures a cause; None if the step is no repair."""
    repair = network.repairs.get(step)
    return None if repair is None else bool(set(repair.cures) & causes)


def practice_as_json(found: Practice) -> Mapping[str, Any]:
    """Practice as plain values; keys are stable (docs/json.md)."""
    return {
        "jobs": found.jobs,
        "first_visit": share_as_json(found.first_visit),
        "first_visit_jobs": found.first_visit_jobs,
        "promised_first_visit": found.promised_first_visit,
        "parts_aboard": share_as_json(found.parts_aboard),
        "parts_fitted": found.parts_fitted,
        "parts_unneeded": share_as_json(found.parts_unneeded),
        "parts_promised": found.parts_promised,
        "within_p50": share_as_json(found.within_p50),
        "within_p80": share_as_json(found.within_p80),
        "minutes_ratio": found.minutes_ratio,
        "timed_jobs": found.timed_jobs,
    }


def practice_from_json(kept: Mapping[str, Any]) -> Practice:
    """Practice as it was before it was stored."""
    names = ("first_visit", "parts_aboard", "parts_unneeded", "within_p50", "within_p80")
    return Practice(**{**kept, **{name: ShareInterval(**kept[name]) for name in names}})
