"""Routes of the pages on which the owner looks after people and their passwords."""

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from triage.services.people import accounts
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.owner.blueprint import bp
from webform.owner.people_forms import ButtonForm, NewPersonForm, PersonForm
from webform.owner.people_screens import once_screen, person_line, person_lines

PERSON = "/people/<login>"
SEE_OTHER = 303


@bp.get("/people")
def people() -> ResponseReturnValue:
    """Look at who may sign in."""
    lines = person_lines(accounts.find_people(desk().database))
    return render_template("owner/people.html", lines=lines)


@bp.route("/people/new", methods=["GET", "POST"])
def new_person() -> ResponseReturnValue:
    """Add somebody, and see their one-time password."""
    form = NewPersonForm().with_ticket(Ticket.for_page(0))
    if form.validate_on_submit():
        to_add = (form.person(), desk().passwords, desk().stamp())
        made = form.attempt(accounts.add_person, desk().database, *to_add)
        if made is not None:
            return render_template("owner/password_once.html", screen=once_screen(made))
    return render_template("owner/new_person.html", form=form)


@bp.route(PERSON, methods=["GET", "POST"])
def person(login: str) -> ResponseReturnValue:
    """Change the name or the role of somebody."""
    found = accounts.find_person(desk().database, login)
    form = PersonForm().show(found).with_ticket(Ticket.for_page(0))
    if form.validate_on_submit():
        changes = (form.name.data, form.chosen_role(), desk().stamp())
        if form.attempt(accounts.change_person, desk().database, login, *changes):
            return redirect(url_for("owner.people"), SEE_OTHER)
    return render_template("owner/person.html", form=form, line=person_line(found))


@bp.post(f"{PERSON}/password")
def reset_password(login: str) -> ResponseReturnValue:
    """Give somebody a one-time password."""
    sent(ButtonForm())
    made = accounts.reset_password(desk().database, login, desk().passwords, desk().stamp())
    return render_template("owner/password_once.html", screen=once_screen(made))


@bp.post(f"{PERSON}/deactivate")
def deactivate(login: str) -> ResponseReturnValue:
    """Let somebody in no more."""
    sent(ButtonForm())
    accounts.deactivate(desk().database, login, desk().stamp())
    return redirect(url_for("owner.people"), SEE_OTHER)


@bp.post(f"{PERSON}/activate")
def activate(login: str) -> ResponseReturnValue:
    """Let somebody in again."""
    sent(ButtonForm())
    accounts.activate(desk().database, login, desk().stamp())
    return redirect(url_for("owner.people"), SEE_OTHER)
