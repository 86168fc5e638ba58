"""Can we help: where the machine is, who pays, how to get to it; asked before any diagnosis.

Nothing here has to be answered: what was not asked stays open and stops nothing. An answer that
speaks against helping gives the sentence to say and who helps instead; the dispatcher may help all
the same and says why. How to get to the machine goes to the job sheet and to what the caller
prepares.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from triage.network.values import FaultNetwork
from triage.services.call_log.change import Entry, change_call
from triage.services.call_log.events import CallbackJudged, CallEvent, HelpAsked, HelpedAnyway
from triage.services.call_log.state import CallState
from triage.services.customers.history import NEW, SAME, History, history_of
from triage.store.calls import read_call
from triage.store.customers import read_customer
from triage.store.database import Database

if TYPE_CHECKING:
    from triage.services.settings.hours import DeskSettings

__all__ = [
    "ACCESS",
    "NEW",
    "NO",
    "OWNER",
    "QUESTIONS",
    "SAME",
    "TENANT",
    "YES",
    "AccessNote",
    "HelpOfCall",
    "Refusal",
    "access_notes",
    "answer_help",
    "help_anyway",
    "help_asked",
    "notes_for_technician",
    "refusals",
    "refusals_of",
]

YES, NO = "yes", "no"
OWNER, TENANT = "owner", "tenant"
NOBODY_NAMED = "nobody named yet"


@dataclass(frozen=True, slots=True)
class AccessNote:
    """Something in the way to the machine: for the job sheet, and for the caller to prepare."""

    id: str
    title: str
    for_technician: str
    for_caller: str


# What stands in the way, and what it asks for, is common practice, no source.
ACCESS: Mapping[str, AccessNote] = {
    note.id: note
    for note in (
        AccessNote(
            "stacked",
            "Stacked, one machine on the other",
            "Stacked: a second person or the stand may be needed to take the upper one down.",
            "Clear the floor in front of both machines: the upper one may have to come down.",
        ),
        AccessNote(
            "closet",
            "In a closet or a narrow niche",
            "In a closet or niche: it has to be drawn out before a panel comes off.",
            "Empty the closet and take its doors off their hinges if that is easily done.",
        ),
        AccessNote(
            "stairs",
            "Up or down stairs, without a lift",
            "Stairs without a lift: tools and heavy parts are carried.",
            "Clear the stairs and the way to the machine.",
        ),
        AccessNote(
            "shut_off_far",
            "Taps, gas valve or breaker out of reach",
            "Shut-off out of reach: find it before work begins.",
            "Find out where water, gas and power are shut off, and who can get to it.",
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why the shop does not help: what to say, and who does."""

    title: str
    script: str
    referral: str


OUT_OF_AREA = Refusal(
    "Outside the service area",
    "I am sorry, that is farther than our vans go. A repair shop near you will be quicker and "
    "cheaper, as no long way has to be paid.",
    "A repair shop near the machine",
)
UNDER_WARRANTY = Refusal(
    "Under the maker's warranty",
    "Then the repair costs you nothing if the maker does it, and the warranty may end if we open "
    "the machine. Call the service of its maker and have the receipt at hand; the number is in the "
    "booklet or on the plate.",
    "Service of the maker",
)

# Sentences to say, by question.
QUESTIONS: Mapping[str, str] = {
    "place": "What is the postcode or the town where the machine stands?",
    "warranty": "Is it still under the maker's warranty? That is mostly one year from the day it "
    "was bought.",
    "holder": "Is it your own machine, or does it belong to the landlord?",
    "pays": "Who pays for the repair, and has that been agreed?",
    "lets_in": "Who can let the technician in?",
    "callback": "Is it the same complaint as last time, or something new?",
    "access": "How do we get to it: is it stacked, in a closet, up stairs? Can you reach the "
    "shut-off?",
}


@dataclass(frozen=True, slots=True)
class HelpOfCall:
    """A call, where the customer on record lives, what speaks against helping, earlier jobs."""

    state: CallState
    place: str
    refusals: tuple[Refusal, ...]
    history: History


def refusals(state: CallState) -> tuple[Refusal, ...]:
    """Why the shop does not help in this call; empty if it does, or does all the same."""
    if state.help is None or state.helped_anyway:
        return ()
    return refusals_of(state.help)


def refusals_of(answers: HelpAsked) -> tuple[Refusal, ...]:
    """What speaks against helping."""
    found = []
    if answers.in_area == NO:
        found.append(OUT_OF_AREA)
    if answers.warranty == YES:
        found.append(UNDER_WARRANTY)
    return tuple(found)


def access_notes(state: CallState) -> tuple[AccessNote, ...]:
    """What stands in the way to the machine, as far as it was asked."""
    chosen = state.help.access if state.help else ()
    return tuple(ACCESS[name] for name in chosen if name in ACCESS)


def notes_for_technician(state: CallState) -> tuple[str, ...]:
    """Lines for the job sheet: the way to the machine, whose it is, who lets the technician in."""
    lines = [note.for_technician for note in access_notes(state)]
    answers = state.help
    if answers is not None and answers.holder == TENANT:
        pays, lets_in = answers.pays or NOBODY_NAMED, answers.lets_in or NOBODY_NAMED
        lines.append(f"The caller is a tenant. Who pays: {pays}. Who lets in: {lets_in}.")
    if state.helped_anyway:
        lines.append(f"Helped although something spoke against it: {state.helped_anyway}")
    return tuple(lines)


def help_asked(
    database: Database, call_id: int, settings: "DeskSettings", now: datetime
) -> HelpOfCall:
    """What was asked of a call, the place of its customer, what was repaired before.

    Raises
    ------
    UnknownCallError
    """
    with database.reading() as session:
        state = CallState.of(read_call(session, call_id))
        customer = read_customer(session, state.customer_id) if state.customer_id else None
    place = (customer.postcode or customer.town) if customer else ""
    history = history_of(database, call_id, now, settings.callback_days)
    return HelpOfCall(state, place, refusals(state), history)


def answer_help(
    database: Database,
    call_id: int,
    answers: HelpAsked,
    settings: "DeskSettings",
    entry: Entry,
    *,
    callback: CallbackJudged | None = None,
) -> None:
    """Record what was asked; whether the place is in the service area is judged here.

    ``callback`` says whether it is the complaint of an earlier job again, if that was asked.
    """
    in_area = settings.is_in_area(answers.place)
    judged = replace(
        answers,
        in_area="" if in_area is None else (YES if in_area else NO),
        access=[name for name in ACCESS if name in answers.access],
    )

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        return [judged] if callback is None else [judged, callback]

    change_call(database, call_id, entry, decide)


def help_anyway(database: Database, call_id: int, reason: str, entry: Entry) -> None:
    """Record that the shop helps although something speaks against it."""

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        return [HelpedAnyway(reason.strip())] if refusals(state) else []

    change_call(database, call_id, entry, decide)
