"""Long work: what was asked, how far it is, what came of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from triage.errors import UnknownRunError
from triage.store.tables.learning import LearningRunRow

WAITING, RUNNING, DONE, FAILED = "waiting", "running", "done", "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRun:
    """Work as it stands; see ``LearningRunRow``."""

    id: int
    kind: str
    network_id: str
    state: str
    step: str
    steps_done: int
    steps: int
    request: Mapping[str, Any]
    result: Mapping[str, Any]
    problem: str
    asked_at: datetime
    asked_by: str
    seen_at: datetime
    ended_at: datetime | None

    @property
    def is_over(self) -> bool:
        """Whether it is done or has failed."""
        return self.state in (DONE, FAILED)


def add_run(
    session: Session,
    *,
    client_id: str,
    kind: str,
    network_id: str,
    request: Mapping[str, Any],
    at: datetime,
    by: str,
) -> tuple[int, bool]:
    """Number of the work, and whether it is new; the same submission finds the same work."""
    found = session.scalar(select(LearningRunRow.id).where(LearningRunRow.client_id == client_id))
    if found is not None:
        return found, False
    row = LearningRunRow(
        client_id=client_id,
        kind=kind,
        network_id=network_id,
        state=WAITING,
        request=dict(request),
        result={},
        asked_at=at,
        asked_by=by,
        seen_at=at,
    )
    session.add(row)
    session.flush()
    return row.id, True


def read_run(session: Session, number: int) -> StoredRun:
    """Work of a number, or ``UnknownRunError``."""
    row = session.get(LearningRunRow, number)
    if row is None:
        raise UnknownRunError(number)
    return _stored(row)


def newest_run(
    session: Session, kind: str, network_id: str | None = None, state: str = ""
) -> StoredRun | None:
    """Work of a kind that was asked for last, or None."""
    query = select(LearningRunRow).where(LearningRunRow.kind == kind)
    if network_id is not None:
        query = query.where(LearningRunRow.network_id == network_id)
    if state:
        query = query.where(LearningRunRow.state == state)
    row = session.scalar(query.order_by(LearningRunRow.id.desc()).limit(1))
    return None if row is None else _stored(row)


def list_runs(session: Session, *, limit: int = 10) -> tuple[StoredRun, ...]:
    """Work that was asked for, newest first."""
    rows = session.scalars(select(LearningRunRow).order_by(LearningRunRow.id.desc()).limit(limit))
    return tuple(_stored(row) for row in rows)


def tell_progress(
    session: Session, number: int, *, step: str, done: int, steps: int, at: datetime
) -> None:
    """Write down how far the work is."""
    row = session.get_one(LearningRunRow, number)
    row.state, row.step, row.steps_done, row.steps, row.seen_at = RUNNING, step, done, steps, at
    session.flush()


def end_run(
    session: Session,
    number: int,
    *,
    at: datetime,
    result: Mapping[str, Any] | None = None,
    problem: str = "",
) -> None:
    """Write down what came of the work."""
    row = session.get_one(LearningRunRow, number)
    row.state = FAILED if problem else DONE
    row.result, row.problem, row.seen_at, row.ended_at = dict(result or {}), problem, at, at
    session.flush()


def _stored(row: LearningRunRow) -> StoredRun:
    return StoredRun(
        id=row.id,
        kind=row.kind,
        network_id=row.network_id,
        state=row.state,
        step=row.step,
        steps_done=row.steps_done,
        steps=row.steps,
        request=row.request,
        result=row.result,
        problem=row.problem,
        asked_at=row.asked_at,
        asked_by=row.asked_by,
        seen_at=row.seen_at,
        ended_at=row.ended_at,
    )
