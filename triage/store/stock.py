"""Vans and what is aboard: the stock of a van is the sum of its moves."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from triage.errors import UnknownVanError
from triage.store.tables.people import UserRow
from triage.store.tables.visits import StockMoveRow, VanRow, VisitRow

Piece = tuple[str, str]  # part, and the shop's own number or an empty text


@dataclass(frozen=True, slots=True)
class StoredVan:
    """A van, and who drives it; empty if nobody does."""

    id: int
    name: str
    driver_login: str
    driver: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewMove:
    """Pieces that come onto a van, or leave it if ``pieces`` is below 0."""

    part: str
    variant: str
    pieces: int
    reason: str
    call_id: int | None = None


def vans_in_use(session: Session) -> tuple[StoredVan, ...]:
    """Vans in use, by name."""
    rows = session.execute(
        select(VanRow, UserRow)
        .outerjoin(UserRow, VanRow.technician_id == UserRow.id)
        .where(VanRow.is_active)
        .order_by(VanRow.name)
    )
    return tuple(_van(van, driver) for van, driver in rows)


def read_van(session: Session, van_id: int, *, lock: bool = False) -> StoredVan:
    """Van of that number, or ``UnknownVanError``; ``lock`` keeps other writers from its stock."""
    row = session.get(VanRow, van_id, with_for_update=lock)
    if row is None:
        raise UnknownVanError(van_id)
    driver = session.get(UserRow, row.technician_id) if row.technician_id else None
    return _van(row, driver)


def van_of_call(session: Session, call_id: int) -> int | None:
    """Van of the latest visit of a call that was not cancelled, or None if there is none."""
    return session.scalar(
        select(VisitRow.van_id)
        .where(VisitRow.call_id == call_id, VisitRow.state.not_in(("cancelled", "no_show")))
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


def _van(row: VanRow, driver: UserRow | None) -> StoredVan:
    return StoredVan(
        row.id, row.name, driver.login if driver else "", driver.name if driver else ""
    )
