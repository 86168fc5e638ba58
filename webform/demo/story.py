"""What can stand in the story of the demo: callers with their machines, calls, visits.

Times of a visit are hours by the clock of the shop on a day counted from today. Today's visits are
counted from ``hour_of`` instead: somewhere in the working day, near to now.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo

from triage.services.call_log.events import CallOutcome, HelpAsked
from triage.services.customers.records import CustomerEntered, MachineEntered
from triage.services.job.events import JobEvent

WASHER = "top_load_washer"
TOWN = "Larkham Hollow"
EARLIEST_HOUR, LATEST_HOUR = 10.5, 13.5


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoCaller:
    """An invented customer with a machine; ``number`` makes a telephone number of fiction."""

    name: str
    number: int
    street: str
    town: str = TOWN
    notes: str = ""
    age: int | None = None
    drive: str = ""
    plate: str = ""
    place: str = ""

    def customer(self) -> CustomerEntered:
        """What is on record of the customer."""
        return CustomerEntered(
            name=self.name,
            phone=phone(self.number),
            street=self.street,
            town=self.town,
            notes=self.notes,
        )

    def machine(self, appliance: str, year: int) -> MachineEntered:
        """What is on record of the machine."""
        bought = None if self.age is None else year - self.age
        return MachineEntered(
            network_id=appliance,
            drive=self.drive,
            bought_year=bought,
            plate_text=self.plate,
            place=self.place,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoVisit:
    """A visit: on which day and at which hour, what was done, how it stands.

    ``events`` happen a few minutes apart from the arrival on. ``is_closed`` closes the job as the
    program proposes it.
    """

    van: int
    day: int
    hour: float
    minutes: int = 60
    late_minutes: int = 0
    cancelled: str = ""
    is_missed: bool = False
    events: Sequence[JobEvent] = ()
    is_closed: bool = False
    note: str = ""

    def begins(self, now: datetime, zone: tzinfo) -> datetime:
        """When the visit is to begin."""
        local = now.astimezone(zone)
        midnight = local.replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
        hour = self.hour + (hour_of(local) if self.day == 0 else 0.0)
        return (midnight + timedelta(days=self.day, hours=hour)).replace(tzinfo=zone)


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoCall:
    """An invented call: who, what was said, which dangers, signs and answers, how it went on."""

    caller: str
    words: str
    minutes_ago: int
    appliance: str = WASHER
    is_asked: bool = True
    dangers: Sequence[str] = ()
    signs: Sequence[str] = ()
    answers: Mapping[str, str] = field(default_factory=dict)
    help: HelpAsked | None = None
    outcome: CallOutcome | None = None
    note: str = ""
    who: DemoCaller | None = None
    visits: Sequence[DemoVisit] = ()


def phone(number: int) -> str:
    """Telephone number of fiction: 555-0100 to 555-0199 belong to nobody.

    >>> phone(7)
    '(202) 555-0107'
    """
    assert 0 <= number <= 99, "only a hundred numbers are kept for fiction"
    return f"(202) 555-01{number:02d}"


def hour_of(local: datetime) -> float:
    """Hour of the working day nearest to now, by half hours.

    >>> [hour_of(datetime(2026, 3, 2, hour, 50)) for hour in (3, 11, 22)]
    [10.5, 11.5, 13.5]
    """
    now = (local.hour * 60 + local.minute) // 30 / 2
    return min(max(now, EARLIEST_HOUR), LATEST_HOUR)
