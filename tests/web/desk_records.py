"""A customer with a machine, a van and a visit, for tests of pages that need one of each."""

from datetime import UTC, datetime, timedelta

from triage.services.booking.vans import find_vans
from triage.services.calls.calls import Database
from triage.store.customers import CustomerDraft, MachineDraft, add_customer, add_machine
from triage.store.visits import VisitDraft, add_van, add_visit

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
TEN = NINE + timedelta(hours=1)


def put_on_record(database: Database, call_id: int = 1) -> None:
    """Customer 1 with machine 1, a van if there is none, and visit 1 for a call."""
    has_van = bool(find_vans(database))
    with database.writing() as session:
        customer = CustomerDraft(name="Mill cottage", name_folded="mill cottage")
        customer_id = add_customer(session, customer, NINE)
        add_machine(session, customer_id, MachineDraft(network_id="gas_dryer"), NINE)
        if not has_van:
            add_van(session, "North", 0, "a secret address")
        visit = VisitDraft(
            client_id="visit one",
            call_id=call_id,
            van_id=1,
            starts_at=TEN,
            ends_at=TEN + timedelta(hours=1),
            window_starts_at=TEN,
            window_ends_at=TEN + timedelta(hours=2),
            note="",
            uid="visit one",
            at=NINE,
            by="Ivo Brandt",
        )
        add_visit(session, visit)
