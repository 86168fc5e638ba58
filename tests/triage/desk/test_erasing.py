"""Claims about erasing a customer: nothing of them is left anywhere, the closed jobs stay."""

import json
from datetime import timedelta
from pathlib import Path
from typing import get_args

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.orm import Session

from tests.triage.job.playing_jobs import NINE, ON_SITE, add, customer, entry, phoned, repaired
from triage.errors import StaleCustomerError, UnfinishedJobsError, UnknownCustomerError
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.closing.close import close_job, correct_job
from triage.services.closing.draft import closing_draft
from triage.services.closing.export import jobs_as_json
from triage.services.closing.for_learning import closed_jobs
from triage.services.customers.erase import customer_as_json, erase_customer, erasure_preview
from triage.services.job.events import JobEvent
from triage.services.people.audit import Stamp
from triage.services.settings.shop_front import DEFAULT_FRONT
from triage.store.calls import Draft
from triage.store.customers import read_customer
from triage.store.erasing import KEPT, without_texts
from triage.store.tables.calls import PhotoRow

NAME = "Zebulon Quark"
TELLING = ("Zebulon", "zebulon", "Quark", "quark", "555 0143", "2025550143", "60614", "AB 412 K")
AT = ON_SITE + timedelta(days=30)
TEXTS = (
    Draft("made_safe", {"name": NAME}),
    Draft("note", {"text": f"{NAME} called again"}),
    Draft("help", {"place": "7 Quark Lane", "pays": "tenant", "lets_in": NAME, "access": []}),
    Draft("help_anyway", {"reason": f"{NAME} is a friend"}),
    Draft("job_own_finding", {"text": f"label says {NAME}", "component": ""}),
    Draft("job_second_fault", {"text": f"{NAME}'s dryer too"}),
    Draft("job_overruled", {"proposed": "a", "taken": "b", "reason": f"{NAME} said so"}),
    Draft("job_quote", {"amount_minor": 20000, "what_for": f"pump for {NAME}"}),
    Draft("job_quote_authorised", {"by_whom": NAME, "how": f"by {NAME}'s phone"}),
    Draft("job_note", {"text": f"{NAME} was friendly"}),
    Draft("job_of_a_later_program", {"who": NAME, "list": [NAME], "map": {"x": NAME}, "n": 3}),
)


def entry_of(version: int) -> Entry:
    return Entry(submission=Submission("e" * 32, version), at=AT, by="boss")


def a_customer_with_history(database: Database) -> tuple[int, int]:
    """Numbers of a customer and of a closed job that name the customer wherever text may stand."""
    who = customer(database, NAME)
    call_id = repaired(
        database, of=who, caller=NAME, words=f"This is {NAME}, it is loud", note=f"for {NAME}"
    )
    for place, draft in enumerate(TEXTS):
        add(database, call_id, draft, at=ON_SITE + timedelta(minutes=49, seconds=place))
    with database.writing() as session:
        photo = PhotoRow(
            call_id=call_id,
            client_id="p" * 32,
            at=ON_SITE,
            by="pat",
            note=f"plate of {NAME}",
            media_type="image/png",
            image=NAME.encode(),
        )
        session.add(photo)
    given = closing_draft(database, call_id, DEFAULT_SETTINGS, ON_SITE).given
    named = type(given)(
        **{
            **{name: getattr(given, name) for name in given.__dataclass_fields__},
            "note": f"{NAME} paid in cash",
        }
    )
    shop = {"settings": DEFAULT_SETTINGS, "front": DEFAULT_FRONT}
    close_job(database, call_id, named, entry(database, call_id, ON_SITE), **shop)  # type: ignore[arg-type]
    page = entry(database, call_id, AT)
    correct_job(database, call_id, named, f"{NAME} complained", page, **shop)  # type: ignore[arg-type]
    return who[0], call_id


def everything_stored(session: Session) -> str:
    """Every row of every table as text."""
    tables = inspect(session.connection()).get_table_names()
    rows = [
        str([tuple(row) for row in session.execute(text(f'SELECT * FROM "{table}"'))])
        for table in tables
    ]
    assert len(rows) > 10
    return "\n".join(rows)


def version(database: Database, customer_id: int) -> int:
    return erasure_preview(database, customer_id).version


def test_no_row_tells_who_an_erased_customer_was(database: Database) -> None:
    number, _ = a_customer_with_history(database)
    with database.reading() as session:
        before = everything_stored(session)
    assert [one for one in TELLING if one not in before] == []

    erase_customer(database, number, entry_of(version(database, number)))

    with database.reading() as session:
        after = everything_stored(session)
    assert [one for one in TELLING if one in after] == []


def test_no_file_of_the_database_tells_who_an_erased_customer_was(
    database: Database, database_address: str
) -> None:
    if not database.is_sqlite:
        pytest.skip("files of a server are not read by its users")
    number, _ = a_customer_with_history(database)

    erase_customer(database, number, entry_of(version(database, number)))

    folder = Path(database_address.removeprefix("sqlite:///")).parent
    files = {path.name: path.read_bytes() for path in folder.glob("calls.sqlite*")}
    assert len(files["calls.sqlite"]) > 10_000
    found = [(name, one) for name, data in files.items() for one in TELLING if one.encode() in data]
    assert found == []


