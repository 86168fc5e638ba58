"""Which entries of the settings stand on which form, in groups for people."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from triage.network.values import FaultNetwork
from triage.services.networks.engines import engine_for, network_choices
from triage.services.settings.hours import DEFAULT_DESK
from triage.services.settings.schema import MOST_MINUTES, MOST_MONEY, MOST_STOCK, SETTINGS, Setting
from triage.services.shop.settings_data import KeyPath


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An entry of the settings as a field.

    ``kind`` is ``number``, ``whole``, ``text``, ``long`` (several lines), ``choice``, ``ticks`` or
    ``list`` (one entry a line). ``choices`` are value and text.
    """

    path: KeyPath
    label: str
    hint: str = ""
    kind: str = "number"
    low: float = 0
    high: float = 0
    most: int = 0
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def name(self) -> str:
        """Name of the field."""
        return ".".join(self.path)


@dataclass(frozen=True, slots=True)
class Group:
    """Entries under one heading."""

    title: str
    sentence: str
    entries: tuple[Entry, ...]


WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
UNITS = (("us", "Inches, feet, gallons, Fahrenheit"), ("si", "Metres, litres, Celsius"))
DATES = (
    ("day_first", "2 Mar 2026"),
    ("month_first", "Mar 2, 2026"),
    ("iso", "2026-03-02"),
)
TAXED = (("fee", "Fee"), ("labour", "Work"), ("parts", "Parts"))

SHOP = Group(
    "Shop",
    "Stands on every page and on invoices.",
    (
        Entry(path=("shop", "name"), label="Name", kind="text", most=80),
        Entry(path=("shop", "address"), label="Address", kind="long", most=300),
        Entry(path=("currency",), label="Currency", hint="Three capitals, such as USD", kind="text",
              most=3),
        Entry(path=("shop", "dates"), label="How days are written", kind="choice", choices=DATES),
        Entry(path=("shop", "units"), label="Units of readings and lengths", kind="choice",
              choices=UNITS),
        Entry(path=("source",), label="Where your own numbers come from",
              hint="Such as our books, 2025", kind="text", most=200),
    ),
)  # fmt: skip
TAX = Group(
    "Tax",
    "Rates and what they are on differ from place to place; ask who knows yours.",
    (
        Entry(path=("tax", "rate"), label="Rate in percent", high=30),
        Entry(path=("tax", "on"), label="Taxed", kind="ticks", choices=TAXED),
        Entry(path=("tax", "name"), label="Name on the invoice", kind="text", most=40),
    ),
)


def _usual(name: str) -> str:
    return f"{getattr(DEFAULT_DESK, name):g} if empty"


DESK = Group(
    "Opening hours and booking",
    "Times such as 08:00-17:00; with a break 08:00-12:00, 13:00-17:00. Empty is closed.",
    (
        *(
            Entry(path=("desk", "opening_hours", day), label=day.capitalize(), kind="list")
            for day in WEEKDAYS
        ),
        Entry(path=("desk", "service_area"), label="Service area",
              hint="Beginnings of postcodes or names of towns; empty asks nobody", kind="list"),
        Entry(path=("desk", "window_minutes"), label="Window told to the customer, minutes",
              hint=_usual("window_minutes"), kind="whole", low=15, high=600),
        Entry(path=("desk", "travel_minutes"), label="Way between visits, minutes",
              hint=_usual("travel_minutes"), kind="whole", high=240),
        Entry(path=("desk", "slot_step_minutes"), label="Slots begin every so many minutes",
              hint=_usual("slot_step_minutes"), kind="whole", low=5, high=120),
        Entry(path=("desk", "days_ahead"), label="Days ahead that are offered",
              hint=_usual("days_ahead"), kind="whole", low=1, high=60),
        Entry(path=("desk", "cancel_hours"), label="Free of charge until so many hours before",
              hint=_usual("cancel_hours"), kind="whole", high=168),
        Entry(path=("desk", "callback_days"), label="A call within so many days may be a call-back",
              hint=_usual("callback_days"), kind="whole", low=1, high=730),
        Entry(path=("desk", "phone_region"), label="Country of phone numbers",
              hint="Two capitals, such as US", kind="text", most=2),
    ),
)  # fmt: skip
LABELS: Mapping[str, str] = {
    "costs.technician_per_hour": "Technician, an hour",
    "costs.dispatcher_per_hour": "Dispatcher, an hour",
    "costs.customer_per_hour": "Customer's time, an hour",
    "costs.return_trip": "Coming again",
    "costs.carry_part": "Part carried in vain",
    "costs.wrong_no_fault": "Broken machine called sound",
    "prices.service_fee": "Service fee",
    "prices.labour_per_hour": "Work, an hour",
    "prices.part_mark_up": "Mark-up of parts",
    "visit.trip_minutes": "Way to the customer, minutes",
    "visit.verification_minutes": "Check run, minutes",
    "visit.minutes_spread": "Spread of the minutes of a step",
    "shares.ordered_part_sent_back": "Ordered part sent back",
    "shares.worth_repairing": "Worth repairing",
    "shares.quote_declined": "Quotes declined",
    "warranty.labour_days": "Work, days",
    "warranty.parts_days": "Parts, days",
}
TITLES: Mapping[str, tuple[str, str]] = {
    "prices": ("Prices", "What the customer pays."),
    "costs": ("Costs", "What it costs the shop, and what the customer's time counts for. These rank"
              " causes and tests; prices do not."),
    "visit": ("Visit", "Time on the way and for the check run, and how much times vary."),
    "shares": ("Shares", "As shares of one: 0.2 is one of five."),
    "warranty": ("Guarantee", "How long own work and parts are guaranteed."),
}  # fmt: skip


