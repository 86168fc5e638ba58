"""What may be entered on a visit: an event that was sent, checked against the job as it stands."""

from triage.errors import NotPossibleNowError, UnknownPartError, UnusableEntryError
from triage.inference.evidence import parse_finding
from triage.network.values import FaultNetwork, NetworkIndex
from triage.services.call_log.events import FindingMade, FindingUndone
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
    VisitNote,
)
from triage.services.job.state import JobState
from triage.services.wording import MINOR_UNITS
from triage.trade.units import typed_reading

TEXT_MAX = 1000
NAME_MAX = 100
PIECES_MAX = 99
AMOUNT_MAX_MINOR = 10_000_000


def checked(event: JobEvent, state: JobState, network: FaultNetwork) -> JobEvent:
    """Event as it goes into the log.

    Raises
    ------
    EvidenceError
        The network has no such observation, answer or repair, or the reading is no number.
    JobError
        A text is missing or too long, a part is not one of the machine, or the job does not stand
        where the entry would make sense.
    """
    index = NetworkIndex(network)
    match event:
        case FindingMade():
            return _finding(event, index)
        case FindingUndone(observation):
            index.observation(observation)
        case RepairDone():
            _repair(event, index)
        case RepairUndone(repair):
            if repair not in [one.repair for one in state.repairs]:
                raise NotPossibleNowError(
                    f'The repair "{repair}" is not in the log', "Look at the job as it is now."
                )
        case StepOverruled(_, taken, reason):
            if taken not in network.observations:
                index.repair(taken)
            _text("reason", "the reason", reason)
        case OwnFinding(text, component):
            _text("text", "what was found", text)
            if component and component not in network.components:
                raise UnusableEntryError(
                    f'component "{component}"', "one of this machine", "component"
                )
        case SecondFault(text) | VisitNote(text):
            _text("text", "the text", text)
        case QuoteGiven() | QuoteAuthorised() | QuoteDeclined():
            _quote(event, state)
        case PartOrdered() | PartArrived():
            _order(event, state, network)
        case Arrived() | Left():
            pass
        case AnsweredTwice():
            raise UnusableEntryError("what the program itself notes", "an entry of the visit")
    return event


def _finding(event: FindingMade, index: NetworkIndex) -> FindingMade:
    """Finding with the reading as a number in the unit of the network, if it is one."""
    answer = typed_reading(index.observation(event.observation), str(event.answer))
    found = parse_finding(index, f"{event.observation}={answer}")
    return FindingMade(event.observation, found.answer)


def _repair(event: RepairDone, index: NetworkIndex) -> None:
    index.repair(event.repair)
    for piece in event.pieces:
        if piece.part not in index.network.parts:
            raise UnknownPartError(piece.part, index.network.parts)
        _pieces(piece.pieces)
        if len(piece.variant) > NAME_MAX:
            raise UnusableEntryError("a number of a part", f"at most {NAME_MAX} characters")


def _quote(event: QuoteGiven | QuoteAuthorised | QuoteDeclined, state: JobState) -> None:
    if isinstance(event, QuoteGiven):
        _text("what_for", "what the quote is for", event.what_for)
        if not 0 <= event.amount_minor <= AMOUNT_MAX_MINOR:
            raise UnusableEntryError(
                f"the amount {event.amount_minor / MINOR_UNITS:.2f} is out of range",
                f"0 to {AMOUNT_MAX_MINOR // MINOR_UNITS}",
                "amount_minor",
            )
        return
    if state.quote is None:
        raise NotPossibleNowError("No quote was given yet", "Give the quote first.")
    if isinstance(event, QuoteAuthorised):
        _text("by_whom", "who said yes", event.by_whom, NAME_MAX)
        _text("how", "how it was said", event.how, NAME_MAX)
    else:
        _text("reason", "the reason", event.reason)


def _order(event: PartOrdered | PartArrived, state: JobState, network: FaultNetwork) -> None:
    if event.part not in network.parts:
        raise UnknownPartError(event.part, network.parts)
    if isinstance(event, PartOrdered):
        _pieces(event.pieces)
    elif event.part not in [order.part for order in state.waiting_for]:
        raise NotPossibleNowError(
            f"The job does not wait for “{network.parts[event.part].title}”",
            "Look at the job as it is now.",
        )


def _pieces(count: int) -> None:
    if not 1 <= count <= PIECES_MAX:
        raise UnusableEntryError(
            f"{count} pieces cannot be", f"a whole number from 1 to {PIECES_MAX}", "pieces"
        )


def _text(field: str, what: str, text: str, limit: int = TEXT_MAX) -> None:
    if not text.strip():
        raise UnusableEntryError(f"{what} is missing", f"1 to {limit} characters", field)
    if len(text) > limit:
        raise UnusableEntryError(f"{what} has {len(text)} characters", f"at most {limit}", field)
