"""Closed jobs for the owner: a list page by page, and one job in full, promise against outcome."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from triage.network.values import Observation
from triage.services.booking.promise import promised_of
from triage.services.calls.calls import Database
from triage.services.closing.keeping import given_of
from triage.services.closing.story import Story, story_of
from triage.services.closing.values import ClosingGiven, Promised
from triage.services.networks.in_use import network_of_call
from triage.services.networks.labels import title_of, titles_of_call, titles_of_versions
from triage.store.calls import StoredCall, read_call
from triage.store.closings import (
    ClosingFilter,
    StoredClosing,
    called_back,
    count_closings,
    list_closings,
    people_who_closed,
    read_closing,
)

__all__ = ["ClosedPage", "ClosingFilter", "JobInFull", "closed_page", "job_in_full"]

PAGE_LENGTH = 50  # jobs


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedLine:
    """A closed job in the list; ``causes`` are titles."""

    call_id: int
    network_id: str
    caller: str
    outcome: str
    causes: tuple[str, ...]
    is_unsure: bool
    total_minor: int
    currency: str
    closed_at: datetime
    closed_by: str
    is_callback: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedPage:
    """A page of closed jobs, newest first; pages count from 1. ``people`` closed some."""

    lines: tuple[ClosedLine, ...]
    count: int
    page: int
    pages: int
    people: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobInFull:
    """A closed job: what was promised, what happened, and what each name means.

    ``rank`` is the place that the first cause had at the end of the call, None if it was not among
    the first or is not known. ``was_aboard`` holds if every part that was fitted was aboard.
    """

    closing: StoredClosing
    call: StoredCall
    story: Story
    given: ClosingGiven
    promised: Promised | None
    titles: Mapping[str, str]
    observations: Mapping[str, Observation]
    rank: int | None
    was_aboard: bool
    followed_by: StoredClosing | None


def closed_page(database: Database, wanted: ClosingFilter, *, page: int = 1) -> ClosedPage:
    """Page of the closed jobs that pass a filter; a page that is not there gives the nearest."""
    with database.reading() as session:
        count = count_closings(session, wanted)
        pages = max(1, -(-count // PAGE_LENGTH))
        page = min(max(page, 1), pages)
        offset = (page - 1) * PAGE_LENGTH
        found = list_closings(session, wanted, offset=offset, limit=PAGE_LENGTH)
        people = people_who_closed(session)
    versions = [(one.network_id, one.data.network_version) for one in found]
    titles = titles_of_versions(database, versions)
    lines = tuple(_line(one, titles[version]) for one, version in zip(found, versions, strict=True))
    return ClosedPage(lines=lines, count=count, page=page, pages=pages, people=people)


def job_in_full(database: Database, call_id: int) -> JobInFull:
    """Closed job in full.

    Raises
    ------
    UnknownCallError, NotClosedError
    """
    with database.reading() as session:
        call = read_call(session, call_id)
        closing = read_closing(session, call_id)
        back = called_back(session, [call_id]).get(call_id)
    given = given_of(closing.data)
    promise = promised_of(closing.data.promised)
    version = closing.network_id, closing.data.network_version
    return JobInFull(
        closing=closing,
        call=call,
        story=story_of(call),
        given=given,
        promised=promise,
        titles=titles_of_call(database, *version),
        observations=network_of_call(database, *version).observations,
        rank=_rank(given, promise),
        was_aboard=all(part.was_aboard for part in given.parts),
        followed_by=back,
    )


def _line(closing: StoredClosing, titles: Mapping[str, str]) -> ClosedLine:
    data = closing.data
    return ClosedLine(
        call_id=closing.call_id,
        network_id=closing.network_id,
        caller=closing.caller,
        outcome=data.outcome,
        causes=tuple(title_of(titles, one["cause"]) for one in data.causes),
        is_unsure=data.is_unsure,
        total_minor=data.total_minor,
        currency=data.currency,
        closed_at=closing.closed_at,
        closed_by=closing.closed_by,
        is_callback=data.callback_of_id is not None,
    )


def _rank(given: ClosingGiven, promise: Promised | None) -> int | None:
    if promise is None or not given.causes:
        return None
    ranked = sorted(promise.causes, key=lambda mode: -promise.causes[mode])
    places = [ranked.index(one.cause) + 1 for one in given.causes if one.cause in ranked]
    return min(places) if places else None
