"""A small shop with two vans, and calls that wait for a visit."""

from dataclasses import replace
from datetime import UTC, datetime
from itertools import count
from zoneinfo import ZoneInfo

from triage.services.booking.vans import VanEntered, add_van
from triage.services.booking.visits import BookingRules, BookingWanted, SlotWanted, book_visit
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import (
    CallReport,
    Database,
    Entry,
    Submission,
    answer_safety_questions,
    end_call,
    find_call,
    open_call,
)
from triage.services.calls.intake import safety_check
from triage.services.settings.hours import DEFAULT_DESK, DeskSettings

CHICAGO = ZoneInfo("America/Chicago")
MONDAY_SIX = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)  # six in the morning in Chicago
NUMBERS = count(1)


def desk(**changed: object) -> BookingRules:
    settings: DeskSettings = replace(DEFAULT_DESK, **changed)  # type: ignore[arg-type]
    return BookingRules(settings, CHICAGO)


def page(shown: int = 0, client_id: str = "", at: datetime = MONDAY_SIX, by: str = "ana") -> Entry:
    return Entry(submission=Submission(client_id or f"page {next(NUMBERS)}", shown), at=at, by=by)


def local(day: int, hour: int, minute: int = 0, month: int = 3) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=CHICAGO)


def vans(database: Database) -> tuple[int, int]:
    return tuple(  # type: ignore[return-value]
        add_van(database, VanEntered(name=name), page()) for name in ("North", "South")
    )


def call_for_visit(
    database: Database, *, ended: bool = True, network: str = "gas_dryer", asked: bool = True
) -> int:
    """A call whose safety questions were answered, if they were, ended with a visit."""
    report = CallReport(network_id=network, caller="Blue door", words="it does not heat")
    call_id = open_call(database, report, page())
    if not asked:
        return call_id
    questions = safety_check(database, call_id).questions
    answers = {question.flag.id: False for question in questions}
    answer_safety_questions(database, call_id, answers, now_page(database, call_id))
    if ended:
        end_call(database, call_id, CallOutcome.VISIT, "", now_page(database, call_id))
    return call_id


def now_page(database: Database, call_id: int, at: datetime = MONDAY_SIX) -> Entry:
    return page(find_call(database, call_id).version, at=at)


def booked(
    database: Database, van_id: int, starts_at: datetime, minutes: int = 60, call_id: int = 0
) -> int:
    call_id = call_id or call_for_visit(database)
    slot = SlotWanted(van_id=van_id, starts_at=starts_at, minutes=minutes)
    wanted = BookingWanted(call_id=call_id, slot=slot)
    return book_visit(database, wanted, desk(), now_page(database, call_id))
