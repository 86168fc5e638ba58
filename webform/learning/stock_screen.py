"""Read model of the advice on parts to carry."""

from dataclasses import dataclass

from triage.services.learning.stock import PartAdvice, StockAdvice
from webform.formatting import money, nowrap


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """A part with what carrying it is worth; ``is_thin`` where few jobs needed it."""

    title: str
    jobs: str
    pieces: str
    spared: str
    holding: str
    is_thin: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StockScreen:
    """Everything the page shows below its form."""

    sentences: tuple[str, ...]
    carry: tuple[PartRow, ...]
    leave: tuple[PartRow, ...]


def stock_screen(found: StockAdvice) -> StockScreen:
    """Put the page together."""
    rows = [(one.is_carried, _row(one, found.currency)) for one in found.parts]
    return StockScreen(
        sentences=tuple(_sentences(found)),
        carry=tuple(row for is_carried, row in rows if is_carried),
        leave=tuple(row for is_carried, row in rows if not is_carried),
    )


def _sentences(found: StockAdvice) -> list[str]:
    if not found.parts:
        return ["No job of the last year used a part. Close jobs with the parts that were fitted."]
    spared, holding = (money(x, found.currency) for x in (found.spared_minor, found.holding_minor))
    return [
        f"{found.jobs} visits were closed in the last year; {found.jobs_with_parts} needed parts. "
        + nowrap(
            f"With these parts aboard, {100 * found.fill_rate:.0f} % of them would have had all."
        ),
        f"That spares return trips worth {spared} a year, and the parts cost {holding} a year.",
    ]


def _row(one: PartAdvice, currency: str) -> PartRow:
    return PartRow(
        title=one.title,
        jobs=f"{one.jobs}, {one.alone} with no other part; {one.not_aboard} times not aboard",
        pieces=str(one.pieces) if one.pieces else "none",
        spared=money(one.spared_minor, currency),
        holding=money(one.holding_minor, currency),
        is_thin=one.is_thin,
    )
