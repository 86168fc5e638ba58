"""Read models of the booking pages: every text and number as the template places it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from flask import url_for

from triage.services.booking.days import Stretch, day_of, week_of
from triage.services.booking.offer import BookingOffer
from triage.services.booking.overview import BookingOfCall, VanDay, VisitOfCall
from triage.services.booking.vans import StoredVan
from triage.services.booking.visits import StoredVisit
from triage.services.calls.help import notes_for_technician
from triage.services.networks.scope import appliance_title
from webform.access import may_open
from webform.booking import texts
from webform.booking.forms import slot_value
from webform.desk import desk
from webform.formatting import minutes
from webform.forms import Ticket


@dataclass(frozen=True, slots=True)
class SlotShown:
    """A free time as a choice."""

    value: str
    label: str
    van: str


@dataclass(frozen=True, slots=True)
class DayOfSlots:
    """Free times of a day."""

    id: str
    title: str
    slots: tuple[SlotShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WhoOfOffer:
    """Whose call is booked, and how long the visit is to be."""

    call_id: int
    who: str
    appliance: str
    words: str
    proposed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BookScreen:
    """Everything the page with free times shows."""

    of: WhoOfOffer
    minutes: str
    days: tuple[DayOfSlots, ...]
    script: tuple[str, ...]
    later_url: str
    has_vans: bool
    who_url: str
    is_known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitLine:
    """A visit in the table of a day."""

    url: str
    time: str
    window: str
    who: str
    appliance: str
    address: str
    state: str
    late: str


@dataclass(frozen=True, slots=True)
class Block:
    """A piece of the strip that shows a day: where it begins and how long it is, in percent."""

    left: str
    width: str


@dataclass(frozen=True, slots=True)
class DayOfVan:
    """A van's day as a strip and as a table."""

    van: str
    technician: str
    day: str
    hours: str
    open_blocks: tuple[Block, ...]
    visit_blocks: tuple[Block, ...]
    lines: tuple[VisitLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayScreen:
    """Vans on a day, with the way to other days."""

    title: str
    before_url: str
    after_url: str
    other_url: str
    vans_url: str
    vans: tuple[DayOfVan, ...]


@dataclass(frozen=True, slots=True)
class WeekOfVan:
    """A van's week: what is booked on each day."""

    van: str
    days: tuple[tuple[VisitLine, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekScreen:
    """Vans over a week."""

    title: str
    before_url: str
    after_url: str
    day_links: tuple[tuple[str, str], ...]
    vans: tuple[WeekOfVan, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitScreen:
    """Everything the page of a visit shows."""

    visit_id: int
    call_id: int
    who: str
    appliance: str
    words: str
    address: str
    day: str
    time: str
    window: str
    van: str
    state: str
    late: str
    late_text: str
    note: str
    notes: tuple[str, ...]
    confirmation: str
    can_change: bool
    can_be_booked_again: bool
    booked_by: str
    ticket: Ticket


@dataclass(frozen=True, slots=True)
class VanLine:
    """A van in the list of vans; ``feed_url`` is the secret address of its calendar."""

    van: StoredVan
    feed_url: str


def who_of_offer(offer: BookingOffer) -> WhoOfOffer:
    """Say whose call is booked."""
    state = offer.booking.state
    return WhoOfOffer(
        call_id=state.call_id,
        who=offer.booking.customer.name if offer.booking.customer else state.caller,
        appliance=appliance_title(state.network_id),
        words=state.words,
        proposed=minutes(offer.proposed_minutes),
    )


def book_screen(offer: BookingOffer, vans: Sequence[StoredVan]) -> BookScreen:
    """Put the page with free times together."""
    state = offer.booking.state
    last = offer.days[-1].day if offer.days else _today()
    later = last + timedelta(days=1)
    return BookScreen(
        of=who_of_offer(offer),
        minutes=minutes(offer.minutes),
        days=slot_days(offer),
        script=offer.script,
        later_url=url_for(
            "booking.book", call_id=state.call_id, minutes=offer.minutes, day=later.isoformat()
        ),
        has_vans=bool(vans),
        who_url=url_for("intake.customer", call_id=state.call_id),
        is_known=offer.booking.customer is not None and bool(offer.booking.customer.street),
    )


def slot_days(offer: BookingOffer) -> tuple[DayOfSlots, ...]:
    """Free times, day by day."""
    return tuple(
        DayOfSlots(
            free.day.isoformat(),
            texts.day_in_words(free.day),
            tuple(
                SlotShown(slot_value(slot), texts.times(*_clock(slot.time)), slot.van)
                for slot in free.slots
            ),
        )
        for free in offer.days
    )


def day_screen(day: date, van_days: Iterable[VanDay]) -> DayScreen:
    """Put the page of a day together."""
    return DayScreen(
        title=texts.day_in_words(day),
        before_url=_day_url("booking.day", day - timedelta(days=1)),
        after_url=_day_url("booking.day", day + timedelta(days=1)),
        other_url=_day_url("booking.week", day),
        vans_url=url_for("booking.van_list") if may_open("booking.van_list") else "",
        vans=tuple(_day_of_van(one) for one in van_days),
    )


def week_screen(day: date, van_days: Sequence[VanDay]) -> WeekScreen:
    """Put the page of a week together."""
    days = week_of(day)
    names = {one.van.id: one.van.name for one in van_days}
    lines = {(one.van.id, one.day): tuple(map(visit_line, one.visits)) for one in van_days}
    return WeekScreen(
        title=f"{texts.short_day(days[0])} to {texts.short_day(days[-1])} {days[-1].year}",
        before_url=_day_url("booking.week", days[0] - timedelta(days=7)),
        after_url=_day_url("booking.week", days[0] + timedelta(days=7)),
        day_links=tuple((texts.short_day(one), _day_url("booking.day", one)) for one in days),
        vans=tuple(
            WeekOfVan(name, tuple(lines.get((van_id, one), ()) for one in days))
            for van_id, name in names.items()
        ),
    )


def visit_screen(shown: VisitOfCall, booking: BookingOfCall) -> VisitScreen:
    """Put the page of a visit together."""
    visit, line = shown.visit, visit_line(shown)
    return VisitScreen(
        visit_id=visit.id,
        call_id=visit.call_id,
        who=shown.who,
        appliance=shown.appliance,
        words=shown.state.words,
        address=line.address,
        day=texts.day_in_words(_day(visit)),
        time=line.time,
        window=line.window,
        van=visit.van + (f" ({visit.technician})" if visit.technician else ""),
        state=line.state,
        late=line.late,
        late_text=texts.late_text(_window(visit)) if visit.late_minutes else "",
        note=visit.note,
        notes=notes_for_technician(shown.state),
        confirmation=_confirmation(shown, booking),
        can_change=visit.state == "booked",
        can_be_booked_again=booking.live is None and not booking.is_closed,
        booked_by=visit.booked_by,
        ticket=Ticket.for_page(shown.state.version),
    )


def visit_line(shown: VisitOfCall) -> VisitLine:
    """Put a visit on a line."""
    visit = shown.visit
    return VisitLine(
        url=url_for("booking.visit", visit_id=visit.id),
        time=texts.times(_local(visit.starts_at), _local(visit.ends_at)),
        window=texts.times(_local(visit.window_starts_at), _local(visit.window_ends_at)),
        who=shown.who,
        appliance=shown.appliance,
        address=shown.address or texts.NO_ADDRESS,
        state=texts.STATES[visit.state],
        late=f"{visit.late_minutes} minutes late" if visit.late_minutes else "",
    )


def van_lines(vans: Iterable[StoredVan]) -> tuple[VanLine, ...]:
    """Vans with the addresses of their calendars."""
    return tuple(
        VanLine(van, url_for("booking.van_feed", secret=van.feed_secret, _external=True))
        for van in vans
    )


def _day_of_van(one: VanDay) -> DayOfVan:
    shown = one.open_times or (one.whole,)
    visits = [Stretch(two.visit.starts_at, two.visit.ends_at) for two in one.visits]
    frame = Stretch(
        min(two.begins for two in (*shown, *visits)), max(two.ends for two in (*shown, *visits))
    )
    return DayOfVan(
        van=one.van.name,
        technician=one.van.technician,
        day=texts.short_day(one.day),
        hours=", ".join(texts.times(*_clock(two)) for two in one.open_times) or texts.CLOSED,
        open_blocks=tuple(_block(two, frame) for two in one.open_times),
        visit_blocks=tuple(_block(two, frame) for two in visits),
        lines=tuple(visit_line(two) for two in one.visits),
    )


def _block(part: Stretch, frame: Stretch) -> Block:
    left = (part.begins - frame.begins) / frame.length
    return Block(f"{100 * left:.2f}%", f"{100 * (part.length / frame.length):.2f}%")


def _confirmation(shown: VisitOfCall, booking: BookingOfCall) -> str:
    visit, told = shown.visit, booking.promised
    until = _local(visit.starts_at - timedelta(hours=desk().desk_settings().cancel_hours))
    return texts.confirmation(
        shop=desk().shop_name(),
        appliance=shown.appliance,
        day=texts.day_in_words(_day(visit)),
        window=_window(visit),
        minutes=minutes(shown.minutes),
        price=str(told.get("price", "")),
        preparation=[str(one) for one in told.get("preparation", ())],
        cancel=texts.cancel_by(
            texts.day_in_words(until.date()), f"{until:%H:%M}", is_past=until < desk().clock()
        ),
    )


def _window(visit: StoredVisit) -> str:
    return texts.between(_local(visit.window_starts_at), _local(visit.window_ends_at))


def _day_url(endpoint: str, day: date) -> str:
    return url_for(endpoint, day=day.isoformat())


def _day(visit: StoredVisit) -> date:
    return day_of(visit.starts_at, desk().time_zone)


def _today() -> date:
    return day_of(desk().clock(), desk().time_zone)


def _local(moment: datetime) -> datetime:
    return moment.astimezone(desk().time_zone)


def _clock(stretch: Stretch) -> tuple[datetime, datetime]:
    return _local(stretch.begins), _local(stretch.ends)
