"""Page for the second of two who work on one call: what changed, and what was typed is kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from http import HTTPStatus

from flask import render_template, request
from flask.typing import ResponseReturnValue

from triage.errors import StaleCallError
from triage.services.call_log.changes import CallChange, changes_since
from webform.access import may_open
from webform.desk import desk
from webform.errors import refused
from webform.formatting import units
from webform.forms import Ticket

TICKET_FIELDS = ("csrf_token", "client_id", "shown_version")
SHOWN_MAX = 12


@dataclass(frozen=True, slots=True)
class StaleScreen:
    """What changed, what was sent as it would be sent again, and what of it was typed."""

    message: str
    call_id: int
    changes: Sequence[CallChange]
    action: str
    sent: Sequence[tuple[str, str]]
    typed: Sequence[str]
    ticket: Ticket


def stale(error: StaleCallError) -> ResponseReturnValue:
    """Show what changed meanwhile, and offer to record what was sent on top of it."""
    if not may_open("intake.resume"):
        return refused(error)
    call_id = int(error.call_id)
    changes = changes_since(desk().database, call_id, error.shown, units())
    sent = [
        (name, value)
        for name, values in request.form.lists()
        if name not in TICKET_FIELDS
        for value in values
    ]
    screen = StaleScreen(
        message=str(error),
        call_id=call_id,
        changes=changes[-SHOWN_MAX:],
        action=request.full_path.rstrip("?"),
        sent=sent,
        typed=[value for _, value in sent if " " in value.strip()],
        ticket=Ticket.for_page(error.current),
    )
    return render_template("intake/stale.html", screen=screen), HTTPStatus.CONFLICT
