"""What the job sheet shows of money: the quote, and the ranges of prices behind it."""

from dataclasses import dataclass

from triage.services.job.sheet import JobSheet
from triage.services.plan.next_step import StepCard
from triage.services.wording import MINOR_UNITS
from webform.desk import desk
from webform.formatting import money, money_range


@dataclass(frozen=True, slots=True)
class PriceShown:
    """A repair with the range of its price."""

    title: str
    price: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteShown:
    """The quote as it stands; ``is_open`` while the customer has not decided."""

    amount: str
    what_for: str
    given: str
    decided: str
    is_open: bool
    is_declined: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyShown:
    """The quote, ranges of prices, and what a new quote is proposed to say."""

    quote: QuoteShown | None
    prices: tuple[PriceShown, ...]
    amount: str
    what_for: str
    fee: str
    currency: str


def money_shown(sheet: JobSheet, card: StepCard | None) -> MoneyShown:
    """Put the part of the sheet that is about money together; ``card`` is the step proposed."""
    priced = {one.repair.id: one for one in sheet.prices}
    likely = priced.get(card.id) if card else None
    return MoneyShown(
        quote=_quote(sheet),
        prices=tuple(
            PriceShown(one.repair.title, money_range(one.low_minor, one.high_minor, sheet.currency))
            for one in sheet.prices
        ),
        amount=f"{likely.high_minor / MINOR_UNITS:.2f}" if likely else "",
        what_for=likely.repair.title if likely else "",
        fee=money(desk().settings().costs.service_fee_minor, sheet.currency),
        currency=sheet.currency,
    )


def _quote(sheet: JobSheet) -> QuoteShown | None:
    quote = sheet.state.quote
    if quote is None:
        return None
    zone = desk().time_zone
    decided = ""
    at = f"{quote.decided_at.astimezone(zone):%d %b, %H:%M}" if quote.decided_at else ""
    if quote.authorised is not None:
        decided = f"Yes from {quote.authorised.by_whom}, {quote.authorised.how}, {at}"
    if quote.declined is not None:
        decided = f"No, {at}: {quote.declined.reason}"
    return QuoteShown(
        amount=f"{quote.given.amount_minor / MINOR_UNITS:,.2f} {sheet.currency}",
        what_for=quote.given.what_for,
        given=f"{quote.at.astimezone(zone):%d %b, %H:%M}, {quote.by}",
        decided=decided,
        is_open=quote.is_open,
        is_declined=quote.declined is not None,
    )
