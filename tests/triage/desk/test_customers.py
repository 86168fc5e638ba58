"""Claims about customers and machines: found in any writing, known machines need no asking."""

from datetime import timedelta

import pytest

from tests.triage.desk.booking_shop import MONDAY_SIX, now_page, page
from triage.errors import (
    StaleCallError,
    StaleCustomerError,
    UnknownCustomerError,
    UnknownMachineError,
)
from triage.services.call_lists import CallPlace, desk_calls, search_calls
from triage.services.call_log.events import CallOutcome
from triage.services.calls.calls import CallReport, Database, end_call, find_call, open_call
from triage.services.customers.calls import StartAsked, call_start, put_on_record, who_calls
from triage.services.customers.history import history_of
from triage.services.customers.phones import (
    NO_AREA_CODE,
    NOT_A_NUMBER,
    NOT_IN_USE,
    WRONG_LENGTH,
    phone_as_shown,
    phone_number,
)
from triage.services.customers.records import (
    CustomerEntered,
    MachineEntered,
    add_customer,
    add_machine,
    all_drives,
    change_customer,
    change_machine,
    find_customer,
    link_customer,
    machine_of,
    search_customers,
)
from triage.store.tables.closings import ClosingRow

ZOE = CustomerEntered(name="Zoë Åström", phone="(202) 555-0143", street="Heron Lane 4", town="Ö")
WASHER = MachineEntered(
    network_id="top_load_washer", drive="belt", bought_year=2012, place="cellar"
)


def known(database: Database) -> tuple[int, int]:
    customer = add_customer(database, ZOE, "US", page())
    return customer.id, add_machine(database, customer.id, WASHER, page())


def call_of(database: Database, customer_id: int, machine_id: int, **more: object) -> int:
    report = CallReport(
        network_id="top_load_washer",
        caller="Zoë",
        words="it hums",
        customer_id=customer_id,
        machine_id=machine_id,
        **more,  # type: ignore[arg-type]
    )
    return open_call(database, report, page())


def given(database: Database, call_id: int) -> dict[str, object]:
    return {one.observation: one.answer for one in find_call(database, call_id).given}


@pytest.mark.parametrize(
    "text",
    ["zoe", "ÅSTRÖM", "astrom zoe", "str", "202 555 0143", "+1 (202) 555-0143", "5550143",
     "555.0143", "٢٠٢٥٥٥٠١٤٣"],
)  # fmt: skip
def test_customer_is_found_by_part_of_name_or_number_in_any_writing(
    database: Database, text: str
) -> None:
    known(database)

    assert [one.name for one in search_customers(database, text, "US")] == ["Zoë Åström"]


@pytest.mark.parametrize("text", ["", "  ", "zoe smith", "555 0144", "%", "_", "0143", "12"])
def test_nobody_is_found_by_what_does_not_fit(database: Database, text: str) -> None:
    known(database)
    expected = ["Zoë Åström"] if text == "0143" else []  # four digits are enough for a part

    assert [one.name for one in search_customers(database, text, "US")] == expected


def test_number_without_an_area_code_is_found_as_it_was_said(database: Database) -> None:
    add_customer(database, CustomerEntered(name="Mill", phone="555-0143"), "US", page())

    assert [one.name for one in search_customers(database, "555-0143", "US")] == ["Mill"]


def test_name_in_another_alphabet_is_found_without_its_capitals(database: Database) -> None:
    add_customer(database, CustomerEntered(name="Жанна Ёлкина"), "US", page())

    assert [one.name for one in search_customers(database, "жанна елк", "US")] == ["Жанна Ёлкина"]


@pytest.mark.parametrize(
    ("text", "e164", "warning"),
    [
        ("", "", ""),
        ("(202) 555-0143", "+12025550143", ""),
        ("+44 20 7946 0018", "+442079460018", ""),
        ("555-0143", "", NO_AREA_CODE),
        ("202 555 01", "", WRONG_LENGTH),
        ("(555) 010-0199", "+15550100199", NOT_IN_USE),
        ("ask the neighbour", "", NOT_A_NUMBER),
    ],
)
def test_number_is_kept_as_said_and_warned_about_and_never_refused(
    text: str, e164: str, warning: str
) -> None:
    found = phone_number(text, "US")

    assert (found.text, found.e164, found.warning) == (text, e164, warning)


def test_number_is_shown_as_written_where_the_shop_is() -> None:
    assert phone_as_shown("2025550143", "+12025550143", "US") == "(202) 555-0143"
    assert phone_as_shown("", "+442079460018", "US") == "+44 20 7946 0018"
    assert phone_as_shown("next door", "", "US") == "next door"


