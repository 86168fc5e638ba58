"""What closed jobs propose for a network: numbers, what they would have changed, honest scores.

A proposal starts from the **base**: the version that came with the program, with the numbers that
the owner set by hand. All jobs are counted every time, so learning on top of a version that has
them in would count them twice. Jobs of other appliance kinds lend to the strengths they share,
unless the owner wants each kind alone.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Any

import numpy as np

from triage.errors import NoJobsError
from triage.inference.engine import Engine
from triage.learning.careless import CarelessShare
from triage.learning.changes import Change
from triage.learning.estimation import Held
from triage.learning.minutes import learned_minutes
from triage.learning.parameters import parameters_of
from triage.learning.pooling import KindJobs, learn_among
from triage.learning.proposal import ProposedVersion
from triage.learning.proposal import propose as proposed_version
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import Channel, FaultNetwork, NetworkIndex
from triage.services.learning.comparing import Effects, effects, effects_as_json, effects_from_json
from triage.services.learning.scoring import (
    NetworkScores,
    network_scores,
    scores_as_json,
    scores_from_json,
)

__all__ = [
    "Change",
    "Proposal",
    "Tell",
    "checked_settings",
    "default_settings",
    "proposal_as_json",
    "proposal_from_json",
    "propose",
    "settings_as_json",
    "settings_from_json",
    "silent",
]

Tell = Callable[[str, int, int], None]  # what is being done, steps done, steps in all
STEPS = 4
# What older proposals do not say, and what only they say.
AS_IT_WAS: Mapping[str, Any] = {"learns_together": False, "careless_share": 0.0}
RETIRED = frozenset({"leak_factor"})
ANSWERS_TOLD = 20.0  # fewer say too little to be told
ASKED_WORDS: Mapping[Channel, str] = {
    Channel.CALLER: "answers to questions",
    Channel.GUIDED_CHECK: "answers about checks that the caller makes",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A proposed version with everything an owner needs to judge it.

    ``now`` holds the figure of the version in use for each change; ``lenders`` how many jobs of
    each other kind were learned with, by network id.
    """

    version: ProposedVersion
    now: Mapping[str, float]
    lenders: Mapping[str, int]
    settings: LearningSettings
    effects: Effects
    scores: NetworkScores

    def most_moved(self, count: int) -> list[Change]:
        """Changes furthest from the version in use, in widths of their interval.

        Questions that all move by the same share are left out: the share is told once.
        """

        def distance(change: Change) -> float:
            now = self.now.get(change.key, change.before)
            return -abs(change.after - now) / max(change.high - change.low, 1e-9)

        own = [change for change in self.version.changes if not change.is_common]
        return sorted(own, key=distance)[:count]


def silent(step: str, done: int, steps: int) -> None:
    """Tell nobody how far the work is."""


def propose(
    base: FaultNetwork,
    in_use: Engine,
    jobs: Sequence[ClosedJob],
    settings: LearningSettings,
    at: datetime,
    *,
    others: Sequence[KindJobs] = (),
    tell: Tell = silent,
    left_out: Mapping[str, int] | None = None,
) -> Proposal:
    """Learn from closed jobs and put a proposal together.

    Parameters
    ----------
    base : FaultNetwork
        The version from before any job was counted.
    in_use : Engine
        Of the version in use, with which past calls are compared.
    jobs : sequence of ClosedJob
        Of this network.
    settings : LearningSettings
    at : datetime
        The present.
    others : sequence of KindJobs
        Other kinds from before any job was counted, with their jobs; looked at only if the
        settings say that kinds are learned together.
    tell : callable
        Called before each step.
    left_out : mapping
        What could not be read from the jobs, by reason.

    Raises
    ------
    NoJobsError
    """
    if not jobs:
        raise NoJobsError(base.id)
    tell("Learning from the closed jobs", 0, STEPS)
    learned = learn_among((base, jobs), others, settings, at)
    days = sorted(job.closed_at.date() for job in jobs)
    minutes = learned_minutes(base, jobs, settings)
    version = proposed_version(
        learned, minutes, (days[0], days[-1]), max(base.version, in_use.network.version)
    )
    counted = {**version.left_out, **(left_out or {})}
    version = replace(version, left_out={name: n for name, n in counted.items() if n})
    tell("Comparing past calls", 1, STEPS)
    compared = effects(in_use, Engine(version.network), jobs)
    tell("Scoring each job by the jobs before it", 2, STEPS)
    scores = network_scores(base, jobs, settings, others)
    tell("Writing the proposal down", 3, STEPS)
    return Proposal(
        version=version,
        now=figures(in_use.network, version.changes, base),
        lenders=lenders_of(others, settings),
        settings=settings,
        effects=compared,
        scores=scores,
    )


def lenders_of(others: Sequence[KindJobs], settings: LearningSettings) -> dict[str, int]:
    """Jobs of each other kind that is learned with, by network id."""
    if not settings.learns_together:
        return {}
    return {network.id: len(jobs) for network, jobs in others if jobs}


def figures(
    network: FaultNetwork, changes: Sequence[Change], base: FaultNetwork
) -> dict[str, float]:
    """Figure of a version for each change, where it has that number; see ``changes_of``."""
    found = {}
    for change in changes:
        value = _figure(network, change, base)
        if value is not None:
            found[change.key] = value
    return found


