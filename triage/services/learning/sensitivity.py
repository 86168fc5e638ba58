"""Which numbers, if they are wrong, would change decisions most; so what to measure next.

For each number: suppose it is off by one standard deviation, up or down, given the jobs that stand
behind it. In a sample of calls, as far as the phone tells, the repair to prepare for is then
another one now and then; what sticking to the present choice loses is the **regret**: the chance of
the repair that would be best less that of the one chosen now. Its mean over calls and both
directions, times a return trip, is what the number may cost.

Axes: ``J`` calls, ``H`` hypotheses, ``F`` failure modes, ``R`` repairs.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import exp, log, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from triage.learning.columns import JobColumns, columns_of, layout_for
from triage.learning.estimation import Learned, learn_columns
from triage.learning.layout import Layout
from triage.learning.model import Model
from triage.learning.parameters import Parameters, normalised
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork
from triage.services.learning.proposing import Tell, silent

FloatArray = NDArray[np.float64]

CALLS = 150  # newest calls that are looked at
SHOWN = 25
LEAST, MOST = 1e-4, 1.0 - 1e-4  # chances nearer to 0 or 1 are taken as known
LARGEST_STEP = 1.5  # nats of log odds
STEPS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitive:
    """A number and what it may cost.

    ``low`` and ``high`` are one standard deviation off; ``behind`` is what stands behind it, in
    jobs. ``changed_share`` is the share of calls in which another repair would be prepared for, in
    the worse direction; ``regret_minor`` is the expected loss a hundred calls.
    """

    key: str
    title: str
    value: float
    low: float
    high: float
    behind: float
    changed_share: float
    regret_minor: float
    advice: str


@dataclass(frozen=True, slots=True)
class _Candidate:
    key: str
    title: str
    value: float
    behind: float
    place: tuple[str, int, int]  # kind, position, row
    advice: str


def sensitivity(
    base: FaultNetwork,
    jobs: Sequence[ClosedJob],
    settings: LearningSettings,
    return_trip_minor: float,
    at: datetime,
    *,
    tell: Tell = silent,
) -> tuple[Sensitive, ...]:
    """Numbers of a network, those that may cost most first.

    Parameters
    ----------
    base : FaultNetwork
        The version from before any job was counted.
    jobs : sequence of ClosedJob
    settings : LearningSettings
    return_trip_minor : float
        What a visit with the wrong repair prepared costs.
    at : datetime
        The present.
    tell : callable
    """
    tell("Learning from the closed jobs", 0, STEPS)
    layout = layout_for(jobs, base)
    learned = learn_columns(layout, columns_of(jobs, layout, settings, at), settings)
    newest = sorted(jobs, key=lambda job: (job.closed_at, job.id))[-CALLS:]
    calls = _of_phone(columns_of(newest, layout, settings, at), layout)
    tell("Moving each number", 1, STEPS)
    if len(calls) == 0:
        return ()
    found = _Regrets(learned, calls, return_trip_minor)
    sensitive = [found.of(candidate) for candidate in _candidates(learned)]
    tell("Putting them in order", 2, STEPS)
    sensitive.sort(key=lambda one: (-one.regret_minor, one.key))
    return tuple(one for one in sensitive if one.regret_minor > 0.0)[:SHOWN]


class _Regrets:
    """Calls under the numbers learned, and what moving a number does to them."""

    def __init__(self, learned: Learned, calls: JobColumns, return_trip_minor: float) -> None:
        self.learned, self.calls = learned, calls
        self.return_trip_minor = return_trip_minor
        self.layout = learned.layout
        self.model = Model(self.layout, learned.parameters)
        self.log_joint = self.model.log_joint(calls)
        self.cures = _cures(self.layout)
        self.chosen = self._chances(self.log_joint).argmax(axis=1)

    def of(self, candidate: _Candidate) -> Sensitive:
        weight = candidate.behind * candidate.value * (1.0 - candidate.value)
        step = min(LARGEST_STEP, 1.0 / sqrt(max(weight, 1e-9)))
        low, high = (_shifted(candidate.value, sign * step) for sign in (-1.0, 1.0))
        outcomes = [self._moved(candidate, value) for value in (low, high)]
        regret = sum(regret for regret, _ in outcomes) / 2.0
        return Sensitive(
            key=candidate.key,
            title=candidate.title,
            value=candidate.value,
            low=low,
            high=high,
            behind=candidate.behind,
            changed_share=max(changed for _, changed in outcomes),
            regret_minor=100.0 * regret * self.return_trip_minor,
            advice=candidate.advice,
        )

    def _moved(self, candidate: _Candidate, value: float) -> tuple[float, float]:
        """Mean regret, and share of calls with another choice, if the number is ``value``."""
        kind, position, _ = candidate.place
        moved = _with_value(self.learned.parameters, candidate.place, value)
        if kind == "share":
            log_joint = Model(self.layout, moved).log_joint(self.calls)
        else:
            looks = self._observations(kind, position)
            some = _only(self.calls, looks)
            if not some.answers.any():
                return 0.0, 0.0
            other = Model(self.layout, moved)
            # Given the hypothesis units are independent, so the rest of the sum stays as it is.
            other.__dict__["joint"] = self.model.joint
            log_joint = self.log_joint + other.log_joint(some) - self.model.log_joint(some)
        chances = self._chances(log_joint)
        rows = np.arange(len(chances))
        regret = chances.max(axis=1) - chances[rows, self.chosen]
        return float(regret.mean()), float((chances.argmax(axis=1) != self.chosen).mean())

    def _observations(self, kind: str, position: int) -> list[int]:
        """Observations of the unit in which a number acts."""
        for unit in self.layout.units:
            inside = position in (unit.signs if kind == "link" else unit.observations)
            if inside:
                return list(unit.observations)
        return []

    def _chances(self, log_joint: FloatArray) -> FloatArray:
        """P(the repair cures what failed), shape ``(J, R)``."""
        best = log_joint.max(axis=1, keepdims=True)
        weight = np.exp(log_joint - np.where(np.isfinite(best), best, 0.0))
        total = weight.sum(axis=1, keepdims=True)
        return np.asarray((weight / np.where(total > 0.0, total, 1.0)) @ self.cures)


def _cures(layout: Layout) -> FloatArray:
    """Whether a repair cures a mode of a hypothesis, shape ``(H, R)``."""
    compiled = layout.compiled
    member = (layout.members[:, :, None] == np.arange(compiled.mode_count)).any(axis=1)
    cures = np.zeros((compiled.mode_count, len(layout.network.repairs)))
    for place, repair in enumerate(layout.network.repairs.values()):
        for mode in repair.cures:
            cures[compiled.mode_position[mode], place] = 1.0
    return np.asarray((member @ cures) > 0.0, dtype=np.float64)


def _of_phone(columns: JobColumns, layout: Layout) -> JobColumns:
    """Calls with what the phone told only; those without any of it are left out."""
    phone = [k for k, one in enumerate(layout.compiled.observations) if not one.channel.is_on_site]
    some = _only(columns, phone)
    return some.taking(np.flatnonzero(some.answers.any(axis=0)))


def _only(columns: JobColumns, observations: Sequence[int]) -> JobColumns:
    answers = np.zeros_like(columns.answers)
    answers[list(observations)] = columns.answers[list(observations)]
    return replace(columns, answers=answers)


def _candidates(learned: Learned) -> Iterator[_Candidate]:
    for walk in (_shares, _links, _channels):
        yield from (one for one in walk(learned) if LEAST < one.value < MOST)


def _shares(learned: Learned) -> Iterator[_Candidate]:
    compiled = learned.layout.compiled
    behind = learned.belief.share_jobs + learned.job_weight
    for place, mode in enumerate(compiled.mode_ids):
        yield _Candidate(
            f"share:{mode}",
            f"Share of calls: {compiled.index.mode_title(mode)}",
            float(learned.parameters.shares[place]),
            behind,
            ("share", place, 0),
            "Close more jobs with their cause confirmed.",
        )


def _links(learned: Learned) -> Iterator[_Candidate]:
    compiled = learned.layout.compiled
    for place, sign in enumerate(compiled.network.signs.values()):
        if sign.rows:
            continue
        counts = learned.expected.links[place].sum(axis=1)
        names = ["no known cause", *(compiled.index.mode_title(mode) for mode in sign.causes)]
        keys = [f"leak:{sign.id}", *(f"link:{sign.id}:{mode}" for mode in sign.causes)]
        for row, values in enumerate(learned.parameters.links[place]):
            yield _Candidate(
                keys[row],
                f"{sign.title}: {names[row]}",
                float(1.0 - values[0]),
                float(learned.belief.links_jobs[place][row] + counts[row]),
                ("link", place, row),
                f"Look at “{sign.title}” in every job, whatever the cause turns out to be.",
            )


def _channels(learned: Learned) -> Iterator[_Candidate]:
    compiled = learned.layout.compiled
    for place, entry in enumerate(compiled.observations):
        if entry.sign is None or entry.reading is not None or entry.channel.is_on_site:
            continue
        counts = learned.expected.channels[place].sum(axis=1)
        learnable = bool(learned.belief.is_learnable[place])
        for row, state in enumerate(compiled.network.signs[entry.sign].states):
            values = learned.parameters.channels[place][row]
            answer = list(entry.answers.values())[int(np.argmax(values))]
            yield _Candidate(
                f"channel:{entry.id}:{state}",
                f"{entry.title}, answered “{answer}” when {state.replace('_', ' ')}",
                float(values.max()),
                float(
                    learned.belief.channels_jobs[place][row] + (counts[row] if learnable else 0.0)
                ),
                ("channel", place, row),
                "Look at the same sign in another way, too, and note both.",
            )


def _with_value(parameters: Parameters, place: tuple[str, int, int], value: float) -> Parameters:
    kind, position, row = place
    if kind == "share":
        shares = _moved(parameters.shares, position, value)
        return replace(parameters, shares=shares)
    held: Mapping[str, Callable[[], tuple[FloatArray, ...]]] = {
        "link": lambda: parameters.links,
        "channel": lambda: parameters.channels,
    }
    tables = list(held[kind]())
    table = tables[position].copy()
    if kind == "link":
        table[row] = _moved(table[row], 0, 1.0 - value)
    else:
        table[row] = _moved(table[row], int(np.argmax(table[row])), value)
    tables[position] = table
    new = tuple(tables)
    return replace(parameters, links=new) if kind == "link" else replace(parameters, channels=new)


def _moved(values: FloatArray, place: int, value: float) -> FloatArray:
    """Distribution with one entry set, the others in their old proportions."""
    moved = values * (1.0 - value) / (1.0 - values[place])
    moved[place] = value
    return normalised(moved)


def _shifted(value: float, nats: float) -> float:
    return 1.0 / (1.0 + exp(-(log(value / (1.0 - value)) + nats)))


def sensitivity_as_json(found: Sequence[Sensitive]) -> list[dict[str, Any]]:
    """Numbers as plain values."""
    names = Sensitive.__dataclass_fields__
    return [{name: getattr(one, name) for name in names} for one in found]


def sensitivity_from_json(kept: Sequence[Mapping[str, Any]]) -> tuple[Sensitive, ...]:
    """Numbers as they were before they were stored."""
    return tuple(Sensitive(**one) for one in kept)
