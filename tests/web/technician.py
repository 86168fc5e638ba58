"""A day of a technician, for tests that start in the middle: a van, customers, visits, jobs."""

from datetime import UTC, datetime, timedelta

from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import (
    CallReport,
    Database,
    Entry,
    Submission,
    answer_safety_questions,
    confirm_signs,
    end_call,
    find_call,
    open_call,
)
from triage.services.calls.intake import safety_check
from triage.store.customers import CustomerDraft, MachineDraft, add_customer, add_machine, link_call
from triage.store.people import users_named
from triage.store.visits import VisitDraft, add_van, add_visit

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SIGNS = {
    "top_load_washer": ["says_water_left"],
    "front_load_washer": ["says_water_left"],
    "electric_dryer": ["says_no_heat"],
    "gas_dryer": ["says_no_heat"],
}
WORDS = "It hums and does not do what it should"


def _entry(database: Database, call_id: int, name: str) -> Entry:
    version = find_call(database, call_id).version if call_id else 0
    return Entry(submission=Submission(name, version), at=NINE, by="dispatcher")


def booked_call(database: Database, appliance: str = "top_load_washer", number: int = 1) -> int:
    """A call without danger that ended with a visit, of a customer on record."""
    report = CallReport(network_id=appliance, caller=f"Caller {number}", words=WORDS)
    call_id = open_call(database, report, _entry(database, 0, f"open{number}"))
    flags = [one.flag.id for one in safety_check(database, call_id).questions]
    answers = dict.fromkeys(flags, False)
    answer_safety_questions(database, call_id, answers, _entry(database, call_id, f"safe{number}"))
    confirm_signs(database, call_id, SIGNS[appliance], _entry(database, call_id, f"sign{number}"))
    page = _entry(database, call_id, f"end{number}")
    end_call(database, call_id, CallOutcome.VISIT, "", page)
    with database.writing() as session:
        draft = CustomerDraft(
            name=f"Ada Fenwick {number}",
            name_folded=f"ada fenwick {number}",
            phone_text="(312) 555-0142",
            phone_e164="+13125550142",
            street=f"{number} Heron Lane",
            town="Larkham Hollow",
            notes="Dog in the yard",
        )
        customer = add_customer(session, draft, NINE)
        machine = MachineDraft(network_id=appliance, plate_text="QD-100")
        machine_id = add_machine(session, customer, machine, NINE)
        link_call(session, call_id, customer, machine_id)
    return call_id


def van_of(database: Database, login: str = "technician") -> int:
    """A van driven by somebody; by nobody if there is no such login."""
    with database.writing() as session:
        users = users_named(session, login)
        return add_van(session, "Van 1", users[0].id if users else 0, "a secret address")


def booked_visit(
    database: Database, call_id: int, van_id: int, *, starts_at: datetime | None = None
) -> int:
    """A visit of an hour and a half, at ten if nothing else is said."""
    begins = starts_at or NINE + timedelta(hours=1)
    draft = VisitDraft(
        client_id=f"visit-{call_id}-{begins:%H%M}",
        call_id=call_id,
        van_id=van_id,
        starts_at=begins,
        ends_at=begins + timedelta(minutes=90),
        window_starts_at=begins,
        window_ends_at=begins + timedelta(hours=2),
        note="Side door",
        uid=f"{call_id}-{begins:%H%M}@shop.example",
        at=NINE,
        by="dispatcher",
    )
    with database.writing() as session:
        return add_visit(session, draft)
