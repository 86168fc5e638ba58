"""Calls by number, by caller, by customer: searched in the database, page by page."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import Session

from triage.store.calls import StoredCall, read_calls
from triage.store.customers import holds_word, matching_customers
from triage.store.tables.calls import CallRow
from triage.store.tables.customers import CustomerRow


@dataclass(frozen=True, slots=True, kw_only=True)
class CallsWanted:
    """What is looked for; ``number`` 0 is none.

    ``words`` are folded and must all stand in the name, ``digits`` are those of a phone number,
    ``said`` is the text as it was typed.
    """

    words: Sequence[str]
    digits: str
    said: str
    number: int


def count_calls(session: Session, wanted: CallsWanted) -> int:
    """How many calls there are."""
    return session.scalar(select(func.count(CallRow.id)).where(_matches(wanted))) or 0


def find_calls(
    session: Session, wanted: CallsWanted, *, offset: int, limit: int
) -> tuple[StoredCall, ...]:
    """Calls with their events, newest first."""
    numbers = session.scalars(
        select(CallRow.id)
        .where(_matches(wanted))
        .order_by(CallRow.opened_at.desc(), CallRow.id.desc())
        .offset(offset)
        .limit(limit)
    ).all()
    return read_calls(session, numbers)


def _matches(wanted: CallsWanted) -> ColumnElement[bool]:
    customers = select(CustomerRow.id).where(
        matching_customers(words=wanted.words, digits=wanted.digits, said=wanted.said)
    )
    return or_(
        CallRow.id == wanted.number,
        CallRow.customer_id.in_(customers),
        and_(*(holds_word(CallRow.caller_folded, word) for word in wanted.words)),
    )
