"""What goes to the customer: an invoice or receipt, as plain text and as lines for the page."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta, tzinfo

from triage.planning.shop.settings import ShopSettings
from triage.services.calls.calls import Database
from triage.services.closing.values import ClosingOutcome
from triage.services.networks.labels import title_of, titles_of_call
from triage.services.networks.scope import appliance_title
from triage.services.settings.shop_front import ShopFront, day_as_written
from triage.store.closings import ClosingData, read_closing

WIDTH = 64  # characters of a line of the text
MINOR_UNITS = 100


@dataclass(frozen=True, slots=True)
class InvoiceLine:
    """A line with its amount in minor units."""

    title: str
    amount_minor: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Invoice:
    """An invoice; ``text`` is the whole of it as plain text. Nobody's name stands on it.

    ``lines`` are before tax; ``guarantee`` are sentences, empty where nothing was repaired.
    """

    call_id: int
    day: str
    shop: str
    address: str
    appliance: str
    lines: tuple[InvoiceLine, ...]
    net_minor: int
    tax: InvoiceLine | None
    total_minor: int
    currency: str
    guarantee: tuple[str, ...]
    text: str


def invoice(
    database: Database,
    call_id: int,
    *,
    settings: ShopSettings,
    front: ShopFront,
    time_zone: tzinfo,
) -> Invoice:
    """Invoice of a closed job; ``front`` tells how the shop and its tax are called.

    Raises
    ------
    NotClosedError
    """
    with database.reading() as session:
        closing = read_closing(session, call_id)
    data = closing.data
    lines = _lines(data, titles_of_call(database, closing.network_id, data.network_version))
    day = closing.closed_at.astimezone(time_zone).date()
    tax = InvoiceLine(front.tax_name, data.tax_minor) if data.tax_minor else None
    made = Invoice(
        call_id=call_id,
        day=day_as_written(day, front.date_style),
        shop=front.name,
        address=front.address,
        appliance=appliance_title(closing.network_id),
        lines=lines,
        net_minor=data.total_minor - data.tax_minor,
        tax=tax,
        total_minor=data.total_minor,
        currency=data.currency,
        guarantee=_guarantee(data, day, settings, front),
        text="",
    )
    return _with_text(made)


def exact_money(amount_minor: int, currency: str = "") -> str:
    """Amount to the last minor unit.

    >>> exact_money(1234567, "USD"), exact_money(5)
    ('12,345.67 USD', '0.05')
    """
    sign, amount = ("-", -amount_minor) if amount_minor < 0 else ("", amount_minor)
    whole, rest = divmod(amount, MINOR_UNITS)
    return f"{sign}{whole:,}.{rest:02d} {currency}".strip()


def _lines(data: ClosingData, titles: Mapping[str, str]) -> tuple[InvoiceLine, ...]:
    lines = []
    if data.fee_minor:
        lines.append(InvoiceLine("Coming and finding the fault", data.fee_minor))
    done = [title_of(titles, name) for name in data.repairs]
    if data.labour_minor:
        lines.append(InvoiceLine("; ".join(done) or "Work", data.labour_minor))
    for part in data.parts:
        title = title_of(titles, part.part_id)
        number = f" {part.variant}" if part.variant else ""
        count = f"{part.pieces} × " if part.pieces > 1 else ""
        lines.append(InvoiceLine(f"{count}{title}{number}", part.pieces * part.price_minor))
    return tuple(lines)


def _guarantee(
    data: ClosingData, day: date, settings: ShopSettings, front: ShopFront
) -> tuple[str, ...]:
    if data.outcome != ClosingOutcome.REPAIRED:
        return ()
    told = []
    for what, days in (
        ("Our work", settings.warranty_labour_days),
        ("The parts", settings.warranty_parts_days),
    ):
        if days and (what == "Our work" or data.parts):
            until = day_as_written(day + timedelta(days=days), front.date_style)
            verb = "is" if what == "Our work" else "are"
            told.append(f"{what} {verb} guaranteed for {days} days, until {until}.")
    return tuple(told)


def _with_text(made: Invoice) -> Invoice:
    head = [made.shop, *made.address.splitlines(), ""] if made.shop else []
    body = [f"Job {made.call_id}, {made.day}", made.appliance, ""]
    sums = [_row(line.title, line.amount_minor) for line in made.lines]
    if made.tax is not None:
        sums.append(_row("Before tax", made.net_minor))
        sums.append(_row(made.tax.title, made.tax.amount_minor))
    sums += ["-" * WIDTH, _row(f"Total {made.currency}", made.total_minor)]
    foot = ["", *made.guarantee] if made.guarantee else []
    text = "\n".join([*head, *body, *sums, *foot]) + "\n"
    return replace(made, text=text)


def _row(title: str, amount_minor: int) -> str:
    """Title on the left, amount on the right; a long title is broken, the amount on its last line.

    >>> row = _row("Drain pump", 6400)
    >>> row[:10], row[-6:], len(row)
    ('Drain pump', ' 64.00', 64)
    """
    amount = exact_money(amount_minor)
    words, lines = title.split(), [""]
    room = WIDTH - len(amount) - 2
    for word in words:
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    lines = [line for line in lines if line]
    return "\n".join([*lines[:-1], f"{lines[-1]:<{WIDTH - len(amount)}}{amount}"])