def _figure(network: FaultNetwork, change: Change, base: FaultNetwork) -> float | None:
    kind, *path = change.key.split(":")
    try:
        match kind:
            case "share":
                return NetworkIndex(network).modes[path[0]].share
            case "multiplier":
                return NetworkIndex(network).modes[path[0]].multipliers[path[1]][path[2]]
            case "context":
                most = int(np.argmax(base.contexts[path[0]].probabilities))
                return network.contexts[path[0]].probabilities[most]
            case "leak":
                return 1.0 - network.signs[path[0]].leak[0]
            case "link":
                return 1.0 - network.signs[path[0]].causes[path[1]][0]
            case "row":
                return 1.0 - network.signs[path[0]].rows[int(path[1])].then[0]
            case "channel":
                most = int(np.argmax(base.observations[path[0]].likelihood[change.place[1]]))
                return network.observations[path[0]].likelihood[change.place[1]][most]
            case _:
                known = network.repairs.get(path[0]) or network.observations[path[0]]
                return known.minutes
    except (KeyError, IndexError):
        return None


def proposal_as_json(found: Proposal) -> dict[str, Any]:
    """Proposal as the store keeps it, and as ``triage learn`` prints it (docs/json.md)."""
    version = found.version
    return {
        "jobs": version.jobs,
        "first_day": version.first_day.isoformat(),
        "last_day": version.last_day.isoformat(),
        "current_version": version.current_version,
        "settings": settings_as_json(found.settings),
        "changes": [
            {**_change_as_json(change), "now": found.now.get(change.key)}
            for change in version.changes
        ],
        "held": [{"key": one.key, "reason": one.reason} for one in version.held],
        "careless": [asdict(one) for one in version.careless],
        "lenders": [{"network": name, "jobs": n} for name, n in found.lenders.items()],
        "left_out": [{"reason": name, "count": n} for name, n in version.left_out.items()],
        "effects": effects_as_json(found.effects),
        "scores": scores_as_json(found.scores),
    }


def proposal_from_json(kept: Mapping[str, Any], base: FaultNetwork) -> Proposal:
    """Proposal as it was before it was stored; ``base`` is the network it started from."""
    changes = tuple(_change_from_json(one) for one in kept["changes"])
    version = ProposedVersion(
        base=base,
        current_version=kept["current_version"],
        learned=parameters_of(base),
        changes=changes,
        held=tuple(Held(one["key"], one["reason"]) for one in kept["held"]),
        jobs=kept["jobs"],
        first_day=date.fromisoformat(kept["first_day"]),
        last_day=date.fromisoformat(kept["last_day"]),
        left_out={one["reason"]: one["count"] for one in kept["left_out"]},
        careless=tuple(
            CarelessShare(**{**one, "channel": Channel(one["channel"])})
            for one in kept.get("careless", [])
        ),
    )
    return Proposal(
        version=version,
        now={one["key"]: one["now"] for one in kept["changes"] if one["now"] is not None},
        lenders={one["network"]: one["jobs"] for one in kept.get("lenders", [])},
        settings=settings_from_json({**AS_IT_WAS, **kept["settings"]}),
        effects=effects_from_json(kept["effects"]),
        scores=scores_from_json(kept["scores"]),
    )


def careless_sentences(version: ProposedVersion) -> tuple[str, ...]:
    """How many answers are given without looking, a sentence for each channel."""
    return tuple(
        f"{100 * one.after:.1f} % of {ASKED_WORDS[one.channel]} are given without looking "
        f"({100 * one.low:.1f} to {100 * one.high:.1f} %), say {one.answers:.0f} of them; "
        f"thought before: {100 * one.before:.1f} %"
        for one in version.careless
        if one.answers >= ANSWERS_TOLD
    )


def checked_settings(given: Mapping[str, float | None]) -> dict[str, Any]:
    """Settings of learning that the owner filled in, as they are kept with the work.

    Raises
    ------
    LearningSettingsError
        One of them is out of its range.
    """
    return settings_as_json(settings_from_json(given))


def default_settings() -> dict[str, Any]:
    """Settings of learning before the owner changes any."""
    return settings_as_json(LearningSettings())


def settings_as_json(settings: LearningSettings) -> dict[str, Any]:
    """Settings of learning as plain values."""
    held = {name: getattr(settings, name) for name in LearningSettings.__dataclass_fields__}
    return {
        **held,
        "call_back_same": list(settings.call_back_same),
        "call_back_new": list(settings.call_back_new),
        "closure_rates": [
            {"mode": mode, "rate": rate} for mode, rate in settings.closure_rates.items()
        ],
    }


def settings_from_json(kept: Mapping[str, Any]) -> LearningSettings:
    """Settings as they were before they were stored.

    Raises
    ------
    LearningSettingsError
        One of them is out of its range.
    """
    rates = {one["mode"]: one["rate"] for one in kept.get("closure_rates", [])}
    pairs = {
        name: (float(kept[name][0]), float(kept[name][1]))
        for name in ("call_back_same", "call_back_new")
        if name in kept
    }
    known = {name: value for name, value in kept.items() if name not in RETIRED}
    return LearningSettings(**{**known, **pairs, "closure_rates": rates})


def _change_as_json(change: Change) -> dict[str, Any]:
    return {
        **asdict(change),
        "values": list(change.values),
        "place": list(change.place),
        "is_thin": change.is_thin,
    }


def _change_from_json(kept: Mapping[str, Any]) -> Change:
    held = {name: value for name, value in kept.items() if name not in ("now", "is_thin")}
    place = (kept["place"][0], kept["place"][1])
    return Change(**{**held, "values": tuple(kept["values"]), "place": place})
