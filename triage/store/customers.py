"""Customers, their machines, and the jobs they had."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, and_, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session, selectinload

from triage.errors import StaleCustomerError, UnknownCustomerError, UnknownMachineError
from triage.store.tables.calls import CallRow
from triage.store.tables.closings import ClosingRow
from triage.store.tables.customers import CustomerRow, MachineRow

ESCAPE = "\\"


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerDraft:
    """What is entered of a customer; ``name_folded`` and ``phone_e164`` are made from it."""

    name: str
    name_folded: str
    phone_text: str = ""
    phone_e164: str = ""
    street: str = ""
    town: str = ""
    postcode: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineDraft:
    """What is entered of a machine; see ``MachineRow``."""

    network_id: str
    drive: str = ""
    bought_year: int | None = None
    plate_text: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredMachine:
    """A machine of a customer as it is stored."""

    id: int
    customer_id: int
    network_id: str
    drive: str
    bought_year: int | None
    plate_text: str
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredCustomer:
    """A customer as it is stored, with the machines, oldest record first."""

    id: int
    name: str
    phone_text: str
    phone_e164: str
    street: str
    town: str
    postcode: str
    notes: str
    version: int
    is_erased: bool
    machines: tuple[StoredMachine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredJob:
    """A call of a customer and how its job ended; ``outcome`` is empty if it is not closed."""

    call_id: int
    machine_id: int
    network_id: str
    network_version: int
    opened_at: datetime
    closed_at: datetime | None
    outcome: str
    causes: Sequence[Any]
    repairs: Sequence[Any]


def add_customer(session: Session, draft: CustomerDraft, at: datetime) -> int:
    """Number of a new customer; one that is on record with the same data is that one."""
    same = select(CustomerRow.id).where(
        CustomerRow.erased_at.is_(None),
        CustomerRow.name_folded == draft.name_folded,
        CustomerRow.phone_text == draft.phone_text,
        CustomerRow.street == draft.street,
        CustomerRow.town == draft.town,
        CustomerRow.postcode == draft.postcode,
    )
    found = session.scalar(same.order_by(CustomerRow.id).limit(1))
    if found is not None:
        return found
    row = CustomerRow(added_at=at)
    _fill(row, draft)
    session.add(row)
    session.flush()
    return row.id


def change_customer(
    session: Session, customer_id: int, draft: CustomerDraft, shown_version: int
) -> None:
    """Replace what is on record of a customer.

    Raises
    ------
    UnknownCustomerError
    StaleCustomerError
        Somebody changed it since the page was shown.
    """
    row = _row(session, customer_id, lock=True)
    if row.version != shown_version:
        raise StaleCustomerError(customer_id)
    _fill(row, draft)
    row.version += 1
    session.flush()


def read_customer(session: Session, customer_id: int) -> StoredCustomer:
    """Read a customer with the machines, or raise ``UnknownCustomerError``."""
    return _stored(_row(session, customer_id))


def find_customers(
    session: Session, *, words: Sequence[str] = (), digits: str = "", said: str = "", limit: int
) -> tuple[StoredCustomer, ...]:
    """Customers whose folded name holds every word, or whose number holds the digits.

    A number that is none in any plan is found as it was ``said``.
    """
    rows = session.scalars(
        select(CustomerRow)
        .where(matching_customers(words=words, digits=digits, said=said))
        .order_by(CustomerRow.name_folded, CustomerRow.id)
        .limit(limit)
        .options(selectinload(CustomerRow.machines))
    )
    return tuple(_stored(row) for row in rows)


def matching_customers(*, words: Sequence[str], digits: str, said: str) -> ColumnElement[bool]:
    """Condition of ``find_customers``, for queries of other tables."""
    name = and_(True, *(holds_word(CustomerRow.name_folded, word) for word in words))
    is_there = CustomerRow.erased_at.is_(None)
    if not digits:
        return and_(is_there, name)
    number, as_said = (
        holds_word(column, text)
        for column, text in ((CustomerRow.phone_e164, digits), (CustomerRow.phone_text, said))
    )
    return and_(is_there, or_(number, as_said, name))


def holds_word(column: InstrumentedAttribute[str], word: str) -> ColumnElement[bool]:
    """Whether a text holds a word, whose signs stand for themselves."""
    return column.like(f"%{_literal(word)}%", escape=ESCAPE)


def customers_of_calls(session: Session, call_ids: Sequence[int]) -> dict[int, StoredCustomer]:
    """Customer of each call that has one."""
    rows = session.scalars(
        select(CallRow)
        .where(CallRow.id.in_(call_ids), CallRow.customer_id.is_not(None))
        .options(selectinload(CallRow.customer).selectinload(CustomerRow.machines))
    )
    return {row.id: _stored(row.customer) for row in rows if row.customer is not None}


def add_machine(session: Session, customer_id: int, draft: MachineDraft, at: datetime) -> int:
    """Number of a new machine of a customer; one with the same data is that one."""
    customer = _row(session, customer_id, lock=True)
    for known in customer.machines:
        if _machine_draft(known) == draft:
            return known.id
    row = MachineRow(customer_id=customer_id, added_at=at)
    _fill_machine(row, draft)
    session.add(row)
    session.flush()
    return row.id


def change_machine(
    session: Session, customer_id: int, machine_id: int, new: MachineDraft, shown_version: int
) -> None:
    """Replace what is on record of a machine; its version is that of its customer.

    Raises
    ------
    UnknownMachineError
    StaleCustomerError
        Somebody changed the customer or a machine since the page was shown.
    """
    row = _machine_row(session, customer_id, machine_id)
    owner = _row(session, customer_id, lock=True)
    if owner.version != shown_version:
        raise StaleCustomerError(customer_id)
    _fill_machine(row, new)
    owner.version += 1
    session.flush()


def machine_of(session: Session, customer_id: int, machine_id: int) -> StoredMachine:
    """Read a machine of a customer, or raise ``UnknownMachineError``."""
    return _stored_machine(_machine_row(session, customer_id, machine_id))


def link_call(session: Session, call_id: int, customer_id: int, machine_id: int) -> None:
    """Say whose call it is and about which machine; 0 is none.

    Raises
    ------
    UnknownCustomerError, UnknownMachineError
    """
    if customer_id:
        _row(session, customer_id)
    if machine_id:
        _machine_row(session, customer_id, machine_id)
    row = session.get_one(CallRow, call_id)
    row.customer_id, row.machine_id = customer_id or None, machine_id or None
    session.flush()


def jobs_of_customer(session: Session, customer_id: int) -> tuple[StoredJob, ...]:
    """Every call of a customer with how its job ended, newest first."""
    rows = session.execute(
        select(CallRow, ClosingRow)
        .outerjoin(ClosingRow, ClosingRow.call_id == CallRow.id)
        .where(CallRow.customer_id == customer_id)
        .order_by(CallRow.opened_at.desc(), CallRow.id.desc())
    )
    return tuple(
        StoredJob(
            call_id=call.id,
            machine_id=call.machine_id or 0,
            network_id=call.network_id,
            network_version=call.network_version,
            opened_at=call.opened_at,
            closed_at=closing.closed_at if closing else None,
            outcome=closing.outcome if closing else "",
            causes=tuple(closing.causes) if closing else (),
            repairs=tuple(closing.repairs) if closing else (),
        )
        for call, closing in rows
    )


def _literal(text: str) -> str:
    """Text in which the signs of a pattern stand for themselves."""
    for sign in (ESCAPE, "%", "_"):
        text = text.replace(sign, ESCAPE + sign)
    return text


def _row(session: Session, customer_id: int, *, lock: bool = False) -> CustomerRow:
    row = session.get(CustomerRow, customer_id, with_for_update=lock)
    if row is None:
        raise UnknownCustomerError(customer_id)
    return row


def _machine_row(session: Session, customer_id: int, machine_id: int) -> MachineRow:
    row = session.get(MachineRow, machine_id)
    if row is None or row.customer_id != customer_id:
        raise UnknownMachineError(machine_id, customer_id)
    return row


def _fill(row: CustomerRow, draft: CustomerDraft) -> None:
    row.name, row.name_folded = draft.name, draft.name_folded
    row.phone_text, row.phone_e164 = draft.phone_text, draft.phone_e164
    row.street, row.town, row.postcode = draft.street, draft.town, draft.postcode
    row.notes = draft.notes


def _fill_machine(row: MachineRow, draft: MachineDraft) -> None:
    row.network_id, row.drive, row.bought_year = draft.network_id, draft.drive, draft.bought_year
    row.plate_text, row.place = draft.plate_text, draft.place


def _machine_draft(row: MachineRow) -> MachineDraft:
    return MachineDraft(
        network_id=row.network_id,
        drive=row.drive,
        bought_year=row.bought_year,
        plate_text=row.plate_text,
        place=row.place,
    )


def _stored_machine(row: MachineRow) -> StoredMachine:
    return StoredMachine(
        id=row.id,
        customer_id=row.customer_id,
        network_id=row.network_id,
        drive=row.drive,
        bought_year=row.bought_year,
        plate_text=row.plate_text,
        place=row.place,
    )


def _stored(row: CustomerRow) -> StoredCustomer:
    return StoredCustomer(
        id=row.id,
        name=row.name,
        phone_text=row.phone_text,
        phone_e164=row.phone_e164,
        street=row.street,
        town=row.town,
        postcode=row.postcode,
        notes=row.notes,
        version=row.version,
        is_erased=row.erased_at is not None,
        machines=tuple(
            _stored_machine(one) for one in sorted(row.machines, key=lambda one: one.id)
        ),
    )
