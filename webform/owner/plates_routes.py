"""Routes of the owner's own list by plate."""

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from triage.services.shop import plates as own
from triage.services.shop.plates import PlateKind
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.owner.blueprint import bp
from webform.owner.people_forms import ButtonForm
from webform.owner.plates_forms import NumberForm, RecallForm

SEE_OTHER = 303
NOTE_MAX = 999_999_999


@bp.route("/plates", methods=["GET", "POST"])
def plates() -> ResponseReturnValue:
    """Look at which number of a part fits which machines, and add to it."""
    form = NumberForm().offer()
    if form.with_ticket(Ticket.for_page(0)).validate_on_submit():
        told = (*form.entered(), desk().stamp())
        if form.attempt(own.add_number, desk().database, *told) is not None:
            return redirect(url_for("owner.plates"), SEE_OTHER)
    notes, titles = own.own_list(desk().database, PlateKind.PART), own.part_titles()
    return render_template("owner/plates.html", form=form, notes=notes, titles=titles)


@bp.route("/recalls", methods=["GET", "POST"])
def recalls() -> ResponseReturnValue:
    """Look at which machines are recalled, and add to it."""
    form = RecallForm()
    if form.with_ticket(Ticket.for_page(0)).validate_on_submit():
        told = (*form.entered(), desk().stamp())
        if form.attempt(own.add_recall, desk().database, *told) is not None:
            return redirect(url_for("owner.recalls"), SEE_OTHER)
    notes = own.own_list(desk().database, PlateKind.RECALL)
    return render_template("owner/recalls.html", form=form, notes=notes)


@bp.post(f"/plates/<int(max={NOTE_MAX}):note_id>/remove")
def remove_number(note_id: int) -> ResponseReturnValue:
    """Take a number from the list."""
    sent(ButtonForm())
    own.remove_entry(desk().database, note_id, desk().stamp())
    return redirect(url_for("owner.plates"), SEE_OTHER)


@bp.post(f"/recalls/<int(max={NOTE_MAX}):note_id>/remove")
def remove_recall(note_id: int) -> ResponseReturnValue:
    """Take a recall from the list."""
    sent(ButtonForm())
    own.remove_entry(desk().database, note_id, desk().stamp())
    return redirect(url_for("owner.recalls"), SEE_OTHER)
