"""Read model of the stock of a van."""

from dataclasses import dataclass

from triage.services.job.stock import StockLine, VanStock
from webform.jobsheet import texts
from webform.jobsheet.refusal import NOTHING_REFUSED, PIECES, Refusal

COUNT, REFILL = "jobsheet.count", "jobsheet.refill"  # forms of the page, as refusals name them


@dataclass(frozen=True, slots=True, kw_only=True)
class StockRow:
    """A piece of the van; ``counted`` and ``refilled`` are what its fields show.

    ``wrong`` says what is wrong in one of the fields; it stands in the form that was sent.
    """

    name: str
    title: str
    aboard: str
    wanted: str
    counted: str
    refilled: str
    wrong_count: str
    wrong_refill: str


@dataclass(frozen=True, slots=True)
class StockScreen:
    """What is aboard, and what is missing."""

    van_id: int
    van: str
    lines: tuple[StockRow, ...]
    to_refill: tuple[StockRow, ...]
    wrong: str


def stock_screen(stock: VanStock, refusal: Refusal = NOTHING_REFUSED) -> StockScreen:
    """Put the page together, with what could not be recorded."""
    return StockScreen(
        stock.van.id,
        stock.van.name,
        tuple(_row(line, refusal) for line in stock.lines),
        tuple(_row(line, refusal) for line in stock.to_refill),
        refusal.message,
    )


def _row(line: StockLine, refusal: Refusal) -> StockRow:
    name = f"{PIECES}{line.id}"
    return StockRow(
        name=name,
        title=f"{line.part.title}, {line.variant}" if line.variant else line.part.title,
        aboard=texts.NEVER_COUNTED if line.aboard is None else str(line.aboard),
        wanted=str(line.wanted),
        counted=refusal.typed(COUNT, name, ""),
        refilled=refusal.typed(REFILL, name, str(line.missing)),
        wrong_count=refusal.message if refusal.at(COUNT, name) else "",
        wrong_refill=refusal.message if refusal.at(REFILL, name) else "",
    )
