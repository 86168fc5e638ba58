"""Erase who a customer is; first, if they ask for it, hand out everything that is known of them.

The closed jobs stay, without anybody: what a machine did is not about a person. Erasing cannot be
undone. Copies of the database that were made before hold the customer still; they are deleted when
their time is over.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass

from triage.errors import StaleCustomerError, UnfinishedJobsError
from triage.services.call_log.change import Entry
from triage.services.people.audit import Action, Stamp, act
from triage.store.audit import add_act
from triage.store.customers import read_customer
from triage.store.database import Database
from triage.store.erasing import counts_of, erase_identity, everything_about, open_calls_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ErasurePreview:
    """What would go and what would stay; ``counts`` by kind. ``unfinished`` calls forbid it."""

    customer_id: int
    version: int
    name: str
    is_erased: bool
    counts: Mapping[str, int]
    unfinished: int


def erasure_preview(database: Database, customer_id: int) -> ErasurePreview:
    """What erasing a customer would do.

    Raises
    ------
    UnknownCustomerError
    """
    with database.reading() as session:
        customer = read_customer(session, customer_id)
        return ErasurePreview(
            customer_id=customer_id,
            version=customer.version,
            name=customer.name,
            is_erased=customer.is_erased,
            counts=counts_of(session, customer_id),
            unfinished=open_calls_of(session, customer_id),
        )


def erase_customer(database: Database, customer_id: int, entry: Entry) -> None:
    """Erase who a customer is: record, words, notes, photos. Sent twice it is done once.

    The audit trail tells that it was done and to which number, not to whom.

    Raises
    ------
    UnknownCustomerError
    StaleCustomerError
        The customer changed since the page was shown.
    UnfinishedJobsError
        A call is open or a visit is booked: somebody still has to know where to go.
    """
    with database.writing() as session:
        customer = read_customer(session, customer_id)
        if customer.is_erased:
            return
        if customer.version != entry.submission.shown_version:
            raise StaleCustomerError(customer_id)
        unfinished = open_calls_of(session, customer_id)
        if unfinished:
            raise UnfinishedJobsError(customer_id, unfinished)
        erase_identity(session, customer_id, entry.at)
        stamp = Stamp(entry.at, entry.by)
        add_act(session, act(Action.CUSTOMER_ERASED, stamp, f"customer {customer_id}"))
    database.forget_what_was_deleted()


def customer_as_json(database: Database, customer_id: int, stamp: Stamp) -> str:
    """Everything that is known of a customer, as JSON; that it was handed out is in the trail.

    Raises
    ------
    UnknownCustomerError
    """
    with database.writing() as session:
        found = everything_about(session, customer_id)
        add_act(session, act(Action.CUSTOMER_EXPORTED, stamp, f"customer {customer_id}"))
    return json.dumps(found, ensure_ascii=False, indent=1) + "\n"
