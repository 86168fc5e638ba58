"""Routes of files of closed jobs: send one in, name its columns, look it through, take it in."""

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from triage.services.learning import files as own
from triage.services.learning.work import Work
from triage.services.networks.engines import network_choices
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.learning.blueprint import NUMBER, SEE_OTHER, bp
from webform.learning.file_screen import file_screen
from webform.learning.forms import ButtonForm, ColumnsForm, FileForm
from webform.learning.worker import begin


@bp.route("/files", methods=["GET", "POST"])
def files() -> ResponseReturnValue:
    """Send a file of closed jobs in."""
    form = FileForm()
    if form.with_ticket(Ticket.for_page(0)).validate_on_submit():
        sent_in = form.file.data
        told = (sent_in.filename or "", sent_in.read(), form.entry())
        number = form.attempt(own.send_file, desk().database, *told)
        if number is not None:
            return redirect(url_for("learning.file", number=number), SEE_OTHER)
    return render_template("learning/files.html", form=form, columns=own.COLUMNS)


@bp.route(f"/files/<{NUMBER}:number>", methods=["GET", "POST"])
def file(number: int) -> ResponseReturnValue:
    """Look a file through, and say which of its columns is which."""
    preview = own.file_preview(desk().database, number)
    form = ColumnsForm.of(preview.heading, preview.columns, network_choices())
    if form.with_ticket(Ticket.for_page(0)).validate_on_submit():
        form.attempt(own.choose_columns, desk().database, number, form.chosen())
        if not form.errors_by_field():
            return redirect(url_for("learning.file", number=number), SEE_OTHER)
    return render_template("learning/file.html", form=form, screen=file_screen(preview))


@bp.post(f"/files/<{NUMBER}:number>/import")
def import_file(number: int) -> ResponseReturnValue:
    """Begin to take the jobs of a file in."""
    entry = sent(ButtonForm()).entry()
    own.file_preview(desk().database, number)
    begun = begin(Work.IMPORT, "", {"file": number}, entry)
    return redirect(url_for("learning.work", number=begun), SEE_OTHER)
