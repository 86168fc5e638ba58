"""Who calls, and the machines they have."""

from datetime import datetime

from sqlalchemy import ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from triage.store.tables.base import Base


class CustomerRow(Base):
    """A customer; everything that tells who it is stands here, so that it can be erased here.

    ``phone_e164`` is the number for searching, empty if ``phone_text`` is no number.
    ``name_folded`` is the name in small letters of any alphabet, for searching.
    """

    __tablename__ = "customers"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200))
    name_folded: Mapped[str] = mapped_column(String(200), index=True)
    phone_text: Mapped[str] = mapped_column(String(60), default="")
    phone_e164: Mapped[str] = mapped_column(String(20), default="", index=True)
    street: Mapped[str] = mapped_column(String(200), default="")
    town: Mapped[str] = mapped_column(String(100), default="")
    postcode: Mapped[str] = mapped_column(String(20), default="")
    notes: Mapped[str] = mapped_column(Text, default="")
    added_at: Mapped[datetime]
    erased_at: Mapped[datetime | None]
    version: Mapped[int] = mapped_column(default=1)
    machines: Mapped[list["MachineRow"]] = relationship(back_populates="customer")


class MachineRow(Base):
    """A machine of a customer. ``plate_text`` is what its plate says, in free text."""

    __tablename__ = "machines"

    id: Mapped[int] = mapped_column(primary_key=True)
    customer_id: Mapped[int] = mapped_column(ForeignKey("customers.id"), index=True)
    network_id: Mapped[str] = mapped_column(String(200))
    drive: Mapped[str] = mapped_column(String(60), default="")
    bought_year: Mapped[int | None]
    plate_text: Mapped[str] = mapped_column(String(300), default="")
    place: Mapped[str] = mapped_column(String(200), default="")
    added_at: Mapped[datetime]
    customer: Mapped[CustomerRow] = relationship(back_populates="machines")