def main_groups(currency: str) -> tuple[Group, ...]:
    """Groups of the main form."""
    return (
        SHOP,
        _numbers("prices", currency),
        TAX,
        _numbers("costs", currency),
        _numbers("visit", currency),
        _numbers("warranty", currency),
        DESK,
        *_new_machines(),
        _numbers("shares", currency),
        Group(
            "Left unrepaired",
            "What leaving a machine unrepaired counts as: a share of a new one, or a cost.",
            (
                Entry(path=("unrepaired", "share_of_new_machine"), label="Share", high=1),
                Entry(path=("unrepaired", "cost"), label="Cost", high=MOST_MONEY),
            ),
        ),
    )


def part_groups() -> tuple[Group, ...]:
    """Groups of the form of parts: one part each, in the order of their titles."""
    parts = {part.id: part for network in _networks() for part in network.parts.values()}
    return tuple(
        Group(
            part.title,
            f"Costs {part.cost[0] / 100:g} to {part.cost[1] / 100:g} if nothing is entered.",
            (
                Entry(path=("parts", part.id, "price"), label="Price", high=MOST_MONEY),
                Entry(path=("parts", part.id, "cost"), label="Cost", high=MOST_MONEY),
                Entry(path=("parts", part.id, "stock"), label="On the van", kind="whole",
                      high=MOST_STOCK),
            ),
        )
        for part in sorted(parts.values(), key=lambda part: part.title)
    )  # fmt: skip


def minute_groups(appliance: str) -> tuple[Group, ...]:
    """Groups of the form of minutes of one appliance: its repairs, then its tests and questions."""
    network = engine_for(appliance).network
    repairs = ((entry.id, entry.title, entry.minutes) for entry in network.repairs.values())
    looks = ((entry.id, entry.title, entry.minutes) for entry in network.observations.values())
    return (
        Group("Repairs", "Labour of one repair.", tuple(_minutes("repairs", repairs))),
        Group("Tests and questions", "", tuple(_minutes("observations", looks))),
    )


def _minutes(section: str, rows: Iterable[tuple[str, str, float]]) -> Iterator[Entry]:
    for name, title, usual in rows:
        yield Entry(
            path=("minutes", section, name),
            label=title,
            hint=f"{usual:g} if empty",
            low=0.1,
            high=MOST_MINUTES,
        )


def _networks() -> Iterator[FaultNetwork]:
    for name, _ in network_choices():
        yield engine_for(name).network


def _numbers(section: str, currency: str) -> Group:
    title, sentence = TITLES[section]
    found = tuple(_number(setting, currency) for setting in SETTINGS if setting.section == section)
    return Group(title, sentence, found)


def _number(setting: Setting, currency: str) -> Entry:
    unit = setting.unit.replace("currency", currency)
    return Entry(
        path=(setting.section, setting.name),
        label=LABELS.get(setting.key, setting.name.replace("_", " ").capitalize()),
        hint=f"{setting.meaning[0].upper()}{setting.meaning[1:]}; {unit}. "
        f"{setting.default:g} if empty",
        kind="whole" if setting.is_whole else "number",
        low=setting.low,
        high=setting.high,
    )


def _new_machines() -> Iterator[Group]:
    for name, title in network_choices():
        path = ("new_machines", name)
        yield Group(
            f"New machine: {title.lower()}",
            "",
            (
                Entry(path=(*path, "price"), label="Price", low=1, high=MOST_MONEY),
                Entry(path=(*path, "installation"), label="Bringing it in, the old one away",
                      high=MOST_MONEY),
                Entry(path=(*path, "life_years"), label="Years it lasts", low=1, high=50),
            ),
        )  # fmt: skip
