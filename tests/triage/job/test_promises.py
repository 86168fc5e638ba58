"""Claims about what a customer was promised: kept with the booking, held to at the closing."""

from dataclasses import replace
from datetime import UTC, timedelta

from tests.triage.job.playing_jobs import (
    NINE,
    ON_SITE,
    PUMP,
    add,
    customer,
    entry,
    finding,
    phoned,
    repair,
)
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.booking.offer import SlotSearch, booking_offer
from triage.services.booking.promise import Promised, promised_as_json, promised_of
from triage.services.booking.vans import VanEntered, add_van
from triage.services.booking.visits import (
    BookingRules,
    BookingWanted,
    SlotWanted,
    book_visit,
    cancel_visit,
)
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.closing.close import close_job
from triage.services.closing.promise import kept_promise, promised
from triage.services.closing.story import Story, story_of
from triage.services.closing.values import ClosingGiven, ClosingOutcome
from triage.services.customers.erase import erase_customer
from triage.services.settings.hours import DEFAULT_DESK
from triage.services.settings.shop_front import DEFAULT_FRONT
from triage.services.shop.settings import save_settings
from triage.store.calls import Draft, read_call
from triage.store.closings import read_closing

RULES = BookingRules(DEFAULT_DESK, UTC)
BOOKED_AT = NINE + timedelta(minutes=10)
DEAR = replace(DEFAULT_SETTINGS, costs=replace(DEFAULT_SETTINGS.costs, service_fee_minor=20000))
DEAR_TEXT = "format: 1\ncurrency: USD\nsource: a test\nprices: {service_fee: 200}\n"


def booked(
    database: Database,
    call_id: int,
    settings: ShopSettings = DEFAULT_SETTINGS,
    *,
    hours: int = 24,
    keeps_figures: bool = True,
) -> tuple[int, Promised]:
    """A visit booked from what the booking page offers; its number and what was promised."""
    at = BOOKED_AT + timedelta(hours=hours - 24)
    offer = booking_offer(database, call_id, SlotSearch(), settings, RULES, now=at)
    van = add_van(database, VanEntered(name=f"Van {call_id} {hours}"), _page(at))
    assert offer.figures is not None
    wanted = BookingWanted(
        call_id=call_id,
        slot=SlotWanted(van_id=van, starts_at=NINE + timedelta(hours=hours), minutes=60),
        promised=offer.promised,
        figures=offer.figures if keeps_figures else None,
    )
    page = entry(database, call_id, at, "dot")
    return book_visit(database, wanted, RULES, page), offer.figures


def _page(at: object) -> Entry:
    return Entry(submission=Submission(f"van {at}", 0), at=BOOKED_AT, by="dot")


def story(database: Database, call_id: int) -> Story:
    with database.reading() as session:
        return story_of(read_call(session, call_id))


def closed(database: Database, call_id: int, settings: ShopSettings) -> Promised | None:
    """What a closing keeps of the promise."""
    close_job(
        database,
        call_id,
        ClosingGiven(outcome=ClosingOutcome.REPAIRED),
        entry(database, call_id, ON_SITE + timedelta(hours=1)),
        settings=settings,
        front=DEFAULT_FRONT,
    )
    with database.reading() as session:
        return promised_of(read_closing(session, call_id).data.promised)


def raise_prices(database: Database) -> None:
    page = Entry(submission=Submission("prices", 0), at=NINE - timedelta(days=1), by="boss")
    save_settings(database, DEAR_TEXT, "fuel", page)


def test_booking_keeps_every_figure_of_the_plan(database: Database) -> None:
    call_id = phoned(database)

    _, said = booked(database, call_id)

    assert said.minutes_p95 is not None
    assert said.minutes_p50 <= said.minutes_p80 <= said.minutes_p95
    assert said.price_low_minor <= said.price_high_minor
    assert next(iter(said.causes)) == PUMP
    assert said.parts
    assert (said.settings_version, said.network_version) == (0, 1)
    assert kept_promise(story(database, call_id)) == said


def test_prices_changed_after_the_booking_do_not_change_what_was_promised(
    database: Database,
) -> None:
    call_id = phoned(database)
    _, said = booked(database, call_id)
    raise_prices(database)  # dated before the call, so that working it out anew would find them

    assert closed(database, call_id, DEAR) == said


def test_booking_without_figures_has_them_worked_out(database: Database) -> None:
    kept, old = phoned(database), phoned(database)
    _, said = booked(database, kept)
    booked(database, old, keeps_figures=False)
    raise_prices(database)

    anew = promised(database, story(database, old), "")

    assert kept_promise(story(database, old)) is None
    assert anew is not None
    assert anew.settings_version == 1
    assert anew.price_low_minor > said.price_low_minor


def test_last_booking_before_somebody_came_is_the_promise(database: Database) -> None:
    call_id = phoned(database)
    first, _ = booked(database, call_id)
    cancel_visit(database, first, "ill", entry(database, call_id, BOOKED_AT, "dot"))

    _, said = booked(database, call_id, DEAR, hours=48)

    assert kept_promise(story(database, call_id)) == said


def test_visit_booked_to_fit_an_ordered_part_promises_nothing_of_the_first(
    database: Database,
) -> None:
    call_id = phoned(database)
    first, said = booked(database, call_id)
    add(database, call_id, finding("tests_drain_pump", "silent"), at=ON_SITE)
    cancel_visit(database, first, "part missing", entry(database, call_id, ON_SITE, "dot"))

    booked(database, call_id, DEAR, hours=72)
    add(database, call_id, repair("replace_drain_pump"), at=ON_SITE + timedelta(days=2))

    assert kept_promise(story(database, call_id)) == said


def test_call_opened_again_has_no_promise_until_it_is_booked_anew(database: Database) -> None:
    call_id = phoned(database)
    first, _ = booked(database, call_id)
    cancel_visit(database, first, "thinks about it", entry(database, call_id, BOOKED_AT, "dot"))

    add(database, call_id, Draft("reopened", {}), at=BOOKED_AT + timedelta(minutes=1))

    assert kept_promise(story(database, call_id)) is None


def test_figures_stay_when_the_customer_is_erased_and_sentences_go(database: Database) -> None:
    number, machine = customer(database)
    call_id = phoned(database, of=(number, machine))
    add(
        database,
        call_id,
        Draft("customer", {"customer_id": number, "machine_id": machine}),
        at=NINE + timedelta(minutes=7),
    )
    _, said = booked(database, call_id)
    closed(database, call_id, DEFAULT_SETTINGS)

    page = Entry(submission=Submission("erase", 1), at=ON_SITE + timedelta(days=1), by="boss")
    erase_customer(database, number, page)

    kept = story(database, call_id)
    assert kept_promise(kept) == said
    event = next(one for one in kept.call.events if one.kind == "visit_booked")
    assert event.payload["promised"] == {}


def test_promise_kept_before_minutes_of_nineteen_in_twenty_can_be_read(database: Database) -> None:
    _, said = booked(database, phoned(database))
    old = {name: one for name, one in promised_as_json(said).items() if name != "minutes_p95"}

    assert promised_of(old) == replace(said, minutes_p95=None)
    assert promised_of({}) is None
