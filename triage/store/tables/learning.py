"""Files of closed jobs that were sent in, and long work on networks with its progress."""

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from triage.store.tables.base import Base


class JobFileRow(Base):
    """A file of closed jobs; its text is emptied once its jobs are in.

    ``columns`` maps our columns to those of the file. ``jobs`` counts those taken in.
    """

    __tablename__ = "job_files"

    id: Mapped[int] = mapped_column(primary_key=True)
    client_id: Mapped[str] = mapped_column(String(64), unique=True)
    name: Mapped[str] = mapped_column(String(200))
    text: Mapped[str] = mapped_column(Text)
    columns: Mapped[dict[str, Any]]
    sent_at: Mapped[datetime]
    sent_by: Mapped[str] = mapped_column(String(100))
    imported_at: Mapped[datetime | None]
    jobs: Mapped[int] = mapped_column(default=0)


class LearningRunRow(Base):
    """Long work that goes on while nobody waits: what was asked, how far it is, what came of it.

    ``state`` is ``waiting``, ``running``, ``done`` or ``failed``. A run that was not ``seen_at``
    for minutes has died with the program.
    """

    __tablename__ = "learning_runs"

    id: Mapped[int] = mapped_column(primary_key=True)
    client_id: Mapped[str] = mapped_column(String(64), unique=True)
    kind: Mapped[str] = mapped_column(String(20), index=True)
    network_id: Mapped[str] = mapped_column(String(200), default="")
    state: Mapped[str] = mapped_column(String(20))
    step: Mapped[str] = mapped_column(String(200), default="")
    steps_done: Mapped[int] = mapped_column(default=0)
    steps: Mapped[int] = mapped_column(default=0)
    request: Mapped[dict[str, Any]]
    result: Mapped[dict[str, Any]]
    problem: Mapped[str] = mapped_column(Text, default="")
    asked_at: Mapped[datetime]
    asked_by: Mapped[str] = mapped_column(String(100))
    seen_at: Mapped[datetime]
    ended_at: Mapped[datetime | None]


class TimedStepsRow(Base):
    """Minutes that the steps of an imported job took, by id of observation or repair."""

    __tablename__ = "timed_steps"

    id: Mapped[int] = mapped_column(primary_key=True)
    call_id: Mapped[int] = mapped_column(ForeignKey("calls.id"), unique=True)
    minutes: Mapped[dict[str, Any]]
