"""Tables: a call, and its events. Events are only ever added.

What is true of a call is what its events say, one after the other; ``version`` and ``is_open`` of a
call are copies of that, kept in the same transaction, so that the list of calls is one query.
"""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, Dialect, ForeignKey, MetaData, String, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship
from sqlalchemy.types import TypeDecorator

# Names, so that a later migration can name what it changes.
NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcDateTime(TypeDecorator[datetime]):
    """A moment in UTC. SQLite forgets the zone and PostgreSQL keeps it; here it is always there."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn a moment with a zone into UTC; a moment without one is refused."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"time {value.isoformat()} has no zone; expected one, such as UTC")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give back a moment in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """Root of the tables."""

    metadata = MetaData(naming_convention=NAMING)


class CallRow(Base):
    """One phone call about one machine."""

    __tablename__ = "calls"

    id: Mapped[int] = mapped_column(primary_key=True)
    client_id: Mapped[str] = mapped_column(String(64), unique=True)
    network_id: Mapped[str] = mapped_column(String(200))
    network_version: Mapped[int]
    caller: Mapped[str] = mapped_column(String(200))
    opened_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    opened_by: Mapped[str] = mapped_column(String(100))
    version: Mapped[int] = mapped_column(default=0)
    is_open: Mapped[bool] = mapped_column(default=True, index=True)
    events: Mapped[list["EventRow"]] = relationship(
        back_populates="call", order_by="EventRow.sequence"
    )


class EventRow(Base):
    """One thing that happened in a call; ``payload`` depends on ``kind``."""

    __tablename__ = "events"
    __table_args__ = (
        UniqueConstraint("call_id", "sequence"),
        UniqueConstraint("client_id", "part"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    call_id: Mapped[int] = mapped_column(ForeignKey("calls.id"), index=True)
    sequence: Mapped[int]
    client_id: Mapped[str] = mapped_column(String(64))
    part: Mapped[int]
    kind: Mapped[str] = mapped_column(String(40))
    payload: Mapped[dict[str, Any]] = mapped_column(JSON)
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    by: Mapped[str] = mapped_column(String(100))
    call: Mapped[CallRow] = relationship(back_populates="events")
