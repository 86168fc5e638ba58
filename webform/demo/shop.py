"""The demo shop itself: settings, vans with their stock, a recall. All of it is invented."""

from collections.abc import Iterator
from datetime import datetime

from triage.services.booking.vans import VanEntered, add_van, drivers, find_vans
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.job.stock import StockLine, count_stock, van_stock
from triage.services.people.audit import Stamp
from triage.services.shop.plates import add_recall
from triage.services.shop.settings import current_settings, save_settings

SHOP = "The Quiet Drum, Larkham Hollow"
BY = "demo"
VANS = ("North van", "South van")
EMPTY_EVERY = 9  # every ninth piece of a van is used up, so that there is something to refill
REASON = "First settings of the demo shop."
PLATE, RECALL, RECALL_SOURCE = (
    "DEMO 77",
    "Invented for the demo: the lid switch of these machines is replaced free of charge. "
    "Unplug the machine until then.",
    "Invented for the demo",
)
SETTINGS_TEXT = """\
format: 1
currency: USD
source: invented for the demo
shop:
  name: The Quiet Drum
  address: 12 Tanner Row, Larkham Hollow (invented)
  units: us
  dates: month_first
tax: {name: Sales tax, rate: 6.25, on: [parts]}
prices: {service_fee: 95, labour_per_hour: 104}
desk:
  service_area: [Larkham Hollow, Mill End, Weirside, Upper Tarrow]
  opening_hours:
    monday: ["08:00-17:00"]
    tuesday: ["08:00-17:00"]
    wednesday: ["08:00-17:00"]
    thursday: ["08:00-17:00"]
    friday: ["08:00-17:00"]
    saturday: ["08:00-13:00"]
"""


class Stamps:
    """Stamps of what the demo enters, with ids that are the same in every demo."""

    def __init__(self) -> None:
        self._number = 0

    def entry(self, at: datetime, by: str = BY, version: int = 0) -> Entry:
        """Next entry, by somebody at a time, on a page that showed a version."""
        self._number += 1
        return Entry(submission=Submission(f"demo-{self._number}", version), at=at, by=by)


def set_up_shop(database: Database, at: datetime, stamps: Stamps) -> tuple[int, ...]:
    """Save the settings, add the vans with their stock and a recall; numbers of the vans."""
    save_settings(database, SETTINGS_TEXT, REASON, stamps.entry(at))
    add_recall(database, PLATE, RECALL, RECALL_SOURCE, Stamp(at, BY))
    technicians = [number for number, _ in drivers(database)] or [0]
    for place, name in enumerate(VANS):
        driver = technicians[place] if place < len(technicians) else 0
        add_van(database, VanEntered(name=name, technician_id=driver), stamps.entry(at))
    settings = current_settings(database)
    numbers = tuple(van.id for van in find_vans(database))
    for van_id in numbers:
        counts = dict(_counts(van_stock(database, van_id, settings).lines))
        count_stock(database, van_id, counts, settings, stamps.entry(at))
    return numbers


def _counts(lines: tuple[StockLine, ...]) -> Iterator[tuple[str, int]]:
    for place, line in enumerate(lines, start=1):
        yield line.id, 0 if place % EMPTY_EVERY == 0 else max(1, line.wanted)