def test_same_data_twice_is_one_customer_with_one_machine(database: Database) -> None:
    first = known(database)

    assert known(database) == first
    assert len(find_customer(database, first[0]).machines) == 1


def test_customer_changed_elsewhere_is_not_overwritten(database: Database) -> None:
    customer_id, _ = known(database)
    change_customer(database, customer_id, CustomerEntered(name="Zoë"), "US", page(1))

    with pytest.raises(StaleCustomerError, match="Nothing was overwritten"):
        change_customer(database, customer_id, CustomerEntered(name="Zoe"), "US", page(1))

    assert find_customer(database, customer_id).name == "Zoë"


def test_machine_can_be_corrected(database: Database) -> None:
    customer_id, machine_id = known(database)

    changed = MachineEntered(network_id="gas_dryer", plate_text="QD-100")
    change_machine(database, customer_id, machine_id, changed, page(1))

    found = machine_of(find_customer(database, customer_id), machine_id)
    assert (found.network_id, found.plate_text, found.bought_year) == ("gas_dryer", "QD-100", None)


def test_machine_changed_elsewhere_is_not_overwritten(database: Database) -> None:
    customer_id, machine_id = known(database)
    first, second = (MachineEntered(network_id="gas_dryer", place=one) for one in ("A", "B"))
    change_machine(database, customer_id, machine_id, first, page(1))

    with pytest.raises(StaleCustomerError, match="Nothing was overwritten"):
        change_machine(database, customer_id, machine_id, second, page(1))

    assert machine_of(find_customer(database, customer_id), machine_id).place == "A"


def test_unknown_customer_and_machine_are_refused(database: Database) -> None:
    customer_id, _ = known(database)

    with pytest.raises(UnknownCustomerError, match="No customer 9"):
        find_customer(database, 9)
    with pytest.raises(UnknownMachineError, match="Customer 1 has no machine 9"):
        call_of(database, customer_id, 9)
    with pytest.raises(UnknownMachineError):
        machine_of(find_customer(database, customer_id), 9)
    with pytest.raises(UnknownMachineError):
        change_machine(database, customer_id, 9, WASHER, page(1))


def test_what_is_known_of_a_machine_goes_in_as_findings(database: Database) -> None:
    call_id = call_of(database, *known(database))

    assert given(database, call_id) == {"asks_plate": "belt", "asks_age": "over_12"}
    assert all(one.from_record for one in find_call(database, call_id).given)


def test_caller_with_a_number_is_put_on_record_with_the_call(database: Database) -> None:
    report = CallReport(
        network_id="gas_dryer", caller="Mill cottage", words="cold", phone="2025550143", region="US"
    )

    call_id = open_call(database, report, page())

    customer = find_customer(database, find_call(database, call_id).customer_id)
    assert (customer.name, customer.phone_e164) == ("Mill cottage", "+12025550143")


def test_second_call_is_linked_both_ways_and_keeps_the_customer(database: Database) -> None:
    customer_id, machine_id = known(database)
    first = call_of(database, customer_id, machine_id)
    start = call_start(database, StartAsked(linked_to=first), "US")
    assert (start.customer or find_customer(database, 9)).id == customer_id
    assert (start.machine_id, start.network_id) == (0, "")

    second = call_of(database, customer_id, 0, linked_to=first)

    assert find_call(database, first).linked == (second,)
    assert find_call(database, second).linked == (first,)


def test_call_begun_anew_keeps_words_customer_and_machine(database: Database) -> None:
    customer_id, machine_id = known(database)
    call_id = call_of(database, customer_id, machine_id)

    start = call_start(database, StartAsked(again=call_id), "US")

    assert (start.words, start.network_id, start.machine_id) == (
        "it hums",
        "top_load_washer",
        machine_id,
    )


def test_caller_put_on_record_during_the_call_brings_what_the_machine_tells(
    database: Database,
) -> None:
    call_id = open_call(
        database, CallReport(network_id="top_load_washer", caller="Zoë", words="hums"), page()
    )

    put_on_record(database, call_id, ZOE, WASHER, "US", now_page(database, call_id))

    who = who_calls(database, call_id, "", "US")
    assert who.customer is not None
    assert who.machine is not None
    assert given(database, call_id)["asks_age"] == "over_12"


