"""Routes of the scores of the networks, and of the numbers worth measuring."""

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from triage.services.learning.work import Work, newest_result
from triage.services.networks.pictures import shipped_network
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.learning.blueprint import SEE_OTHER, bp
from webform.learning.evaluation_screen import evaluation_screen, sensitivity_screen
from webform.learning.forms import ButtonForm
from webform.learning.worker import begin


@bp.get("/scores")
def scores() -> ResponseReturnValue:
    """See how good the networks and the plans were, on closed jobs."""
    screen = evaluation_screen(newest_result(desk().database, Work.EVALUATE))
    ticket = Ticket.for_page(0)
    return render_template("learning/scores.html", screen=screen, ticket=ticket)


@bp.get("/<name>/measure")
def measure(name: str) -> ResponseReturnValue:
    """See which numbers are worth measuring."""
    network = shipped_network(name)
    found = newest_result(desk().database, Work.SENSITIVITY, name)
    screen = sensitivity_screen(network, found)
    return render_template("learning/measure.html", screen=screen, ticket=Ticket.for_page(0))


@bp.post("/<name>/measure/begin")
def begin_measure(name: str) -> ResponseReturnValue:
    """Begin to look for the numbers worth measuring."""
    shipped_network(name)
    number = begin(Work.SENSITIVITY, name, {}, sent(ButtonForm()).entry())
    return redirect(url_for("learning.work", number=number), SEE_OTHER)
