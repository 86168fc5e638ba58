"""What happened to a call since a page was shown: for the second of two who work on one call."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from triage.network.values import FaultNetwork
from triage.services.call_log.events import (
    CallbackJudged,
    CallEvent,
    CallLinked,
    CallReopened,
    ComplaintTaken,
    CustomerLinked,
    FindingMade,
    FindingUndone,
    HelpAsked,
    HelpedAnyway,
    MadeSafeConfirmed,
    NoteTaken,
    OutcomeRecorded,
    QuestionSkipped,
    SafetyAnswered,
    from_stored,
)
from triage.services.networks.in_use import network_of_call
from triage.services.wording import answer_in
from triage.store.calls import read_call
from triage.store.database import Database
from triage.trade.units import Units

PLAIN: dict[type, str] = {
    ComplaintTaken: "Call opened",
    SafetyAnswered: "Safety questions answered",
    HelpAsked: "“Can we help” answered",
    HelpedAnyway: "Helped although something speaks against it",
    CustomerLinked: "Customer put in",
    CallLinked: "Second call of this caller opened",
    CallbackJudged: "Compared with an earlier job",
    CallReopened: "Call opened again",
}
LATER = {
    "visit_booked": "Visit booked",
    "visit_moved": "Visit moved",
    "visit_late": "Technician late",
    "visit_cancelled": "Visit cancelled",
    "visit_no_show": "Nobody was there",
    "job_closed": "Job closed",
}
ON_SITE = "Entered on the job sheet"


@dataclass(frozen=True, slots=True)
class CallChange:
    """Something that happened to a call, in words, by whom and when."""

    what: str
    by: str
    at: datetime


def changes_since(
    database: Database, call_id: int, shown_version: int, units: Units
) -> Sequence[CallChange]:
    """What was added to a call after the version that a page showed, in order.

    Readings are told in the units of the shop.

    Raises
    ------
    UnknownCallError
    """
    with database.reading() as session:
        call = read_call(session, call_id)
    network = network_of_call(database, call.network_id, call.network_version)
    return [
        CallChange(_in_words(from_stored(one.kind, one.payload), network, units), one.by, one.at)
        for one in call.events[shown_version:]
    ]


def _in_words(event: CallEvent, network: FaultNetwork, units: Units) -> str:
    match event:
        case FindingMade(observation, answer):
            asked = network.observations.get(observation)
            label = answer_in(asked, answer, units) if asked else str(answer)
            return f"{asked.title if asked else observation}: {label}"
        case FindingUndone(observation):
            return f"Answer taken back: {_title(network, observation)}"
        case QuestionSkipped(observation):
            return f"Question skipped: {_title(network, observation)}"
        case MadeSafeConfirmed(name):
            return f"Made safe, confirmed by {name}"
        case OutcomeRecorded(outcome, _):
            return f"Call ended: {outcome.replace('_', ' ')}"
        case NoteTaken(text):
            return f"Note: {text}"
        case _:
            return PLAIN.get(type(event)) or LATER.get(event.kind, ON_SITE)


def _title(network: FaultNetwork, observation: str) -> str:
    asked = network.observations.get(observation)
    return asked.title if asked else observation
