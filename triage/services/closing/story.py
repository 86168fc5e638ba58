"""What the events of a job tell whoever closes it: findings, repairs, times, the quote.

The events of the phone and of the visit are one stream. Here it is read once, in the order in which
things happened; what was taken back is left out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

from triage.inference import evidence as inference
from triage.inference.evidence import Evidence, Finding
from triage.network.values import VOLUNTEERED, Channel, FaultNetwork
from triage.services.call_log.events import (
    CallbackJudged,
    CallOutcome,
    CallReopened,
    FindingMade,
    FindingUndone,
    OutcomeRecorded,
)
from triage.services.call_log.events import from_stored as phone_event
from triage.services.job.events import (
    Arrived,
    Left,
    PartOrdered,
    QuoteAuthorised,
    QuoteDeclined,
    QuoteGiven,
    RepairDone,
    RepairUndone,
    is_of_job,
)
from triage.services.job.events import from_stored as job_event
from triage.store.calls import StoredCall, StoredEvent

TECHNICIAN, CALLER = "technician", "caller"
TYPED_AT_ONCE_MINUTES = 0.5  # two entries nearer than this were typed in together
LONGEST_STEP_MINUTES = 180.0  # a longer gap is a break, or another visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A finding or a repair that holds, when, and by whom it was entered."""

    event: FindingMade | RepairDone
    at: datetime
    by: str


@dataclass(slots=True)
class _Reader:
    told: list[Told] = field(default_factory=list)
    outcome: OutcomeRecorded | None = None
    outcome_at: datetime | None = None
    quote: QuoteGiven | None = None
    is_authorised: bool = False
    declined: QuoteDeclined | None = None
    ordered: list[str] = field(default_factory=list)
    times: list[tuple[datetime, str]] = field(default_factory=list)  # of the visit, with its step
    stays: list[tuple[datetime, datetime | None]] = field(default_factory=list)
    callback: CallbackJudged | None = None

    def read(self, stored: StoredEvent) -> None:
        if is_of_job(stored.kind):
            self._read_job(stored)
        elif stored.kind == OutcomeRecorded.kind:
            outcome = phone_event(stored.kind, stored.payload)
            if isinstance(outcome, OutcomeRecorded) and self.outcome_at is None:
                self.outcome, self.outcome_at = outcome, stored.at
        elif stored.kind == CallbackJudged.kind:
            judged = phone_event(stored.kind, stored.payload)
            self.callback = judged if isinstance(judged, CallbackJudged) else None
        elif stored.kind == CallReopened.kind:
            self.outcome = self.outcome_at = None

    def _read_job(self, stored: StoredEvent) -> None:
        event = job_event(stored.kind, stored.payload)
        match event:
            case FindingMade():
                self._drop_finding(event.observation)
                self.told.append(Told(event=event, at=stored.at, by=stored.by))
                self.times.append((stored.at, event.observation))
            case FindingUndone(observation):
                self._drop_finding(observation)
            case RepairDone():
                self.told.append(Told(event=event, at=stored.at, by=stored.by))
                self.times.append((stored.at, event.repair))
            case RepairUndone(repair):
                self._drop_repair(repair)
            case QuoteGiven():
                self.quote, self.is_authorised, self.declined = event, False, None
            case QuoteAuthorised():
                self.is_authorised, self.declined = True, None
            case QuoteDeclined():
                self.declined, self.is_authorised = event, False
            case PartOrdered(part):
                self.ordered.append(part)
            case Arrived():
                self.stays.append((stored.at, None))
                self.times.append((stored.at, ""))
            case Left():
                self._leave(stored.at)
            case _:
                pass

    def _leave(self, at: datetime) -> None:
        if self.stays and self.stays[-1][1] is None:
            self.stays[-1] = (self.stays[-1][0], at)

    def _drop_finding(self, observation: str) -> None:
        """Drop an earlier answer to the same question, unless a repair has come between."""
        for place in range(len(self.told) - 1, -1, -1):
            event = self.told[place].event
            if isinstance(event, RepairDone):
                return
            if event.observation == observation:
                del self.told[place]
                return

    def _drop_repair(self, repair: str) -> None:
        for place in range(len(self.told) - 1, -1, -1):
            event = self.told[place].event
            if isinstance(event, RepairDone) and event.repair == repair:
                del self.told[place]
                return


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """What happened in a job.

    ``told`` are findings and repairs that hold, in their order. ``ended_at`` is when the phone call
    ended, None if it has not. ``quote_minor`` is the price the customer said yes to, or None.
    ``minutes`` are the minutes each step of the visit took, where its entries were made one by one;
    ``times`` are those of all entries made on site. ``stays`` are from arriving to leaving, None
    where nobody said that they left. ``callback`` is what the phone judged of an earlier job.
    """

    call: StoredCall
    told: tuple[Told, ...]
    outcome: CallOutcome | None
    outcome_note: str
    ended_at: datetime | None
    quote_minor: int | None
    was_declined: bool
    ordered: tuple[str, ...]
    minutes: dict[str, float]
    times: tuple[datetime, ...]
    stays: tuple[tuple[datetime, datetime | None], ...]
    callback: CallbackJudged | None

    @property
    def repairs(self) -> tuple[RepairDone, ...]:
        """Repairs that were done, in their order."""
        return tuple(one.event for one in self.told if isinstance(one.event, RepairDone))

    @property
    def before_first_repair(self) -> tuple[Told, ...]:
        """Findings about the machine as it was at the call."""
        found: list[Told] = []
        for one in self.told:
            if isinstance(one.event, RepairDone):
                break
            found.append(one)
        return tuple(found)

    @property
    def volunteered(self) -> frozenset[str]:
        """Signs that the caller named unasked."""
        return frozenset(
            one.event.observation
            for one in self.told
            if isinstance(one.event, FindingMade) and one.event.answer == VOLUNTEERED
        )

    def known_when_booked(self) -> tuple[Told, ...]:
        """Findings of the phone: those made until the call ended."""
        return tuple(
            one
            for one in self.before_first_repair
            if self.ended_at is None or one.at <= self.ended_at
        )


