"""Routes of the pages on which people sign in, sign out and change their password."""

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services.people import accounts
from webform.access import home, own_path
from webform.auth.forms import PasswordForm, SignInForm, SignOutForm
from webform.auth.screens import account_screen, signed_out
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.session import begin_session, end_session

bp = Blueprint("auth", __name__, template_folder="templates")
SEE_OTHER = 303


@bp.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> ResponseReturnValue:
    """Sign in, and go on to the page that was asked for."""
    form = SignInForm().with_ticket(Ticket.for_page(0))
    wanted = own_path(request.args.get("next", ""))
    if form.validate_on_submit():
        typed = (form.login.data, form.password.data)
        account = form.attempt(
            accounts.sign_in, desk().database, *typed, desk().passwords, desk().clock()
        )
        if account is not None:
            begin_session(account)
            return redirect(wanted or url_for(home()), SEE_OTHER)
    return render_template("auth/sign_in.html", form=form, wanted=wanted)


@bp.get("/account")
def account() -> ResponseReturnValue:
    """Look at one's own account."""
    screen = account_screen(desk().who())
    return render_template("auth/account.html", screen=screen, ticket=Ticket.for_page(0))


@bp.route("/account/password", methods=["GET", "POST"])
def password() -> ResponseReturnValue:
    """Change one's own password; other devices are signed out."""
    form = PasswordForm().with_ticket(Ticket.for_page(0))
    if form.validate_on_submit():
        typed = (desk().who().login, form.present.data, form.new.data)
        changed = form.attempt(
            accounts.change_password, desk().database, *typed, desk().passwords, desk().clock()
        )
        if changed is not None:
            begin_session(changed)
            return redirect(url_for(home()), SEE_OTHER)
    screen = account_screen(desk().who())
    return render_template("auth/password.html", form=form, screen=screen)


@bp.post("/sign-out")
def sign_out() -> ResponseReturnValue:
    """Sign out on this device, and leave nothing of the customers on it."""
    sent(SignOutForm())
    end_session()
    return signed_out(redirect(url_for("auth.sign_in"), SEE_OTHER))


@bp.post("/sign-out-everywhere")
def sign_out_everywhere() -> ResponseReturnValue:
    """Sign out on every device."""
    sent(SignOutForm())
    accounts.end_sessions(desk().database, desk().who().login, desk().clock())
    end_session()
    return signed_out(redirect(url_for("auth.sign_in"), SEE_OTHER))
