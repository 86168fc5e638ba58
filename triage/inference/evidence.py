"""Findings, repairs done, and the evidence they make up.

Evidence is a sequence of **events** in the order they happened. A finding refers to the state the
machine was in when it was made; a repair changes that state and so ends an **epoch**. Within one
epoch a person has one live finding per observation: asking the same thing again replaces the answer
and adds nothing. "Don't know" and "could not be run" (where the machine does not force it) are
stored, and are no evidence.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.errors import ReadingError, ReadingOutOfSpanError, UnknownAnswerError
from triage.network.reading import reading_likelihood
from triage.network.values import (
    COULD_NOT_BE_RUN,
    INSIDE,
    OUTSIDE,
    VOLUNTEERED,
    NetworkIndex,
    Observation,
    Reading,
)

FloatArray = NDArray[np.float64]

DONT_KNOW = "dont_know"


@dataclass(frozen=True, slots=True)
class Finding:
    """An observation with its answer: an answer id, ``volunteered``, ``dont_know`` or a reading."""

    observation: str
    answer: str | float
    by: str = "caller"

    def __str__(self) -> str:
        return f"{self.observation}={self.answer}"


@dataclass(frozen=True, slots=True)
class RepairDone:
    """A repair that was carried out; it cures its modes with the success rate of the network."""

    repair: str

    def __str__(self) -> str:
        return f"repair {self.repair}"


Event = Finding | RepairDone


@dataclass(frozen=True, slots=True)
class Evidence:
    """Events in the order they happened."""

    events: tuple[Event, ...] = ()

    @classmethod
    def of(cls, *events: Event) -> "Evidence":
        """Evidence made of these events."""
        return cls(events)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every finding, live or replaced, in order."""
        return tuple(event for event in self.events if isinstance(event, Finding))

    def adding(self, *events: Event) -> "Evidence":
        """Evidence with these events after the present ones."""
        return replace(self, events=(*self.events, *events))

    def without(self, finding: Finding) -> "Evidence":
        """Evidence as it would be had this finding never been made."""
        return replace(self, events=tuple(event for event in self.events if event != finding))

    def epochs(self) -> tuple[tuple[tuple[Finding, ...], str | None], ...]:
        """Live findings of each epoch and the repair that ended it; None for the last epoch."""
        epochs: list[tuple[tuple[Finding, ...], str | None]] = []
        live: dict[tuple[str, str], Finding] = {}
        for event in self.events:
            if isinstance(event, RepairDone):
                epochs.append((tuple(live.values()), event.repair))
                live = {}
            else:
                live.pop((event.observation, event.by), None)
                live[event.observation, event.by] = event
        return (*epochs, (tuple(live.values()), None))


def answers_accepted(observation: Observation) -> tuple[str, ...]:
    """Every answer that may be recorded for an observation."""
    extra = [VOLUNTEERED] if observation.volunteered else []
    return tuple(dict.fromkeys([*observation.answers, *extra, DONT_KNOW, COULD_NOT_BE_RUN]))


def finding_likelihood(observation: Observation, answer: str | float) -> FloatArray | None:
    """P(answer | state) for each state of what is looked at, or None where it is no evidence.

    Parameters
    ----------
    observation : Observation
        ``V`` states of its sign or context.
    answer : str or float
        An accepted answer, or a meter reading in the unit of ``observation.reading``. One beyond
        an end of the span, which ``parse_finding`` does not take any more but old jobs may hold,
        counts as that end.

    Returns
    -------
    ndarray or None
        Shape ``(V,)``; a density per unit for a reading. None for "don't know".

    Raises
    ------
    UnknownAnswerError, ReadingError
        The answer is not one of the observation's.
    """
    if isinstance(answer, float | int):
        if observation.reading is None:
            raise ReadingError(observation.id, answer, f"one of {', '.join(observation.answers)}")
        return np.asarray(reading_likelihood(observation.reading, float(answer)))
    if answer == VOLUNTEERED and observation.volunteered is not None:
        return np.asarray(observation.volunteered)
    answers = list(observation.answers)
    if answer in answers:
        return np.asarray(observation.likelihood)[:, answers.index(answer)]
    if answer in (DONT_KNOW, COULD_NOT_BE_RUN):
        return None
    raise UnknownAnswerError(observation.id, answer, answers_accepted(observation))


def parse_finding(index: NetworkIndex, text: str, by: str = "caller") -> Finding:
    """Read ``OBSERVATION=ANSWER``; a number is a meter reading where the observation takes one.

    Every finding that is made comes through here, at the command line, on a page or by a program.

    Raises
    ------
    UnknownObservationError, UnknownAnswerError, ReadingError
        With the nearest known name.
    ReadingOutOfSpanError
        The number lies outside what the network says can be read there.
    """
    name, _, answer = (piece.strip() for piece in text.partition("="))
    observation = index.observation(name)
    if observation.reading is not None and answer not in answers_accepted(observation):
        finding = Finding(name, _number(observation, answer), by)
    else:
        finding = Finding(name, answer, by)
    finding_likelihood(observation, finding.answer)
    return finding


def parse_findings(index: NetworkIndex, texts: Iterable[str], by: str = "caller") -> Evidence:
    """Evidence from ``OBSERVATION=ANSWER`` texts, in their order."""
    return Evidence(tuple(parse_finding(index, text, by) for text in texts))


def _number(observation: Observation, text: str) -> float:
    reading = observation.reading
    assert reading is not None
    try:
        value = float(text)
    except ValueError:
        expected = f"a number in {reading.unit}, or {', '.join(observation.answers)}"
        raise ReadingError(observation.id, text, expected) from None
    if not np.isfinite(value):
        raise ReadingError(observation.id, text, f"a finite number in {reading.unit}")
    if not reading.span[0] <= value <= reading.span[1]:
        instead = _answer_beyond(reading, value)
        raise ReadingOutOfSpanError(
            observation.id,
            text,
            span=reading.span,
            unit=reading.unit,
            instead=instead,
            label=observation.answers.get(instead, ""),
        )
    return value


def _answer_beyond(reading: Reading, value: float) -> str:
    """Answer that says the same of a value beyond an end of the span; empty for one below nothing.

    Where the span ends with the range to accept, what is beyond is good as well, such as the
    insulation of a motor that a meter no longer resolves.
    """
    low, high = reading.span
    if value < low == 0:
        return ""
    end = min(max(value, low), high)
    return INSIDE if reading.accept[0] <= end <= reading.accept[1] else OUTSIDE
