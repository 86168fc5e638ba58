"""Routes of the page with tokens for other programs of the shop."""

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from triage.services.people import tokens as service
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.owner.blueprint import bp
from webform.owner.people_forms import ButtonForm
from webform.owner.token_forms import TokenForm
from webform.owner.token_screens import token_lines

TOKEN_NUMBER_MAX = 999_999_999
SEE_OTHER = 303


@bp.route("/tokens", methods=["GET", "POST"])
def tokens() -> ResponseReturnValue:
    """Look at the tokens, and make one; its secret is shown once."""
    form = TokenForm().with_ticket(Ticket.for_page(0))
    if form.validate_on_submit():
        asked = (desk().who().login, form.name.data, form.chosen_role(), desk().stamp())
        made = form.attempt(service.make_token, desk().database, *asked)
        if made is not None:
            return render_template(
                "owner/token_once.html", name=made.token.name, secret=made.secret
            )
    lines = token_lines(service.find_tokens(desk().database))
    return render_template("owner/tokens.html", form=form, lines=lines)


@bp.post(f"/tokens/<int(max={TOKEN_NUMBER_MAX}):token_id>/revoke")
def revoke_token(token_id: int) -> ResponseReturnValue:
    """Shut a program out."""
    sent(ButtonForm())
    service.revoke_token(desk().database, token_id, desk().stamp())
    return redirect(url_for("owner.tokens"), SEE_OTHER)
