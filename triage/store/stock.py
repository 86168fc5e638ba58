"""What is aboard a van: its stock is the sum of its moves."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from triage.store.tables.visits import StockMoveRow, VisitRow
from triage.store.visits import TAKES_TIME

Piece = tuple[str, str]  # part, and the shop's own number or an empty text


@dataclass(frozen=True, slots=True, kw_only=True)
class NewMove:
    """Pieces that come onto a van, or leave it if ``pieces`` is below 0."""

    part: str
    variant: str
    pieces: int
    reason: str
    call_id: int | None = None


def van_of_call(session: Session, call_id: int) -> int | None:
    """Van of the latest visit of a call that was not cancelled, or None if there is none."""
    return session.scalar(
        select(VisitRow.van_id)
        .where(VisitRow.call_id == call_id, VisitRow.state.in_(TAKES_TIME))
        .order_by(VisitRow.starts_at.desc(), VisitRow.id.desc())
        .limit(1)
    )


def stock_of(session: Session, van_id: int) -> Mapping[Piece, int]:
    """Pieces aboard of everything that was ever counted, refilled or used; in order of the part."""
    rows = session.execute(
        select(StockMoveRow.part_id, StockMoveRow.variant, func.sum(StockMoveRow.pieces))
        .where(StockMoveRow.van_id == van_id)
        .group_by(StockMoveRow.part_id, StockMoveRow.variant)
        .order_by(StockMoveRow.part_id, StockMoveRow.variant)
    )
    return {(part, variant): int(pieces) for part, variant, pieces in rows}


def moves_sent(session: Session, client_id: str) -> bool:
    """Whether the moves of a page were stored before."""
    found = session.scalar(
        select(StockMoveRow.id).where(StockMoveRow.client_id == client_id).limit(1)
    )
    return found is not None


def add_moves(
    session: Session, van_id: int, moves: Iterable[NewMove], client_id: str, at: datetime, by: str
) -> None:
    """Add moves of a van; one page moves each piece once."""
    for move in moves:
        session.add(
            StockMoveRow(
                client_id=client_id,
                van_id=van_id,
                part_id=move.part,
                variant=move.variant,
                pieces=move.pieces,
                reason=move.reason,
                call_id=move.call_id,
                at=at,
                by=by,
            )
        )
    session.flush()
