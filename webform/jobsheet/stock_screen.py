"""Read model of the stock of a van."""

from dataclasses import dataclass

from triage.services.job.stock import StockLine, VanStock
from webform.jobsheet import texts
from webform.jobsheet.forms import PIECES


@dataclass(frozen=True, slots=True, kw_only=True)
class StockRow:
    """A piece of the van."""

    name: str
    title: str
    aboard: str
    wanted: str
    missing: str


@dataclass(frozen=True, slots=True)
class StockScreen:
    """What is aboard, and what is missing."""

    van_id: int
    van: str
    lines: tuple[StockRow, ...]
    to_refill: tuple[StockRow, ...]


def stock_screen(stock: VanStock) -> StockScreen:
    """Put the page together."""
    return StockScreen(
        stock.van.id,
        stock.van.name,
        tuple(_row(line) for line in stock.lines),
        tuple(_row(line) for line in stock.to_refill),
    )


def _row(line: StockLine) -> StockRow:
    return StockRow(
        name=f"{PIECES}{line.id}",
        title=f"{line.part.title}, {line.variant}" if line.variant else line.part.title,
        aboard=texts.NEVER_COUNTED if line.aboard is None else str(line.aboard),
        wanted=str(line.wanted),
        missing=str(line.missing),
    )