def test_customer_linked_from_an_old_page_is_refused(database: Database) -> None:
    customer_id, machine_id = known(database)
    call_id = call_of(database, 0, 0)

    with pytest.raises(StaleCallError):
        link_customer(database, call_id, customer_id, machine_id, page(0))


def test_other_machine_takes_back_what_the_first_told(database: Database) -> None:
    customer_id, machine_id = known(database)
    call_id = call_of(database, customer_id, machine_id)
    new = add_machine(
        database,
        customer_id,
        MachineEntered(network_id="top_load_washer", bought_year=2026),
        page(),
    )

    link_customer(database, call_id, customer_id, new, now_page(database, call_id))

    assert given(database, call_id) == {"asks_age": "under_1_year"}


def test_machine_of_another_kind_is_not_taken_for_that_of_the_call(database: Database) -> None:
    customer_id, _ = known(database)
    dryer = add_machine(database, customer_id, MachineEntered(network_id="gas_dryer"), page())
    call_id = call_of(database, 0, 0)

    link_customer(database, call_id, customer_id, dryer, now_page(database, call_id))

    state = find_call(database, call_id)
    assert (state.customer_id, state.machine_id) == (customer_id, 0)


def test_drives_of_all_appliances_have_titles() -> None:
    assert {"belt", "clutch", "direct_drive", "brushed"} <= set(all_drives())


def closed(database: Database, call_id: int, days_ago: int, outcome: str = "repaired") -> None:
    """A closing as the store holds it."""
    with database.writing() as session:
        session.add(
            ClosingRow(
                client_id=f"closing {call_id}",
                call_id=call_id,
                outcome=outcome,
                causes=[{"cause": "drain_pump.blocked", "degree": "confirmed", "weight": 1.0}],
                repairs=["clear_pump"],
                currency="USD",
                promised={},
                network_version=1,
                closed_at=MONDAY_SIX - timedelta(days=days_ago),
                closed_by="tova",
            )
        )


@pytest.mark.parametrize(
    ("days_ago", "outcome", "is_callback"),
    [(12, "repaired", True), (31, "repaired", False), (12, "declined", False)],
)
def test_recent_repair_of_the_machine_may_make_the_call_a_call_back(
    database: Database, days_ago: int, outcome: str, is_callback: bool
) -> None:
    customer_id, machine_id = known(database)
    closed(database, call_of(database, customer_id, machine_id), days_ago, outcome)
    call_id = call_of(database, customer_id, machine_id)

    history = history_of(database, call_id, MONDAY_SIX, 30)

    assert [job.call_id for job in history.jobs] == [1]
    assert (history.callback_of is not None) == is_callback
    assert history.jobs[0].ago == ("12 days ago" if days_ago == 12 else "1 month ago")


def test_repair_of_another_machine_is_history_and_no_call_back(database: Database) -> None:
    customer_id, machine_id = known(database)
    closed(database, call_of(database, customer_id, machine_id), 3)
    call_id = call_of(database, customer_id, 0)

    history = history_of(database, call_id, MONDAY_SIX, 30)

    assert len(history.jobs) == 1
    assert history.callback_of is None


def test_call_without_a_customer_has_no_history(database: Database) -> None:
    assert history_of(database, call_of(database, 0, 0), MONDAY_SIX, 30).jobs == ()


def test_calls_are_found_by_number_caller_and_customer(database: Database) -> None:
    customer_id, machine_id = known(database)
    call_id = call_of(database, customer_id, machine_id)
    other = open_call(
        database, CallReport(network_id="gas_dryer", caller="Mill cottage", words="cold"), page()
    )

    def found(text: str) -> list[int]:
        return [one.state.call_id for one in search_calls(database, text, "US").lines]

    assert found("astrom") == [call_id]
    assert found("555 0143") == [call_id]
    assert found("MILL") == [other]
    assert found(str(other)) == [other]
    assert found("nobody") == []
    assert found(" ") == []


def test_ended_calls_of_earlier_days_leave_the_desk_unless_they_wait(database: Database) -> None:
    declined, visit = (call_of(database, 0, 0) for _ in range(2))
    end_call(database, declined, CallOutcome.DECLINED, "", now_page(database, declined))
    tomorrow = MONDAY_SIX + timedelta(days=1)

    today = {one.state.call_id: one.place for one in desk_calls(database, since=MONDAY_SIX)}
    later = {one.state.call_id: one.place for one in desk_calls(database, since=tomorrow)}

    assert today == {declined: CallPlace.ENDED, visit: CallPlace.OPEN}
    assert later == {visit: CallPlace.OPEN}
