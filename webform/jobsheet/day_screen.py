"""Read models of the day of a van, and of the jobs that wait for parts."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from flask import url_for

from triage.services.job.day import (
    DayVisit,
    StoredCustomer,
    TechnicianDay,
    VisitStanding,
    WaitingJob,
)
from triage.services.networks.labels import titles_of_call
from triage.services.networks.scope import appliance_title
from triage.services.plan.load import LoadEntry
from webform.access import may_open
from webform.desk import desk
from webform.formatting import minutes, money, nowrap, percent
from webform.forms import Ticket
from webform.jobsheet import texts
from webform.jobsheet.refusal import PIECES


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitShown:
    """A visit of the day."""

    number: int
    url: str
    name: str
    appliance: str
    address: str
    window: str
    minutes: str
    standing: str
    mark: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadShown:
    """An item of the load list with its tick; ``field`` names it in the form."""

    id: str
    field: str
    take: str
    title: str
    where: str
    visits: str
    reason: str


@dataclass(frozen=True, slots=True)
class VanLink:
    """A van that can be chosen."""

    name: str
    url: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class DayLink:
    """Another day of the same van."""

    name: str
    url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayScreen:
    """Everything the page of a day shows."""

    heading: str
    shown_at: str
    ticket: Ticket
    van: str
    van_id: int
    driver: str
    vans: tuple[VanLink, ...]
    days: tuple[DayLink, ...]
    visits: tuple[VisitShown, ...]
    take: tuple[LoadShown, ...]
    check: tuple[LoadShown, ...]
    load_facts: tuple[str, ...]
    asks: tuple[str, ...]
    keep: tuple[str, ...]
    stock_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingShown:
    """A job that waits for parts."""

    url: str
    book_url: str
    title: str
    appliance: str
    parts: tuple[str, ...]
    is_ready: bool


def day_screen(found: TechnicianDay, now: datetime) -> DayScreen:
    """Put the page of a day together."""
    local = now.astimezone(desk().time_zone)
    heading = texts.TODAY if found.day == local.date() else f"{found.day:%A, %d %B}"
    load = found.load
    van_id = found.van.id if found.van else 0
    return DayScreen(
        heading=heading,
        shown_at=f"{local:%H:%M}",
        ticket=Ticket.for_page(0),
        van=found.van.name if found.van else "",
        van_id=van_id,
        driver=found.van.technician if found.van else "",
        vans=tuple(
            VanLink(van.name, _day_url(found.day, van.id, local.date()), van.id == van_id)
            for van in found.vans
        ),
        days=tuple(_other_days(found.day, van_id, local.date())),
        visits=tuple(_visit(place, one) for place, one in enumerate(found.visits, start=1)),
        take=tuple(_load(one, found) for one in (load.take if load else ())),
        check=tuple(_load(one, found) for one in (load.check if load else ())),
        load_facts=_facts(found),
        asks=tuple(ask for visit in (load.visits if load else ()) for ask in visit.asks),
        keep=_keep(found),
        stock_url=url_for("jobsheet.van_stock", van_id=van_id) if van_id else "",
    )


def _other_days(day: date, van_id: int, today: date) -> Iterator[DayLink]:
    one = timedelta(days=1)
    yield DayLink(texts.DAY_BEFORE, _day_url(day - one, van_id, today))
    yield DayLink(texts.DAY_AFTER, _day_url(day + one, van_id, today))
    if day != today:
        yield DayLink(texts.TODAY, _day_url(today, van_id, today))


def _day_url(day: date, van_id: int, today: date) -> str:
    """Address of a van's day; today's stays today's when it is opened tomorrow."""
    on = None if day == today else day.isoformat()
    return url_for("jobsheet.day", van=van_id or None, on=on)


def waiting_screen(found: Iterable[WaitingJob]) -> tuple[WaitingShown, ...]:
    """Put the list of waiting jobs together."""
    return tuple(_waiting(one) for one in found)


def _visit(number: int, one: DayVisit) -> VisitShown:
    zone = desk().time_zone
    begins, ends = (
        moment.astimezone(zone) for moment in (one.visit.window_starts_at, one.visit.window_ends_at)
    )
    name = one.customer.name if one.customer else one.job.call.caller
    standing = texts.STANDINGS[one.standing]
    if one.standing is VisitStanding.LATE and one.is_next:
        standing = f"{standing}, {texts.STANDINGS[VisitStanding.NEXT].lower()}"
    return VisitShown(
        number=number,
        url=url_for("jobsheet.job", call_id=one.visit.call_id),
        name=name,
        appliance=appliance_title(one.job.call.network_id),
        address=_address(one.customer),
        window=f"{begins:%H:%M} to {ends:%H:%M}",
        minutes=minutes(one.minutes),
        standing=standing,
        mark=one.standing.value.replace("_", "-"),
        note=one.visit.note,
    )


def _address(customer: StoredCustomer | None) -> str:
    if customer is None:
        return ""
    return ", ".join(one for one in (customer.street, customer.town) if one)


def _load(entry: LoadEntry, found: TechnicianDay) -> LoadShown:
    title = f"{entry.part.title}, {entry.number}" if entry.number else entry.part.title
    numbers = {visit.visit.id: place for place, visit in enumerate(found.visits, start=1)}
    places = [str(numbers[found.loaded_visits[one - 1].visit.id]) for one in entry.visits]
    field = f"{PIECES}{entry.part.id}:{entry.number}"
    return LoadShown(
        id=f"{entry.part.id}-{entry.number or entry.appliance}".replace(" ", "-"),
        field=field,
        take=str(max(1, entry.take)),
        title=texts.pieces(max(1, entry.take), title),
        where=entry.where,
        visits=", ".join(places),
        reason=nowrap(entry.reason[:1].upper() + entry.reason[1:]),
    )


def _facts(found: TechnicianDay) -> tuple[str, ...]:
    if found.load is None:
        return ()
    whole = 1.0
    for visit in found.load.visits:
        whole *= visit.fill_rate
    return (
        f"All parts aboard for every visit with {percent(whole)} probability.",
        f"What is taken costs the shop {money(found.load.parts_cost_minor, found.load.currency)}.",
    )


def _keep(found: TechnicianDay) -> tuple[str, ...]:
    """Addresses that a device keeps for when there is no signal."""
    sheets = [url_for("jobsheet.job", call_id=one.visit.call_id) for one in found.visits]
    kinds = dict.fromkeys(
        (one.job.call.network_id, one.job.call.network_version) for one in found.visits
    )
    steps = [url_for("jobsheet.steps", name=kind, version=version) for kind, version in kinds]
    return (*dict.fromkeys(sheets), *steps)


def _waiting(one: WaitingJob) -> WaitingShown:
    state = one.job
    titles = titles_of_call(desk().database, state.call.network_id, state.call.network_version)
    name = one.customer.name if one.customer else state.call.caller
    is_ready = not state.waiting_for
    book = "booking.book"
    return WaitingShown(
        url=url_for("jobsheet.job", call_id=state.call.call_id),
        book_url=url_for(book, call_id=state.call.call_id) if is_ready and may_open(book) else "",
        title=texts.job_title(state.call.call_id, name),
        appliance=appliance_title(state.call.network_id),
        parts=tuple(
            texts.waiting_for(
                texts.pieces(order.pieces, titles.get(order.part, texts.UNKNOWN_PART)),
                f"{order.expected_on:%a %d %b}",
                order.arrived_at is not None,
            )
            for order in state.orders
        ),
        is_ready=is_ready,
    )
