"""The audit trail: add to it, look through it. Nothing takes anything out of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from triage.store.tables.people import AuditRow


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredAct:
    """What somebody did to the shop; ``subject`` is what it was done to."""

    at: datetime
    by: str
    action: str
    subject: str
    detail: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ActFilter:
    """Which acts to look for; what is left out lets every act through.

    An empty ``by`` is for acts of nobody who was signed in.
    """

    by: str | None = None
    action: str = ""
    since: datetime | None = None
    before: datetime | None = None


def add_act(session: Session, act: StoredAct) -> None:
    """Add an act to the trail."""
    row = AuditRow(
        at=act.at, by=act.by, action=act.action, subject=act.subject, detail=dict(act.detail)
    )
    session.add(row)
    session.flush()


def list_acts(
    session: Session, wanted: ActFilter, *, offset: int, limit: int
) -> tuple[StoredAct, ...]:
    """Acts that pass the filter, newest first."""
    newest_first = _passing(wanted).order_by(AuditRow.at.desc(), AuditRow.id.desc())
    rows = session.scalars(newest_first.offset(offset).limit(limit))
    return tuple(
        StoredAct(at=row.at, by=row.by, action=row.action, subject=row.subject, detail=row.detail)
        for row in rows
    )


def names_in_trail(session: Session) -> tuple[str, ...]:
    """Everybody who did something, in alphabetical order."""
    return tuple(session.scalars(select(AuditRow.by).distinct().order_by(AuditRow.by)))


def _passing(wanted: ActFilter) -> Select[Any]:
    query = select(AuditRow)
    if wanted.by is not None:
        query = query.where(AuditRow.by == wanted.by)
    if wanted.action:
        query = query.where(AuditRow.action == wanted.action)
    if wanted.since is not None:
        query = query.where(AuditRow.at >= wanted.since)
    if wanted.before is not None:
        query = query.where(AuditRow.at < wanted.before)
    return query
