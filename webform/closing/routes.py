"""Routes of the pages that close a job, and of its invoice."""

from flask import Blueprint, Response, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from triage.services.closing import close as closing
from triage.services.closing.draft import closing_draft, correction_draft
from triage.services.closing.invoice import Invoice
from triage.services.closing.invoice import invoice as made_invoice
from webform.closing.forms import ClosingForm, CorrectionForm
from webform.closing.screens import closing_screen, invoice_screen
from webform.desk import desk
from webform.forms import PageForm, Ticket, sent

bp = Blueprint("closing", __name__, template_folder="templates")

CALL_NUMBER_MAX = 999_999_999
CALL = f"/calls/<int(max={CALL_NUMBER_MAX}):call_id>"
SEE_OTHER = 303


@bp.route(f"{CALL}/close", methods=["GET", "POST"])
def close(call_id: int) -> ResponseReturnValue:
    """Close a job, with everything filled in."""
    here, settings, front = desk(), desk().settings(), desk().front()
    draft = closing_draft(here.database, call_id, settings, here.clock())
    form = ClosingForm.for_draft(draft)
    if form.with_ticket(Ticket.for_page(draft.version)).validate_on_submit():
        given, entry = form.given(), form.entry()
        closing.close_job(here.database, call_id, given, entry, settings=settings, front=front)
        return redirect(url_for("closing.invoice", call_id=call_id), SEE_OTHER)
    screen = closing_screen(draft, form, front)
    return render_template("closing/close.html", screen=screen, form=form)


@bp.post(f"{CALL}/close-as-ended")
def close_as_ended(call_id: int) -> ResponseReturnValue:
    """Close a call to which nobody came, as it ended on the phone."""
    settings, front = desk().settings(), desk().front()
    entry = sent(PageForm()).entry()
    closing.close_without_visit(desk().database, call_id, entry, settings=settings, front=front)
    return redirect(url_for("closing.invoice", call_id=call_id), SEE_OTHER)


@bp.route(f"{CALL}/correct", methods=["GET", "POST"])
def correct(call_id: int) -> ResponseReturnValue:
    """Correct a closed job."""
    here, settings, front = desk(), desk().settings(), desk().front()
    draft = correction_draft(here.database, call_id, settings, here.clock())
    form = CorrectionForm.for_draft(draft)
    if form.with_ticket(Ticket.for_page(draft.version)).validate_on_submit():
        told = (form.given(), form.reason.data.strip(), form.entry())
        closing.correct_job(here.database, call_id, *told, settings=settings, front=front)
        return redirect(url_for("owner.closed_job", call_id=call_id), SEE_OTHER)
    screen = closing_screen(draft, form, front)
    return render_template("closing/correct.html", screen=screen, form=form)


@bp.get(f"{CALL}/invoice")
def invoice(call_id: int) -> ResponseReturnValue:
    """Look at the invoice of a closed job, copy it, print it."""
    return render_template("closing/invoice.html", screen=invoice_screen(_invoice(call_id)))


@bp.get(f"{CALL}/invoice.txt")
def invoice_text(call_id: int) -> ResponseReturnValue:
    """Get the invoice as plain text."""
    return Response(_invoice(call_id).text, content_type="text/plain; charset=utf-8")


def _invoice(call_id: int) -> Invoice:
    here = desk()
    settings, front = here.settings(), here.front()
    return made_invoice(
        here.database, call_id, settings=settings, front=front, time_zone=here.time_zone
    )
