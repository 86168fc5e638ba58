"""Routes of the settings: forms, the whole text, the history."""

from flask import abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services.networks.engines import network_choices
from triage.services.shop.settings import (
    save_settings,
    settings_history,
    settings_text,
    version_of_settings,
)
from triage.services.shop.settings_data import settings_data
from webform.desk import desk
from webform.forms import Ticket
from webform.owner.blueprint import bp
from webform.owner.settings_fields import Group, main_groups, minute_groups, part_groups
from webform.owner.settings_forms import SettingsForm, SettingsTextForm
from webform.owner.settings_screens import history_rows, remarks_on, version_screen

SEE_OTHER = 303
VERSION_MAX = 999_999_999


@bp.route("/settings", methods=["GET", "POST"])
def settings() -> ResponseReturnValue:
    """Look at prices, costs, hours and tax, and change them."""
    groups = main_groups(desk().settings().currency)
    return _form_page("owner.settings", "owner/settings.html", groups)


@bp.route("/settings/parts", methods=["GET", "POST"])
def settings_parts() -> ResponseReturnValue:
    """Set what parts cost, what they sell for, how many are on the van."""
    return _form_page("owner.settings_parts", "owner/settings_parts.html", part_groups())


@bp.route("/settings/minutes", methods=["GET", "POST"])
def settings_minutes() -> ResponseReturnValue:
    """Set the minutes of repairs, tests and questions of an appliance."""
    kinds = network_choices()
    chosen = request.args.get("appliance", kinds[0][0])
    if chosen not in dict(kinds):
        abort(404)
    return _form_page(
        "owner.settings_minutes",
        "owner/settings_minutes.html",
        minute_groups(chosen),
        appliance=chosen,
    )


@bp.route("/settings/text", methods=["GET", "POST"])
def settings_as_text() -> ResponseReturnValue:
    """Change the settings as text."""
    version = version_of_settings(desk().database)
    form = SettingsTextForm().with_ticket(Ticket.for_page(version))
    if form.validate_on_submit():
        reason = (form.reason.data or "").strip()
        save_settings(desk().database, form.plain_text(), reason, form.entry())
        return redirect(url_for("owner.settings_history_list"), SEE_OTHER)
    if not form.is_submitted():
        form.text.data = settings_text(desk().database)
    remarks = remarks_on(form.plain_text())
    return render_template("owner/settings_text.html", form=form, remarks=remarks)


@bp.get("/settings/history")
def settings_history_list() -> ResponseReturnValue:
    """Look at who changed the settings, when and why."""
    rows = history_rows(settings_history(desk().database))
    return render_template("owner/settings_history.html", rows=rows)


@bp.get(f"/settings/history/<int(max={VERSION_MAX}):version>")
def settings_version(version: int) -> ResponseReturnValue:
    """Look at a version of the settings, and what it changed."""
    screen = version_screen(settings_history(desk().database), version)
    if screen is None:
        abort(404)
    return render_template("owner/settings_version.html", screen=screen)


def _form_page(
    endpoint: str, template: str, groups: tuple[Group, ...], *, appliance: str = ""
) -> ResponseReturnValue:
    """Show a form of some entries, or save what was sent."""
    database = desk().database
    form = SettingsForm.for_groups(groups, settings_data(database))
    form.with_ticket(Ticket.for_page(version_of_settings(database)))
    here = url_for(endpoint, appliance=appliance or None)
    if form.validate_on_submit():
        save_settings(database, form.text(), (form.reason.data or "").strip(), form.entry())
        return redirect(url_for("owner.settings_history_list"), SEE_OTHER)
    kinds = [(name, title, name == appliance) for name, title in network_choices()]
    return render_template(template, form=form, here=here, kinds=kinds)
