"""The pages that are also shown again with what could not be recorded: the sheet and the stock."""

from flask import render_template, request, url_for

from triage.services.job import sheet, stock
from webform.desk import desk
from webform.forms import Ticket
from webform.jobsheet.printed import qr_code
from webform.jobsheet.refusal import NOTHING_REFUSED, Refusal
from webform.jobsheet.screens import sheet_screen
from webform.jobsheet.stock_screen import stock_screen


def show_sheet(call_id: int, refusal: Refusal = NOTHING_REFUSED) -> str:
    """Job sheet as it is now."""
    found = sheet.job_sheet(desk().database, call_id, desk().settings())
    code = qr_code(url_for("jobsheet.job", call_id=call_id, _external=True))
    is_open = request.args.get("show") == "all"
    screen = sheet_screen(found, desk().clock(), refusal, is_open=is_open)
    return render_template("jobsheet/job.html", screen=screen, qr_code=code)


def show_stock(van_id: int, refusal: Refusal = NOTHING_REFUSED) -> str:
    """Stock of a van as it is now."""
    found = stock.van_stock(desk().database, van_id, desk().settings())
    screen = stock_screen(found, refusal)
    return render_template("jobsheet/stock.html", screen=screen, ticket=Ticket.for_page(0))
