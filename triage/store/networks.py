"""Versions of fault networks as texts, and which of them is in use.

A version is written once; what may change of its row is the decision about it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, defer

from triage.store.tables.shop import NetworkInUseRow, NetworkVersionRow


@dataclass(frozen=True, slots=True, kw_only=True)
class NewVersion:
    """A version to be kept; see ``NetworkVersionRow``."""

    network_id: str
    version: int
    parent_version: int
    origin: str
    digest: str
    text: str
    state: str
    why: Mapping[str, Any]
    at: datetime
    by: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredVersion:
    """A version without its text and without what is behind it."""

    network_id: str
    version: int
    parent_version: int
    origin: str
    digest: str
    state: str
    proposed_at: datetime
    proposed_by: str
    reason: str
    decided_at: datetime | None
    decided_by: str
    decided_reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredUse:
    """From when on a version was in use, by whose decision and why."""

    network_id: str
    version: int
    since: datetime
    by: str
    reason: str


def add_version(session: Session, new: NewVersion) -> None:
    """Keep a version."""
    session.add(
        NetworkVersionRow(
            network_id=new.network_id,
            version=new.version,
            parent_version=new.parent_version,
            origin=new.origin,
            digest=new.digest,
            text=new.text,
            state=new.state,
            why=dict(new.why),
            proposed_at=new.at,
            proposed_by=new.by,
            reason=new.reason,
            decided_at=None if new.state == "proposed" else new.at,
            decided_by="" if new.state == "proposed" else new.by,
        )
    )
    session.flush()


def decide_version(
    session: Session,
    network_id: str,
    version: int,
    *,
    state: str,
    at: datetime,
    by: str,
    reason: str,
) -> None:
    """Write down what was decided about a version."""
    row = _row(session, network_id, version)
    assert row is not None, f"version {version} of {network_id} was not kept"
    row.state, row.decided_at, row.decided_by, row.decided_reason = state, at, by, reason
    session.flush()


def find_version(session: Session, network_id: str, version: int) -> StoredVersion | None:
    """Version of a network, or None if it is not kept."""
    row = _row(session, network_id, version)
    return None if row is None else _stored(row)


def version_text(session: Session, network_id: str, version: int) -> str | None:
    """Text of a version, or None if it is not kept."""
    return session.scalar(
        select(NetworkVersionRow.text).where(
            NetworkVersionRow.network_id == network_id, NetworkVersionRow.version == version
        )
    )


def version_why(session: Session, network_id: str, version: int) -> Mapping[str, Any]:
    """What is behind a version; empty if it is not kept."""
    found = session.scalar(
        select(NetworkVersionRow.why).where(
            NetworkVersionRow.network_id == network_id, NetworkVersionRow.version == version
        )
    )
    return found or {}


def list_versions(session: Session, network_id: str) -> tuple[StoredVersion, ...]:
    """Every version of a network that is kept, newest first."""
    rows = session.scalars(
        select(NetworkVersionRow)
        .where(NetworkVersionRow.network_id == network_id)
        .order_by(NetworkVersionRow.version.desc())
        .options(defer(NetworkVersionRow.text), defer(NetworkVersionRow.why))
    )
    return tuple(_stored(row) for row in rows)


def lock_versions(session: Session, network_id: str) -> None:
    """Keep every other writer from the versions of a network until the session ends."""
    query = select(NetworkVersionRow.id).where(NetworkVersionRow.network_id == network_id)
    session.execute(query.with_for_update()).all()


def highest_version(session: Session, network_id: str) -> int:
    """Highest number of a version that is kept; 0 if none is."""
    query = select(func.max(NetworkVersionRow.version))
    return session.scalar(query.where(NetworkVersionRow.network_id == network_id)) or 0


def shipped_version(session: Session, network_id: str, digest: str) -> int | None:
    """Number under which a shipped text is kept, or None if it is not kept yet."""
    return session.scalar(
        select(NetworkVersionRow.version).where(
            NetworkVersionRow.network_id == network_id,
            NetworkVersionRow.origin == "shipped",
            NetworkVersionRow.digest == digest,
        )
    )


def add_use(session: Session, use: StoredUse) -> None:
    """Put a version in use from a moment on."""
    session.add(
        NetworkInUseRow(
            network_id=use.network_id,
            version=use.version,
            since=use.since,
            by=use.by,
            reason=use.reason,
        )
    )
    session.flush()


def newest_use(session: Session, network_id: str) -> StoredUse | None:
    """What was put in use last, or None if nothing ever was."""
    uses = list_uses(session, network_id, limit=1)
    return uses[0] if uses else None


def list_uses(session: Session, network_id: str, *, limit: int = 200) -> tuple[StoredUse, ...]:
    """What was put in use, newest first."""
    rows = session.scalars(
        select(NetworkInUseRow)
        .where(NetworkInUseRow.network_id == network_id)
        .order_by(NetworkInUseRow.id.desc())
        .limit(limit)
    )
    return tuple(
        StoredUse(
            network_id=row.network_id,
            version=row.version,
            since=row.since,
            by=row.by,
            reason=row.reason,
        )
        for row in rows
    )


def _row(session: Session, network_id: str, version: int) -> NetworkVersionRow | None:
    return session.scalar(
        select(NetworkVersionRow)
        .where(NetworkVersionRow.network_id == network_id, NetworkVersionRow.version == version)
        .options(defer(NetworkVersionRow.text), defer(NetworkVersionRow.why))
    )


def _stored(row: NetworkVersionRow) -> StoredVersion:
    return StoredVersion(
        network_id=row.network_id,
        version=row.version,
        parent_version=row.parent_version,
        origin=row.origin,
        digest=row.digest,
        state=row.state,
        proposed_at=row.proposed_at,
        proposed_by=row.proposed_by,
        reason=row.reason,
        decided_at=row.decided_at,
        decided_by=row.decided_by,
        decided_reason=row.decided_reason,
    )
