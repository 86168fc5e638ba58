"""Claims about what an old call shows after its network has got another version."""

from datetime import timedelta

from flask import Flask

from tests.triage.job.later_versions import LATER, MARK, WASHER, put_in_use
from tests.triage.job.playing_jobs import (
    NINE,
    ON_SITE,
    add,
    customer,
    entry,
    finding,
    phoned,
    repaired,
)
from tests.web.page import Visitor
from tests.web.technician import van_of
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.calls.calls import Database
from triage.services.closing.close import close_job
from triage.services.closing.draft import closing_draft
from triage.services.networks.in_use import network_in_use
from triage.services.networks.labels import titles_of_call
from triage.services.settings.shop_front import DEFAULT_FRONT
from triage.store.calls import Draft
from triage.store.tables.calls import CallRow
from triage.store.tables.closings import ClosingRow

PUMP_TITLE = "Drain pump"
GONE = "no_longer_there"
CLOSED_AT = ON_SITE + timedelta(minutes=55)


def ordered(part: str) -> Draft:
    """A part that is waited for."""
    return Draft("job_part_ordered", {"part": part, "expected_on": "2026-03-09", "pieces": 1})


def closed(database: Database) -> tuple[int, int]:
    """Number of a closed job and of its customer."""
    number, machine = customer(database)
    call_id = repaired(database, of=(number, machine))
    linked = Draft("customer", {"customer_id": number, "machine_id": machine})
    add(database, call_id, linked, at=NINE + timedelta(minutes=7))
    given = closing_draft(database, call_id, DEFAULT_SETTINGS, CLOSED_AT).given
    page = entry(database, call_id, CLOSED_AT)
    close_job(database, call_id, given, page, settings=DEFAULT_SETTINGS, front=DEFAULT_FRONT)
    return call_id, number


def pages_of(call_id: int, number: int) -> list[str]:
    return [
        f"/calls/{call_id}",
        f"/calls/{call_id}/safety",
        f"/jobs/{call_id}",
        f"/calls/{call_id}/correct",
        f"/calls/{call_id}/invoice",
        f"/shop/closed/{call_id}",
        "/shop/closed",
        f"/customers/{number}",
        "/jobs/waiting",
        f"/steps/{WASHER}?version=1",
    ]


def test_old_call_keeps_its_labels_under_a_later_version(
    app: Flask, database: Database, visitor: Visitor
) -> None:
    van_of(database)
    call_id, number = closed(database)
    waits = phoned(database)
    add(database, waits, ordered("drain_pump"), at=ON_SITE)
    pages = [*pages_of(call_id, number), f"/jobs/{waits}", f"/calls/{waits}/questions"]
    before = {path: visitor.open(path) for path in pages}

    put_in_use(database, ON_SITE)

    assert network_in_use(database, WASHER).version == LATER
    shown = {path: visitor.open(path) for path in pages}
    assert [path for path, page in shown.items() if MARK.strip() in page.text] == []
    assert {page.status for page in [*before.values(), *shown.values()]} == {200}
    named = [path for path, page in shown.items() if PUMP_TITLE.lower() in page.text.lower()]
    assert len(named) >= 6


def test_new_call_takes_the_labels_of_the_version_in_use(
    database: Database, visitor: Visitor
) -> None:
    put_in_use(database, NINE - timedelta(days=1))
    call_id = phoned(database)
    add(database, call_id, ordered("drain_pump"), at=ON_SITE)

    for path in (f"/jobs/{call_id}", "/jobs/waiting", f"/steps/{WASHER}?version={LATER}"):
        assert MARK.strip() in visitor.open(path).text


def test_id_that_no_version_has_breaks_no_page(database: Database, visitor: Visitor) -> None:
    van_of(database)
    call_id, number = closed(database)
    with database.writing() as session:
        session.get_one(CallRow, call_id).network_version = 77  # from before versions were kept
        row = session.query(ClosingRow).filter_by(call_id=call_id).one()
        row.network_version = 77
        row.causes = [{"cause": f"{GONE}.broken", "degree": "seen", "weight": 1.0, "chosen_by": []}]
        row.repairs = [GONE]
    add(
        database,
        call_id,
        finding(GONE, "yes"),
        ordered(GONE),
        Draft("job_own_finding", {"text": "odd", "component": GONE}),
        Draft("job_overruled", {"proposed": GONE, "taken": GONE, "reason": "it looked so"}),
        at=ON_SITE + timedelta(minutes=2),
    )

    statuses = {path: visitor.open(path).status for path in pages_of(call_id, number)}

    assert {status for status in statuses.values() if status >= 500} == set()


def test_id_that_the_version_does_not_have_takes_the_title_in_use(database: Database) -> None:
    phoned(database)
    put_in_use(database, ON_SITE)

    old, lost = (titles_of_call(database, WASHER, version) for version in (1, 77))

    assert not any(MARK in title for title in old.values())
    assert lost["replace_drain_pump"].startswith(MARK)
    assert titles_of_call(database, "heat_pump_dryer", 1) == {}
