"""Play the story of the demo into a database, as if people had entered it one by one.

What the story has after now has not happened: a visit of this afternoon is booked and no more.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from triage.services.booking.in_force import desk_settings_of
from triage.services.booking.visits import (
    BookingRules,
    BookingWanted,
    SlotWanted,
    book_visit,
    cancel_visit,
    miss_visit,
    run_late,
)
from triage.services.call_log.events import CallOutcome
from triage.services.calls import calls
from triage.services.calls.calls import CallReport, Database, Entry
from triage.services.calls.help import answer_help
from triage.services.calls.intake import safety_check
from triage.services.closing.close import answer_safety_and_close, close_job, end_and_close
from triage.services.closing.draft import closing_draft
from triage.services.customers.records import add_customer, add_machine, link_customer
from triage.services.job.record import record
from triage.services.settings.hours import DeskSettings
from triage.services.shop.settings import current_front, current_settings
from webform.demo.shop import Stamps
from webform.demo.story import DemoCall, DemoCaller, DemoVisit

PREPARED = ("Make room to stand in front of the machine.", "Take the laundry out.")
PRICE = "Coming and finding the fault has a fixed price; you hear the price of the repair first."
DISPATCHER, TECHNICIANS = "Wren Ashby", ("Tarn Holloway", "Larke Merrow")
STEP = timedelta(minutes=6)  # between two entries of a visit
NOTICE = timedelta(minutes=50)  # between the word that one is late and the visit


@dataclass(frozen=True, slots=True)
class Player:
    """Where a story is played: database, now, the zone of the shop, numbers of its vans."""

    database: Database
    now: datetime
    zone: tzinfo
    vans: tuple[int, ...]
    stamps: Stamps

    @property
    def desk(self) -> DeskSettings:
        """Settings of the desk."""
        return desk_settings_of(self.database)

    def take(self, call: DemoCall) -> int:
        """Take a call the stated minutes ago, and play its visits; number of the call."""
        at = self.now - timedelta(minutes=call.minutes_ago)
        report = CallReport(network_id=call.appliance, caller=call.caller, words=call.words)
        call_id = calls.open_call(self.database, report, self._entry(at))
        if call.who is not None:
            self.link(call_id, call.who, call.appliance, at)
        if call.is_asked:
            self._ask(call_id, call, at)
        for visit in call.visits:
            self._visit(call_id, visit, at)
        return call_id

    def link(self, call_id: int, who: DemoCaller, appliance: str, at: datetime) -> None:
        """Put somebody on record and say that a call is theirs."""
        region = self.desk.phone_region
        found = add_customer(self.database, who.customer(), region, self._entry(at))
        machine = who.machine(appliance, self.now.year)
        machine_id = add_machine(self.database, found.id, machine, self._entry(at))
        link_customer(self.database, call_id, found.id, machine_id, self._next(call_id, at))

    def _ask(self, call_id: int, call: DemoCall, at: datetime) -> None:
        database = self.database
        check = safety_check(database, call_id)
        answers = {asked.flag.id: asked.flag.id in call.dangers for asked in check.questions}
        entry, settings = self._next(call_id, at), current_settings(database)
        front = current_front(database)
        answer_safety_and_close(database, call_id, answers, entry, settings=settings, front=front)
        if call.help is not None:
            answer_help(database, call_id, call.help, self.desk, self._next(call_id, at))
        if call.signs:
            calls.confirm_signs(database, call_id, call.signs, self._next(call_id, at))
        for observation, answer in call.answers.items():
            entry = self._next(call_id, at)
            calls.answer_question(database, call_id, observation, answer, entry)
        if call.outcome is not None:
            self._end(call_id, call.outcome, call.note, at)

    def _end(self, call_id: int, outcome: CallOutcome, note: str, at: datetime) -> None:
        settings, front = current_settings(self.database), current_front(self.database)
        end_and_close(
            self.database,
            call_id,
            outcome,
            note,
            self._next(call_id, at),
            settings=settings,
            front=front,
        )

    def _visit(self, call_id: int, visit: DemoVisit, called_at: datetime) -> None:
        begins = visit.begins(self.now, self.zone)
        wanted = BookingWanted(
            call_id=call_id,
            slot=SlotWanted(
                van_id=self.vans[visit.van],
                starts_at=begins,
                minutes=visit.minutes,
                outside_hours=True,  # the demo has its week whatever day it is
            ),
            note=visit.note,
            promised={"minutes": visit.minutes, "price": PRICE, "preparation": list(PREPARED)},
        )
        rules = BookingRules(self.desk, self.zone)
        booked_at = min(called_at, begins)
        number = book_visit(self.database, wanted, rules, self._next(call_id, booked_at))
        if visit.cancelled:
            entry = self._next(call_id, min(self.now, begins - NOTICE))
            cancel_visit(self.database, number, visit.cancelled, entry)
        if visit.late_minutes:
            entry = self._next(call_id, min(self.now, begins - NOTICE))
            run_late(self.database, number, visit.late_minutes, entry)
        if visit.is_missed and begins <= self.now:
            entry = self._next(call_id, begins, TECHNICIANS[visit.van])
            miss_visit(self.database, number, entry)
        self._work(call_id, visit, begins)

    def _work(self, call_id: int, visit: DemoVisit, begins: datetime) -> None:
        by, at = TECHNICIANS[visit.van], begins
        for event, at in zip(visit.events, _times(begins), strict=False):
            if at > self.now:
                return
            record(self.database, call_id, event, self._next(call_id, at, by))
        if visit.is_closed and at <= self.now:
            self._close(call_id, at + STEP, by)

    def _close(self, call_id: int, at: datetime, by: str) -> None:
        settings, front = current_settings(self.database), current_front(self.database)
        given = closing_draft(self.database, call_id, settings, at).given
        entry = self._next(call_id, at, by)
        close_job(self.database, call_id, given, entry, settings=settings, front=front)

    def _entry(self, at: datetime, by: str = DISPATCHER, version: int = 0) -> Entry:
        return self.stamps.entry(at, by, version)

    def _next(self, call_id: int, at: datetime, by: str = DISPATCHER) -> Entry:
        return self._entry(at, by, calls.find_call(self.database, call_id).version)


def _times(begins: datetime) -> Iterator[datetime]:
    at = begins
    while True:
        yield at
        at += STEP
