"""Routes of the first page of learning, of work that goes on, and of the stock of the van."""

from flask import redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services.learning.overview import overview as put_together
from triage.services.learning.overview import stock_of_shop
from triage.services.learning.work import Work, state_of
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.learning.blueprint import NUMBER, SEE_OTHER, bp
from webform.learning.forms import ButtonForm, StockForm
from webform.learning.screens import overview_screen, work_screen
from webform.learning.stock_screen import stock_screen
from webform.learning.worker import begin


@bp.get("")
def overview() -> ResponseReturnValue:
    """See what can be learned, what waits for a decision, and what goes on."""
    screen = overview_screen(put_together(desk().database, desk().clock()))
    ticket = Ticket.for_page(0)
    return render_template("learning/overview.html", screen=screen, ticket=ticket)


@bp.post("/scores/begin")
def evaluate() -> ResponseReturnValue:
    """Begin to score the networks on the closed jobs."""
    number = begin(Work.EVALUATE, "", {}, sent(ButtonForm()).entry())
    return redirect(url_for("learning.work", number=number), SEE_OTHER)


@bp.get(f"/work/<{NUMBER}:number>")
def work(number: int) -> ResponseReturnValue:
    """See how far long work is."""
    screen = work_screen(state_of(desk().database, number, desk().clock()))
    return render_template("learning/work.html", screen=screen)


@bp.get("/stock")
def stock() -> ResponseReturnValue:
    """See which parts earn their place on the van."""
    form = StockForm(request.args or None)
    terms = form.terms()
    found = None if terms is None else stock_of_shop(desk().database, terms, desk().clock())
    screen = None if found is None else stock_screen(found)
    return render_template("learning/stock.html", form=form, screen=screen)