def story_of(call: StoredCall) -> Story:
    """Story of a job."""
    reader = _Reader()
    for event in sorted(call.events, key=lambda one: (one.at, one.sequence)):
        reader.read(event)
    outcome = reader.outcome
    ended = reader.outcome_at
    on_site = [(at, step) for at, step in reader.times if ended is not None and at > ended]
    quote = reader.quote if reader.is_authorised else None
    return Story(
        call=call,
        told=tuple(reader.told),
        outcome=None if outcome is None else CallOutcome(outcome.outcome),
        outcome_note="" if outcome is None else outcome.note,
        ended_at=reader.outcome_at,
        quote_minor=None if quote is None else quote.amount_minor,
        was_declined=reader.declined is not None,
        ordered=tuple(reader.ordered),
        minutes=_minutes(on_site),
        times=tuple(at for at, _ in on_site),
        stays=tuple(reader.stays),
        callback=reader.callback,
    )


def evidence_of(told: Iterable[Told], network: FaultNetwork) -> Evidence:
    """Findings and repairs as evidence; what the network does not know is left out.

    A finding is the technician's if its channel is of the site, else the caller's: whether one
    answer replaces another depends on who gave it.
    """
    events: list[inference.Event] = []
    for one in told:
        if isinstance(one.event, RepairDone):
            if one.event.repair in network.repairs:
                events.append(inference.RepairDone(one.event.repair))
            continue
        observation = network.observations.get(one.event.observation)
        answer = one.event.answer
        if observation is None or not _is_taken(network, one.event.observation, answer):
            continue
        by = TECHNICIAN if is_on_site(observation.channel) else CALLER
        events.append(Finding(one.event.observation, answer, by))
    return Evidence.of(*events)


def is_on_site(channel: Channel) -> bool:
    """Whether a finding of the channel is made at the machine by the technician."""
    return channel.is_on_site


def _is_taken(network: FaultNetwork, observation: str, answer: str | float) -> bool:
    entry = network.observations[observation]
    if isinstance(answer, float | int):
        return entry.reading is not None
    return answer in inference.answers_accepted(entry)


def _minutes(steps: Sequence[tuple[datetime, str]]) -> dict[str, float]:
    """Minutes between an entry of the visit and the one before it, where they say something.

    What was typed in at once, or after a long break, tells nothing of how long the step took.
    """
    minutes: dict[str, float] = {}
    for (before, _), (at, step) in pairwise(steps):
        gap = (at - before).total_seconds() / 60
        if step and TYPED_AT_ONCE_MINUTES <= gap <= LONGEST_STEP_MINUTES:
            minutes[step] = round(gap, 1)
    return minutes
