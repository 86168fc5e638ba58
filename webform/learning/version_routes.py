"""Routes of versions of a network: propose, look, approve, reject, put in use."""

from flask import Response, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from triage.services.learning import versions as own
from triage.services.learning.proposing import checked_settings
from triage.services.learning.work import Work, newest_replanned
from triage.services.networks.pictures import shipped_network
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.learning.blueprint import NUMBER, SEE_OTHER, bp
from webform.learning.forms import ButtonForm, ProposeForm, ReasonForm, RowsForm
from webform.learning.version_screen import list_screen, version_screen
from webform.learning.worker import begin

PLACE = f"/<name>/versions/<{NUMBER}:version>"


@bp.get("/<name>/versions")
def versions(name: str) -> ResponseReturnValue:
    """See the versions of a network."""
    screen = list_screen(shipped_network(name), own.versions_of(desk().database, name))
    return render_template("learning/versions.html", screen=screen)


@bp.route("/<name>/propose", methods=["GET", "POST"])
def propose(name: str) -> ResponseReturnValue:
    """Begin to propose a version from closed jobs."""
    network, form = shipped_network(name), ProposeForm()
    if form.with_ticket(Ticket.for_page(0)).validate_on_submit():
        given = form.settings()
        settings = None if given is None else form.attempt(checked_settings, given)
        if settings is not None:
            request = {"settings": settings, "reason": form.reason.data or ""}
            number = begin(Work.PROPOSE, name, request, form.entry())
            return redirect(url_for("learning.work", number=number), SEE_OTHER)
    return render_template("learning/propose.html", form=form, network=network)


@bp.get(PLACE)
def version(name: str, version: int) -> ResponseReturnValue:
    """Look at a version, what is behind it and what it would change."""
    return _version_page(name, version, RowsForm(), 200)


@bp.post(f"{PLACE}/approve")
def approve(name: str, version: int) -> ResponseReturnValue:
    """Approve a version, or the rows that are ticked, and put it in use."""
    form = RowsForm()
    if form.validate_on_submit():
        full = own.version_in_full(desk().database, name, version)
        keys = None if full.proposal is None else form.rows.data
        told = (desk().stamp(), form.reason.data.strip(), keys)
        number = form.attempt(own.approve, desk().database, name, version, *told)
        if number is not None:
            return redirect(url_for("learning.version", name=name, version=number), SEE_OTHER)
    return _version_page(name, version, form, 200)


@bp.post(f"{PLACE}/reject")
def reject(name: str, version: int) -> ResponseReturnValue:
    """Reject a version."""
    form = ReasonForm()
    if form.validate_on_submit():
        own.reject(desk().database, name, version, desk().stamp(), form.reason.data.strip())
        return redirect(url_for("learning.version", name=name, version=version), SEE_OTHER)
    return _version_page(name, version, form, 200)


@bp.post(f"{PLACE}/use")
def use(name: str, version: int) -> ResponseReturnValue:
    """Put an approved version in use: roll back, or forward."""
    form = ReasonForm()
    if form.validate_on_submit():
        own.use(desk().database, name, version, desk().stamp(), form.reason.data.strip())
        return redirect(url_for("learning.versions", name=name), SEE_OTHER)
    return _version_page(name, version, form, 200)


@bp.post(f"{PLACE}/replan")
def replan(name: str, version: int) -> ResponseReturnValue:
    """Begin to plan past calls with a version."""
    entry = sent(ButtonForm()).entry()
    own.version_in_full(desk().database, name, version)
    number = begin(Work.REPLAN, name, {"version": version}, entry)
    return redirect(url_for("learning.work", number=number), SEE_OTHER)


@bp.get(f"{PLACE}/network.yaml")
def version_text(name: str, version: int) -> ResponseReturnValue:
    """Keep a version as a network file."""
    text = own.text_of(desk().database, name, version)
    return Response(text, mimetype="text/plain")


def _version_page(name: str, version: int, form: ReasonForm, status: int) -> ResponseReturnValue:
    form.with_ticket(Ticket.for_page(0))
    full = own.version_in_full(desk().database, name, version)
    screen = version_screen(full, newest_replanned(desk().database, name, version))
    return render_template("learning/version.html", form=form, screen=screen), status
