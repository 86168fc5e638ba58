"""Routes of the audit trail. Nothing here changes it."""

from flask import render_template, request
from flask.typing import ResponseReturnValue

from triage.services.people.audit import find_acts
from webform.desk import desk
from webform.owner.audit_forms import AuditForm
from webform.owner.audit_screens import audit_screen
from webform.owner.blueprint import bp

PAGE_MAX = 99_999


def page_number(text: str) -> int:
    """Number of a page of the trail; ``ValueError`` if it is none."""
    number = int(text)
    if not 0 < number <= PAGE_MAX:
        raise ValueError(f"page {text}; expected 1 to {PAGE_MAX}")
    return number


@bp.get("/audit")
def audit() -> ResponseReturnValue:
    """Look through what was done to the shop."""
    form = AuditForm(request.args)
    form.validate()
    page = request.args.get("page", 1, type=page_number)
    trail = find_acts(desk().database, form.wanted(desk().time_zone), page=page)
    form.offer(trail.names)
    return render_template("owner/audit.html", form=form, screen=audit_screen(trail, form.data))
