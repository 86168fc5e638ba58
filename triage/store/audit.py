"""The audit trail: who changed the shop rather than a call, when, and what. Rows are only added."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from triage.store.tables.people import AuditRow


def add_audit(
    session: Session,
    *,
    at: datetime,
    by: str,
    action: str,
    subject: str,
    detail: Mapping[str, Any] | None = None,
) -> None:
    """Add an entry to the audit trail, in the transaction of what it tells."""
    session.add(AuditRow(at=at, by=by, action=action, subject=subject, detail=dict(detail or {})))
    session.flush()
