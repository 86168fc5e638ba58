"""Closed jobs: how each ended, what was wrong, the parts used."""

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from triage.store.tables.base import Base
from triage.store.tables.calls import CallRow


class ClosingRow(Base):
    """How a job ended, one per call; a correction replaces it and is told in the audit trail.

    ``outcome`` is one of ``repaired``, ``declined``, ``solved_by_phone``, ``referred_out``,
    ``no_fault_found``. ``causes`` is a list of ``{"cause", "degree", "weight"}``.
    ``callback_kind`` is ``same``, ``new`` or empty. ``source`` is ``app`` or the name of a file.
    """

    __tablename__ = "closings"

    id: Mapped[int] = mapped_column(primary_key=True)
    client_id: Mapped[str] = mapped_column(String(64), unique=True)
    call_id: Mapped[int] = mapped_column(ForeignKey("calls.id"), unique=True)
    outcome: Mapped[str] = mapped_column(String(30), index=True)
    causes: Mapped[list[Any]]
    repairs: Mapped[list[Any]]
    is_unsure: Mapped[bool] = mapped_column(default=False)
    verification: Mapped[str] = mapped_column(String(30), default="")
    minutes: Mapped[float | None]
    visits: Mapped[int] = mapped_column(default=1)
    callback_of_id: Mapped[int | None] = mapped_column(ForeignKey("calls.id"))
    callback_kind: Mapped[str] = mapped_column(String(10), default="")
    labour_minor: Mapped[int] = mapped_column(default=0)
    fee_minor: Mapped[int] = mapped_column(default=0)
    tax_minor: Mapped[int] = mapped_column(default=0)
    total_minor: Mapped[int] = mapped_column(default=0)
    currency: Mapped[str] = mapped_column(String(3))
    note: Mapped[str] = mapped_column(Text, default="")
    promised: Mapped[dict[str, Any]]
    network_version: Mapped[int]
    closed_at: Mapped[datetime] = mapped_column(index=True)
    closed_by: Mapped[str] = mapped_column(String(100))
    source: Mapped[str] = mapped_column(String(200), default="app")
    call: Mapped[CallRow] = relationship(foreign_keys=[call_id])
    parts: Mapped[list["PartUsedRow"]] = relationship(cascade="all, delete-orphan")


class PartUsedRow(Base):
    """A part that was fitted, with what the customer paid for one piece."""

    __tablename__ = "parts_used"

    id: Mapped[int] = mapped_column(primary_key=True)
    closing_id: Mapped[int] = mapped_column(ForeignKey("closings.id"), index=True)
    part_id: Mapped[str] = mapped_column(String(100))
    variant: Mapped[str] = mapped_column(String(100), default="")
    pieces: Mapped[int] = mapped_column(default=1)
    price_minor: Mapped[int]
    was_aboard: Mapped[bool] = mapped_column(default=True)
