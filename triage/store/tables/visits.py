"""Vans, their days, and what is aboard."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from triage.store.tables.base import Base
from triage.store.tables.calls import CallRow
from triage.store.tables.people import UserRow


class VanRow(Base):
    """A van and who drives it; ``feed_secret`` is the secret part of its calendar's address."""

    __tablename__ = "vans"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(100), unique=True)
    technician_id: Mapped[int | None] = mapped_column(ForeignKey("users.id"))
    is_active: Mapped[bool] = mapped_column(default=True)
    feed_secret: Mapped[str] = mapped_column(String(64), unique=True)
    technician: Mapped[UserRow | None] = relationship()


class VisitRow(Base):
    """A slot on a van's day for a call; ``sequence`` counts its changes, as calendars want it.

    ``state`` is one of ``booked``, ``under_way``, ``done``, ``cancelled``, ``no_show``.
    """

    __tablename__ = "visits"
    __table_args__ = (CheckConstraint("ends_at > starts_at", name="ends_after_start"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    client_id: Mapped[str] = mapped_column(String(64), unique=True)
    call_id: Mapped[int] = mapped_column(ForeignKey("calls.id"), index=True)
    van_id: Mapped[int] = mapped_column(ForeignKey("vans.id"), index=True)
    starts_at: Mapped[datetime] = mapped_column(index=True)
    ends_at: Mapped[datetime]
    window_starts_at: Mapped[datetime]
    window_ends_at: Mapped[datetime]
    state: Mapped[str] = mapped_column(String(20))
    late_minutes: Mapped[int] = mapped_column(default=0)
    note: Mapped[str] = mapped_column(Text, default="")
    uid: Mapped[str] = mapped_column(String(100), unique=True)
    sequence: Mapped[int] = mapped_column(default=0)
    booked_at: Mapped[datetime]
    booked_by: Mapped[str] = mapped_column(String(100))
    changed_at: Mapped[datetime]
    call: Mapped[CallRow] = relationship()
    van: Mapped[VanRow] = relationship()


class StockMoveRow(Base):
    """Pieces of a part that came onto a van or left it; the stock is the sum of its moves.

    ``reason`` is one of ``counted``, ``refilled``, ``used``, ``returned``. ``part_id`` is the part
    of the networks, ``variant`` the shop's own number of the piece, empty if it keeps none.
    """

    __tablename__ = "stock_moves"
    __table_args__ = (UniqueConstraint("client_id", "part_id", "variant"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    client_id: Mapped[str] = mapped_column(String(64))
    van_id: Mapped[int] = mapped_column(ForeignKey("vans.id"), index=True)
    part_id: Mapped[str] = mapped_column(String(100), index=True)
    variant: Mapped[str] = mapped_column(String(100), default="")
    pieces: Mapped[int]
    reason: Mapped[str] = mapped_column(String(20))
    call_id: Mapped[int | None] = mapped_column(ForeignKey("calls.id"))
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(String(100))
