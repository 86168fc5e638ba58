"""Jobs as they would stand in the store, for tests that begin where a job is to be closed."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

from triage.network.catalogue import load_network
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import Database, Entry, Submission, find_call
from triage.services.calls.opening import CallReport, open_call
from triage.store.calls import Draft, add_events, read_call
from triage.store.customers import CustomerDraft, MachineDraft, add_customer, add_machine

WASHER = "top_load_washer"
NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
ON_SITE = NINE + timedelta(days=1)
WORDS = "It won't drain, the clothes are swimming in it"
PUMP = "drain_pump.burnt"
OBJECT = "object_in_pump.jams_it"


def entry(database: Database, call_id: int, at: datetime = ON_SITE, by: str = "pat") -> Entry:
    """Entry of a page that shows the call as it is now."""
    shown = find_call(database, call_id).version if call_id else 0
    return Entry(submission=Submission(uuid4().hex, shown), at=at, by=by)


def add(database: Database, call_id: int, *drafts: Draft, at: datetime, by: str = "pat") -> None:
    """Add events to a call."""
    with database.writing() as session:
        call = read_call(session, call_id)
        ends = any(draft.kind == "outcome" for draft in drafts)
        add_events(
            session,
            call_id,
            drafts,
            Submission(uuid4().hex, call.version),
            at=at,
            by=by,
            is_open=call.is_open and not ends,
        )


def finding(observation: str, answer: str) -> Draft:
    return Draft("finding", {"observation": observation, "answer": answer, "from_record": False})


def repair(name: str, verified: str = "works", **pieces: int) -> Draft:
    used = [{"part": part, "variant": "", "pieces": count} for part, count in pieces.items()]
    return Draft("job_repair", {"repair": name, "pieces": used, "verified": verified})


def ended(outcome: CallOutcome, note: str = "") -> Draft:
    return Draft("outcome", {"outcome": outcome.value, "note": note})


def customer(
    database: Database, name: str = "Zebulon Quark", at: datetime = NINE
) -> tuple[int, int]:
    """Numbers of an invented customer and of the machine."""
    draft = CustomerDraft(
        name=name,
        name_folded=name.lower(),
        phone_text="555 0143",
        phone_e164="+12025550143",
        street="7 Quark Lane",
        town="Larkham Hollow",
        postcode="60614",
        notes=f"{name} has a dog",
    )
    machine = MachineDraft(network_id=WASHER, plate_text="AB 412 K", place="cellar of Quark Lane")
    with database.writing() as session:
        number = add_customer(session, draft, at)
        return number, add_machine(session, number, machine, at)


def phoned(
    database: Database,
    outcome: CallOutcome | None = CallOutcome.VISIT,
    *,
    at: datetime = NINE,
    caller: str = "Blue door",
    words: str = WORDS,
    network: str = WASHER,
    of: tuple[int, int] = (0, 0),
    note: str = "",
) -> int:
    """A call in which water was left and the pump hummed; number of the call."""
    report = CallReport(
        network_id=network, caller=caller, words=words, customer_id=of[0], machine_id=of[1]
    )
    call_id = open_call(database, report, entry(database, 0, at, "dot"))
    flags = load_network(WASHER).safety_flags
    if network == WASHER:
        add(
            database,
            call_id,
            Draft("safety", {"answers": dict.fromkeys(flags, False)}),
            finding("says_water_left", "volunteered"),
            finding("asks_pump_sound", "humming"),
            at=at + timedelta(minutes=4),
            by="dot",
        )
    if outcome is not None:
        add(database, call_id, ended(outcome, note), at=at + timedelta(minutes=6), by="dot")
    return call_id


def repaired(
    database: Database, *, at: datetime = ON_SITE, phoned_at: datetime = NINE, **options: object
) -> int:
    """A job in which the pump was tested, found burnt and replaced, and then worked."""
    call_id = phoned(database, at=phoned_at, **options)  # type: ignore[arg-type]
    add(database, call_id, finding("sees_standing_water", "found"), at=at)
    pump = finding("tests_drain_pump", "silent")
    add(database, call_id, pump, at=at + timedelta(minutes=8))
    done = repair("replace_drain_pump", drain_pump=1)
    add(database, call_id, done, at=at + timedelta(minutes=48))
    return call_id
