"""Customers, vans and a visit of the demo shop: all invented."""

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from uuid import uuid4

from triage.services.booking.hours import DEFAULT_DESK
from triage.services.booking.slots import next_free_days
from triage.services.booking.vans import VanEntered, add_van, drivers
from triage.services.booking.visits import BookingRules, BookingWanted, SlotWanted, book_visit
from triage.services.calls import Database, Entry, Submission, find_call
from triage.services.customers.calls import put_on_record
from triage.services.customers.records import CustomerEntered, MachineEntered

BY = "demo"
VANS = ("North van", "South van")
PREPARED = ("Make room to stand in front of the machine.", "Take the laundry out.")
PRICE = "Coming and finding the fault has a fixed price; you hear the price of the repair first."


@dataclass(frozen=True, slots=True)
class DemoCustomer:
    """An invented customer whose call has a number in the demo."""

    call_id: int
    customer: CustomerEntered
    machine: MachineEntered


CUSTOMERS = (
    DemoCustomer(
        1,
        CustomerEntered(
            name="Maren Oakhill",
            phone="(202) 555-0143",
            street="Heron Lane 4, the blue door",
            town="Larkham Hollow",
            notes="Dog in the yard.",
        ),
        MachineEntered(
            network_id="top_load_washer", drive="clutch", bought_year=2017, place="utility room"
        ),
    ),
    DemoCustomer(
        6,
        CustomerEntered(
            name="Ilse Brandvold",
            phone="(202) 555-0178",
            street="Weathercock House",
            town="Larkham Hollow",
        ),
        MachineEntered(network_id="gas_dryer", bought_year=2011, place="cellar"),
    ),
)


def add_desk(database: Database, now: datetime, zone: tzinfo) -> None:
    """Put the customers on record, add the vans, book the visit of the first call."""
    for one in CUSTOMERS:
        page = _page(database, one.call_id, now)
        put_on_record(database, one.call_id, one.customer, one.machine, "US", page)
    technicians = [number for number, _ in drivers(database)] or [0]
    for place, name in enumerate(VANS):
        driver = technicians[place] if place < len(technicians) else 0
        add_van(database, VanEntered(name=name, technician_id=driver), _entry(0, now))
    days = next_free_days(database, DEFAULT_DESK, zone, 90, now=now + timedelta(hours=12))
    if not days:
        return
    slot = days[0].slots[len(days[0].slots) // 3]
    wanted = BookingWanted(
        call_id=1,
        slot=SlotWanted(van_id=slot.van_id, starts_at=slot.time.begins, minutes=90),
        note="Dog in the yard.",
        promised={"minutes": 90, "price": PRICE, "preparation": list(PREPARED)},
    )
    book_visit(database, wanted, BookingRules(DEFAULT_DESK, zone), _page(database, 1, now))


def _page(database: Database, call_id: int, now: datetime) -> Entry:
    return _entry(find_call(database, call_id).version, now)


def _entry(version: int, now: datetime) -> Entry:
    return Entry(submission=Submission(uuid4().hex, version), at=now, by=BY)
