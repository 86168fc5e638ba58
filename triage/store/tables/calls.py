"""A call, and its events. Events are only ever added.

What is true of a call is what its events say, one after the other; ``version`` and ``is_open`` of a
call are copies of that, kept in the same transaction, so that a list of calls is one query. The
events of the visit follow those of the phone: a job is one story, from the first word to the end.
"""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import ForeignKey, LargeBinary, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from triage.store.tables.base import Base

if TYPE_CHECKING:
    from triage.store.tables.customers import CustomerRow, MachineRow


class CallRow(Base):
    """One phone call about one machine, and the job that follows from it.

    ``network_version`` is the version when the call was opened; each event has that of its time.
    ``caller_folded`` is the caller in small letters of any alphabet, for searching.
    """

    __tablename__ = "calls"

    id: Mapped[int] = mapped_column(primary_key=True)
    client_id: Mapped[str] = mapped_column(String(64), unique=True)
    network_id: Mapped[str] = mapped_column(String(200))
    network_version: Mapped[int]
    caller: Mapped[str] = mapped_column(String(200))
    caller_folded: Mapped[str] = mapped_column(String(400), default="", server_default="")
    customer_id: Mapped[int | None] = mapped_column(ForeignKey("customers.id"), index=True)
    machine_id: Mapped[int | None] = mapped_column(ForeignKey("machines.id"), index=True)
    opened_at: Mapped[datetime] = mapped_column(index=True)
    opened_by: Mapped[str] = mapped_column(String(100))
    version: Mapped[int] = mapped_column(default=0)
    is_open: Mapped[bool] = mapped_column(default=True, index=True)
    events: Mapped[list["EventRow"]] = relationship(
        back_populates="call", order_by="EventRow.sequence"
    )
    customer: Mapped["CustomerRow | None"] = relationship()
    machine: Mapped["MachineRow | None"] = relationship()


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
    payload: Mapped[dict[str, Any]]
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(String(100))
    network_version: Mapped[int | None]
    call: Mapped[CallRow] = relationship(back_populates="events")


class PhotoRow(Base):
    """A photo of a machine or its plate, without the data of its place, and a note."""

    __tablename__ = "photos"

    id: Mapped[int] = mapped_column(primary_key=True)
    call_id: Mapped[int] = mapped_column(ForeignKey("calls.id"), index=True)
    client_id: Mapped[str] = mapped_column(String(64), unique=True)
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(String(100))
    note: Mapped[str] = mapped_column(Text, default="")
    media_type: Mapped[str] = mapped_column(String(40))
    image: Mapped[bytes] = mapped_column(LargeBinary)
