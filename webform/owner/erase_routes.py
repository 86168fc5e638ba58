"""Routes on which the owner hands out or erases what is known of a customer."""

from flask import Response, redirect, render_template, url_for
from flask.typing import ResponseReturnValue
from wtforms import BooleanField
from wtforms.validators import InputRequired

from triage.services.customers import erase
from webform.desk import desk
from webform.forms import PageForm, Ticket, sent
from webform.owner.blueprint import bp

SEE_OTHER = 303
CUSTOMER_MAX = 999_999_999
CUSTOMER = f"/customers/<int(max={CUSTOMER_MAX}):customer_id>"


class EraseForm(PageForm):
    """A box to tick, so that nobody is erased by a slip."""

    is_sure = BooleanField(
        "Erase it for good",
        validators=[InputRequired("Tick the box if it is to be erased for good")],
    )


@bp.route(f"{CUSTOMER}/erase", methods=["GET", "POST"])
def erase_customer(customer_id: int) -> ResponseReturnValue:
    """Erase who a customer is, after a look at what goes and what stays."""
    preview = erase.erasure_preview(desk().database, customer_id)
    form = EraseForm().with_ticket(Ticket.for_page(preview.version))
    if form.validate_on_submit():
        erase.erase_customer(desk().database, customer_id, form.entry())
        return redirect(url_for("owner.erase_customer", customer_id=customer_id), SEE_OTHER)
    return render_template("owner/erase_customer.html", form=form, preview=preview)


@bp.post(f"{CUSTOMER}/export")
def export_customer(customer_id: int) -> ResponseReturnValue:
    """Hand out everything that is known of a customer."""
    sent(PageForm())
    text = erase.customer_as_json(desk().database, customer_id, desk().stamp())
    saved = {"Content-Disposition": f'attachment; filename="customer-{customer_id}.json"'}
    return Response(text, content_type="application/json; charset=utf-8", headers=saved)