def test_closed_job_of_an_erased_customer_stays_as_it_was(database: Database) -> None:
    number, call_id = a_customer_with_history(database)
    before = ("".join(jobs_as_json(database)), list(closed_jobs(database)))

    erase_customer(database, number, entry_of(version(database, number)))

    assert ("".join(jobs_as_json(database)), list(closed_jobs(database))) == before
    assert before[1][0].id == str(call_id)
    assert before[1][0].findings != ()


def test_erased_customer_has_no_name_and_is_erased_once(database: Database) -> None:
    number, _ = a_customer_with_history(database)
    page = entry_of(version(database, number))

    for _ in range(2):
        erase_customer(database, number, page)

    with database.reading() as session:
        found = read_customer(session, number)
    assert (found.name, found.street, found.is_erased) == ("erased", "", True)
    assert found.machines[0].plate_text == ""


def test_audit_trail_tells_that_somebody_was_erased_and_not_who(database: Database) -> None:
    number, _ = a_customer_with_history(database)

    erase_customer(database, number, entry_of(version(database, number)))

    with database.reading() as session:
        query = text("SELECT \"by\", subject, detail FROM audit WHERE action = 'customer_erased'")
        (row,) = session.execute(query).all()
    assert (row.by, row.subject) == ("boss", f"customer {number}")
    assert "Quark" not in str(row.detail)


def test_customer_with_an_open_call_is_not_erased(database: Database) -> None:
    who = customer(database, NAME)
    phoned(database, None, of=who)

    with pytest.raises(UnfinishedJobsError, match="1 call is open or to be visited"):
        erase_customer(database, who[0], entry_of(version(database, who[0])))

    assert erasure_preview(database, who[0]).name == NAME


def test_customer_that_changed_meanwhile_is_not_erased(database: Database) -> None:
    number, _ = a_customer_with_history(database)

    with pytest.raises(StaleCustomerError):
        erase_customer(database, number, entry_of(version(database, number) + 1))


def test_nobody_is_erased_where_there_is_nobody(database: Database) -> None:
    with pytest.raises(UnknownCustomerError):
        erase_customer(database, 7, entry_of(1))
    with pytest.raises(UnknownCustomerError):
        customer_as_json(database, 7, Stamp(AT, "boss"))


def test_other_customers_keep_everything(database: Database) -> None:
    number, _ = a_customer_with_history(database)
    other = customer(database, "Ottoline Pebble")
    call_id = phoned(
        database, CallOutcome.DECLINED, of=other, caller="Ottoline", at=NINE + timedelta(hours=1)
    )

    erase_customer(database, number, entry_of(version(database, number)))

    kept = json.loads(customer_as_json(database, other[0], Stamp(AT, "boss")))
    assert kept["customer"]["name"] == "Ottoline Pebble"
    assert [call["id"] for call in kept["calls"]] == [call_id]


def test_preview_counts_what_there_is(database: Database) -> None:
    number, _ = a_customer_with_history(database)

    found = erasure_preview(database, number)

    assert found.counts["machines"] == 1
    assert found.counts["photos"] == 1
    assert found.counts["closed_jobs"] == 1
    assert found.counts["events"] > len(TEXTS)
    assert found.unfinished == 0


def test_everything_about_a_customer_is_handed_out(database: Database) -> None:
    number, call_id = a_customer_with_history(database)

    found = json.loads(customer_as_json(database, number, Stamp(AT, "boss")))

    assert found["customer"]["name"] == NAME
    assert found["machines"][0]["plate_text"] == "AB 412 K"
    assert [call["id"] for call in found["calls"]] == [call_id]
    assert found["photos"][0]["image"]
    assert found["closed_jobs"][0]["note"] == f"{NAME} paid in cash"
    assert {event["kind"] for event in found["events"]} >= {draft.kind for draft in TEXTS}


def test_what_stays_of_an_event_is_what_learning_needs() -> None:
    finding = {"observation": "says_water_left", "answer": "yes", "from_record": False}

    assert without_texts("finding", finding) == finding
    assert without_texts("complaint", {"words": "Zebulon here"}) == {"words": ""}
    booked = {"visit_id": 1, "starts_at": "2026-03-02T10:00:00+00:00", "promised": {"price": "x"}}
    assert without_texts("visit_booked", booked) == {**booked, "promised": {}}
    assert without_texts("unheard_of", {"a": "b", "c": [1], "d": 2}) == {"a": "", "c": [], "d": 2}


def test_every_field_that_stays_is_one_that_its_event_has() -> None:
    fields = {kind.kind: set(kind.__dataclass_fields__) for kind in get_args(JobEvent)}

    unknown = {kind: kept - fields[kind] for kind, kept in KEPT.items() if kind in fields}

    assert {kind for kind in unknown if unknown[kind]} == set()
    assert len(unknown) > 8
