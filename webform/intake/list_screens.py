"""Read models of the list of calls and of the page of a new call."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from flask import url_for

from triage.services.call_lists import CallPlace, FoundCalls, ListedCall
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import CallStep, step_of
from triage.services.customers.calls import CallStart
from triage.services.networks.scope import appliance_title
from webform.customers.screens import FoundLine, found_lines, machine_line
from webform.desk import desk
from webform.formatting import day_and_time
from webform.intake import texts


@dataclass(frozen=True, slots=True)
class CallLine:
    """A call in a list; ``url`` is where to go on with it, ``last`` who entered something last."""

    url: str
    call_id: int
    who: str
    appliance: str
    words: str
    status: str
    opened_at: datetime
    last: str


@dataclass(frozen=True, slots=True)
class CallSection:
    """A list of calls that wait for the same, and what to say if there is none."""

    title: str
    lines: tuple[CallLine, ...]
    none: str


@dataclass(frozen=True, slots=True)
class CallListScreen:
    """Lists of calls; ``search`` is what was looked for, empty on the desk's own page.

    ``newer`` and ``older`` are addresses of the pages beside it, empty where there is none.
    """

    sections: tuple[CallSection, ...]
    search: str = ""
    newer: str = ""
    older: str = ""


@dataclass(frozen=True, slots=True)
class NewCallScreen:
    """Who is calling if it is known, and who was found."""

    customer: str
    machine: str
    linked_to: int
    search: str
    found: tuple[tuple[str, FoundLine], ...]


def found_calls_screen(found: FoundCalls, search: str) -> CallListScreen:
    """Put a page of what a search found together."""
    title = texts.found_calls(found.count, found.page, found.pages)
    lines = tuple(call_line(one) for one in found.lines)
    section = CallSection(title, lines, texts.NOT_FOUND.format(search=search))
    newer, older = (
        url_for("intake.call_list", q=search, page=page) if 1 <= page <= found.pages else ""
        for page in (found.page - 1, found.page + 1)
    )
    return CallListScreen((section,), search, newer, older)


def call_list_screen(found: Iterable[ListedCall]) -> CallListScreen:
    """Put the page with the lists of the desk together."""
    listed = tuple(found)
    sections = []
    for place, (title, none) in texts.PLACES.items():
        lines = tuple(call_line(one) for one in listed if one.place is place)
        if lines or none:
            sections.append(CallSection(title, lines, none))
    return CallListScreen(tuple(sections))


def call_line(listed: ListedCall) -> CallLine:
    """Put a call on a line."""
    state = listed.state
    return CallLine(
        url=_next_page(listed),
        call_id=state.call_id,
        who=listed.customer.name if listed.customer else state.caller,
        appliance=appliance_title(state.network_id),
        words=state.words,
        status=_status(listed),
        opened_at=state.opened_at,
        last=_last(state.last_by, state.last_at) if state.is_open else "",
    )


def new_call_screen(start: CallStart, search: str) -> NewCallScreen:
    """Put together what stands around the form of a new call."""
    customer = start.customer
    machines = customer.machines if customer else ()
    machine = next((one for one in machines if one.id == start.machine_id), None)
    found = tuple((_begin_url(line, start), line) for line in found_lines(start.found))
    return NewCallScreen(
        customer.name if customer else "",
        machine_line(machine) if machine else "",
        start.linked_to,
        search,
        found,
    )


def _begin_url(line: FoundLine, start: CallStart) -> str:
    customer, machine = line.value.split()
    return url_for(
        "intake.new_call", customer=customer, machine=machine, linked=start.linked_to or None
    )


def _next_page(listed: ListedCall) -> str:
    if listed.place in (CallPlace.TO_BOOK, CallPlace.PART_AWAITED):
        return url_for("booking.book", call_id=listed.state.call_id)
    if listed.place is CallPlace.BOOKED and listed.visit is not None:
        return url_for("booking.visit", visit_id=listed.visit.id)
    return url_for("intake.resume", call_id=listed.state.call_id)


def _status(listed: ListedCall) -> str:
    state, visit = listed.state, listed.visit
    if listed.place is CallPlace.BOOKED and visit is not None:
        return texts.VISIT_AT.format(when=day_and_time(visit.starts_at), van=visit.van)
    if listed.place in texts.WAITING:
        return texts.WAITING[listed.place]
    step = step_of(desk().database, state)
    if step is CallStep.ENDED and state.outcome is not None:
        return texts.OUTCOMES[CallOutcome(state.outcome.outcome)]
    return texts.STATUS[step]


def _last(by: str, at: datetime | None) -> str:
    """Who is probably at a call: who entered something last, and how long ago."""
    if at is None:
        return ""
    minutes = int((desk().clock() - at) / timedelta(minutes=1))
    if minutes < 1:
        return f"{by}, just now"
    if minutes < 60:
        return f"{by}, {minutes} min ago"
    return f"{by}, {day_and_time(at)}"
