"""Routes of single numbers of a network: choose one, and propose another value for it."""

from flask import redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services.learning.editing import KINDS, number, numbers
from triage.services.networks.in_use import network_in_use
from webform.desk import desk
from webform.forms import Ticket
from webform.learning.blueprint import SEE_OTHER, bp
from webform.learning.forms import KindForm, NumberForm
from webform.learning.number_screen import number_screen


@bp.get("/<name>/numbers")
def numbers_of(name: str) -> ResponseReturnValue:
    """Choose a number to set."""
    network = network_in_use(desk().database, name)
    kind = request.args.get("kind", "")
    found = numbers(network, kind) if kind in KINDS else ()
    form = KindForm.of(found)
    page = {"network": network, "kinds": KINDS, "kind": kind, "form": form}
    return render_template("learning/numbers.html", **page)


@bp.route("/<name>/number", methods=["GET", "POST"])
def set_number(name: str) -> ResponseReturnValue:
    """Propose another value for a number."""
    network = network_in_use(desk().database, name)
    found, form = number(network, request.args.get("number", "")), NumberForm()
    if form.with_ticket(Ticket.for_page(0)).validate_on_submit():
        edit = form.edit(found)
        database, stamp = desk().database, desk().stamp()
        made = edit and form.propose(database, name, edit, stamp)
        if made is not None:
            return redirect(url_for("learning.version", name=name, version=made), SEE_OTHER)
    screen = number_screen(network, found)
    return render_template("learning/number.html", form=form, screen=screen)
