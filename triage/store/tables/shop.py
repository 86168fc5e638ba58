"""What the owner keeps: settings, own lists, versions of the networks."""

from datetime import datetime
from typing import Any

from sqlalchemy import String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from triage.store.tables.base import Base


class SettingsRow(Base):
    """A version of the settings, as the text of a settings file; the newest one holds."""

    __tablename__ = "settings"

    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    text: Mapped[str] = mapped_column(Text)
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(String(100))
    reason: Mapped[str] = mapped_column(String(500), default="")


class NetworkVersionRow(Base):
    """An immutable version of a fault network, as the text of one file without inclusions.

    ``state`` is ``proposed``, ``approved``, ``approved_in_part`` (another version holds that part)
    or ``rejected``; it alone changes, with who decided and why.
    ``why`` holds the difference table and the scores behind the proposal. ``origin`` is
    ``shipped``, ``learned`` or ``edited``; ``digest`` is that of ``text``.
    """

    __tablename__ = "network_versions"
    __table_args__ = (UniqueConstraint("network_id", "version"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    network_id: Mapped[str] = mapped_column(String(200), index=True)
    version: Mapped[int]
    parent_version: Mapped[int]
    origin: Mapped[str] = mapped_column(String(20), server_default="shipped")
    digest: Mapped[str] = mapped_column(String(64), server_default="")
    text: Mapped[str] = mapped_column(Text)
    state: Mapped[str] = mapped_column(String(20))
    why: Mapped[dict[str, Any]]
    proposed_at: Mapped[datetime]
    proposed_by: Mapped[str] = mapped_column(String(100))
    reason: Mapped[str] = mapped_column(String(500), default="")
    decided_at: Mapped[datetime | None]
    decided_by: Mapped[str] = mapped_column(String(100), default="")
    decided_reason: Mapped[str] = mapped_column(String(500), server_default="")


class NetworkInUseRow(Base):
    """From when on a version of a network was in use; the newest row holds."""

    __tablename__ = "networks_in_use"

    id: Mapped[int] = mapped_column(primary_key=True)
    network_id: Mapped[str] = mapped_column(String(200), index=True)
    version: Mapped[int]
    since: Mapped[datetime]
    by: Mapped[str] = mapped_column(String(100))
    reason: Mapped[str] = mapped_column(String(500), default="")


class PlateNoteRow(Base):
    """An entry of the owner's own list by plate: which part fits, or a recall.

    ``plate`` is the beginning of what a plate says. ``kind`` is ``part`` or ``recall``; a part has
    the id of the networks and the shop's number of it, a recall has the text to say.
    """

    __tablename__ = "plate_notes"

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str] = mapped_column(String(10), index=True)
    plate: Mapped[str] = mapped_column(String(100), index=True)
    part_id: Mapped[str] = mapped_column(String(100), default="")
    variant: Mapped[str] = mapped_column(String(100), default="")
    text: Mapped[str] = mapped_column(Text, default="")
    source: Mapped[str] = mapped_column(String(300), default="")
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(String(100))
