"""The state of a job: a fold over what happened at the phone and on the visits.

Findings and repairs make up the evidence, in the order in which they were made. A repair ends an
**epoch**: the same test made again after it is another finding, made before it a correction.
Events count by the time at which they were made, so that what was entered without signal and came
late stands in its place.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from triage.inference import evidence as inference
from triage.inference.evidence import Evidence, Finding, answers_accepted
from triage.network.values import FaultNetwork, Observation
from triage.services.call_log.events import FindingMade, FindingUndone
from triage.services.call_log.state import CallState
from triage.services.job.events import (
    AnsweredTwice,
    Arrived,
    JobEvent,
    Left,
    OwnFinding,
    PartArrived,
    PartOrdered,
    QuoteAuthorised,
    QuoteDeclined,
    QuoteGiven,
    RepairDone,
    RepairUndone,
    SecondFault,
    StepOverruled,
    Verified,
    VisitNote,
    from_stored,
    is_of_job,
)
from triage.store.calls import StoredCall, StoredEvent


@dataclass(frozen=True, slots=True)
class Made:
    """A finding or a repair that holds, when, and by whom it was entered."""

    event: FindingMade | RepairDone
    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class Told:
    """Something written down on the visit that is no finding of the network."""

    event: OwnFinding | SecondFault | StepOverruled | VisitNote | AnsweredTwice
    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class Quote:
    """A quote and what became of it; neither authorised nor declined while it is open."""

    given: QuoteGiven
    at: datetime
    by: str
    authorised: QuoteAuthorised | None = None
    declined: QuoteDeclined | None = None
    decided_at: datetime | None = None

    @property
    def is_open(self) -> bool:
        """Whether the customer has not decided yet."""
        return self.authorised is None and self.declined is None


@dataclass(frozen=True, slots=True)
class OrderedPart:
    """A part that was ordered; ``arrived_at`` is None while the job waits for it."""

    part: str
    pieces: int
    expected_on: date
    at: datetime
    by: str
    arrived_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """What is true of a job after its events.

    ``made`` holds the findings and repairs that count, in order; ``told`` what else was written
    down. ``taken`` is the step the technician chose over the one proposed, until it is done.
    """

    call: CallState
    made: tuple[Made, ...] = ()
    told: tuple[Told, ...] = ()
    quote: Quote | None = None
    orders: tuple[OrderedPart, ...] = ()
    taken: str = ""

    @classmethod
    def of(cls, stored: StoredCall) -> "JobState":
        """State of the job of a stored call."""
        state = cls(call=CallState.of(stored))
        for event in in_order(stored.events):
            if is_of_job(event.kind):
                state = state.after(from_stored(event.kind, event.payload), event.at, event.by)
        return state

    @property
    def version(self) -> int:
        """How many events the call has."""
        return self.call.version

    @property
    def repairs(self) -> tuple[RepairDone, ...]:
        """Repairs that were done, in order."""
        return tuple(one.event for one in self.made if isinstance(one.event, RepairDone))

    @property
    def last_repair(self) -> RepairDone | None:
        """Repair that was done last, if any was."""
        return self.repairs[-1] if self.repairs else None

    def verified(self, network: FaultNetwork) -> Verified | None:
        """What the check run after the last repair showed; None without a repair.

        A check run that is entered by itself counts for the repair before it.
        """
        last = self.last_repair
        if last is None:
            return None
        if network.verification is None:
            return last.verified
        answer = self.answer_to(network.verification)
        if answer is None:
            return last.verified
        passes = check_run_answer(network.observations[network.verification], Verified.WORKS)
        return Verified.WORKS if answer == passes else Verified.STILL_BROKEN

    @property
    def waiting_for(self) -> tuple[OrderedPart, ...]:
        """Parts that were ordered and have not arrived."""
        return tuple(order for order in self.orders if order.arrived_at is None)

    def answer_to(self, observation: str) -> str | float | None:
        """Answer that counts since the last repair, or None if there is none."""
        for one in reversed(self.made):
            if isinstance(one.event, RepairDone):
                return None
            if one.event.observation == observation:
                return one.event.answer
        return None

    def evidence(self, network: FaultNetwork) -> Evidence:
        """Findings and repairs as evidence, without those that the network does not have.

        A check run that was made after a repair is a finding like any other.
        """
        return Evidence(tuple(self._events(network)))

    def _events(self, network: FaultNetwork) -> Iterable[inference.Event]:
        for one in self.made:
            event = one.event
            if isinstance(event, FindingMade):
                if _accepts(network, event):
                    yield Finding(event.observation, event.answer)
            elif event.repair in network.repairs:
                yield inference.RepairDone(event.repair)
                if network.verification and event.verified is not Verified.NOT_RUN:
                    run = network.observations[network.verification]
                    yield Finding(run.id, check_run_answer(run, event.verified))

    def after(self, event: JobEvent, at: datetime, by: str) -> "JobState":
        """State after one more event."""
        match event:
            case FindingMade():
                made = (*self._without(event.observation), Made(event, at, by))
                return self._done(event.observation, made)
            case FindingUndone(observation):
                return replace(self, made=self._without(observation))
            case RepairDone():
                return self._done(event.repair, (*self.made, Made(event, at, by)))
            case RepairUndone(repair):
                return replace(self, made=self._without_repair(repair))
            case Arrived() | Left():
                return self
            case QuoteGiven() | QuoteAuthorised() | QuoteDeclined():
                return replace(self, quote=self._quoted(event, at, by))
            case PartOrdered(part, expected_on, pieces):
                order = OrderedPart(part, pieces, expected_on, at, by)
                return replace(self, orders=(*self.orders, order))
            case PartArrived(part):
                return replace(self, orders=tuple(_arrived(self.orders, part, at)))
            case StepOverruled():
                told = (*self.told, Told(event, at, by))
                return replace(self, told=told, taken=event.taken)
            case OwnFinding() | SecondFault() | VisitNote() | AnsweredTwice():
                return replace(self, told=(*self.told, Told(event, at, by)))

    def _done(self, step: str, made: tuple[Made, ...]) -> "JobState":
        return replace(self, made=made, taken="" if step == self.taken else self.taken)

    def _without(self, observation: str) -> tuple[Made, ...]:
        """Findings and repairs without the answer since the last repair."""
        for place in reversed(range(len(self.made))):
            event = self.made[place].event
            if isinstance(event, RepairDone):
                break
            if event.observation == observation:
                return (*self.made[:place], *self.made[place + 1 :])
        return self.made

    def _without_repair(self, repair: str) -> tuple[Made, ...]:
        """Findings and repairs without the last one of that name."""
        for place in reversed(range(len(self.made))):
            event = self.made[place].event
            if isinstance(event, RepairDone) and event.repair == repair:
                return (*self.made[:place], *self.made[place + 1 :])
        return self.made

    def _quoted(
        self, event: QuoteGiven | QuoteAuthorised | QuoteDeclined, at: datetime, by: str
    ) -> Quote | None:
        if isinstance(event, QuoteGiven):
            return Quote(event, at, by)
        if self.quote is None:
            return None
        if isinstance(event, QuoteAuthorised):
            return replace(self.quote, authorised=event, declined=None, decided_at=at)
        return replace(self.quote, authorised=None, declined=event, decided_at=at)


def in_order(events: Iterable[StoredEvent]) -> list[StoredEvent]:
    """Events by the time at which they were made; of the same moment, as they were stored."""
    return sorted(events, key=lambda one: (one.at, one.sequence))


def check_run_answer(run: Observation, verified: Verified) -> str:
    """Answer to the check run of a network: the one a sound machine gives most often, or another.

    ``run.likelihood`` has the sound state first.
    """
    sound = run.likelihood[0]
    passes = max(range(len(sound)), key=sound.__getitem__)
    fails = max(range(len(sound)), key=run.likelihood[-1].__getitem__)
    return list(run.answers)[passes if verified is Verified.WORKS else fails]


def _accepts(network: FaultNetwork, event: FindingMade) -> bool:
    """Whether the network, which may have changed, still has the observation and the answer."""
    observation = network.observations.get(event.observation)
    if observation is None:
        return False
    if isinstance(event.answer, str):
        return event.answer in answers_accepted(observation)
    return observation.reading is not None


def _arrived(orders: Iterable[OrderedPart], part: str, at: datetime) -> Iterable[OrderedPart]:
    """Orders in which the first of that part that was still waited for has arrived."""
    is_told = False
    for order in orders:
        if order.part == part and order.arrived_at is None and not is_told:
            is_told = True
            yield replace(order, arrived_at=at)
        else:
            yield order
