"""Routes of the closed jobs: the list, one in full, the files."""

from flask import Response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services.closing import closed, export
from triage.services.closing.close import close_what_is_left, left_to_close
from webform.desk import desk
from webform.forms import sent
from webform.owner.audit_routes import page_number
from webform.owner.blueprint import bp
from webform.owner.closed_forms import ClosedForm
from webform.owner.closed_screens import closed_screen, job_screen
from webform.owner.people_forms import ButtonForm

SEE_OTHER = 303
CALL_NUMBER_MAX = 999_999_999


@bp.get("/closed")
def closed_jobs() -> ResponseReturnValue:
    """Look through the closed jobs."""
    form = ClosedForm(request.args)
    form.validate()
    page = request.args.get("page", 1, type=page_number)
    found = closed.closed_page(desk().database, form.wanted(desk().time_zone), page=page)
    form.offer(found.people)
    left = left_to_close(desk().database)
    screen = closed_screen(found, form.data, left)
    return render_template("owner/closed_jobs.html", form=form, screen=screen)


@bp.post("/closed/close-ended")
def close_ended() -> ResponseReturnValue:
    """Close every call that ended on the phone and is not closed."""
    settings, front = desk().settings(), desk().front()
    close_what_is_left(desk().database, sent(ButtonForm()).entry(), settings=settings, front=front)
    return redirect(url_for("owner.closed_jobs"), SEE_OTHER)


@bp.get(f"/closed/<int(max={CALL_NUMBER_MAX}):call_id>")
def closed_job(call_id: int) -> ResponseReturnValue:
    """Look at a closed job in full."""
    screen = job_screen(closed.job_in_full(desk().database, call_id))
    return render_template("owner/closed_job.html", screen=screen)


@bp.get("/closed-jobs.csv")
def closed_csv() -> ResponseReturnValue:
    """Get the closed jobs that are shown as CSV."""
    wanted = ClosedForm(request.args).wanted(desk().time_zone)
    rows = export.jobs_as_csv(desk().database, wanted)
    return Response(rows, content_type="text/csv; charset=utf-8", headers=_saved("csv"))


@bp.get("/closed-jobs.json")
def closed_json() -> ResponseReturnValue:
    """Get the closed jobs that are shown as JSON."""
    wanted = ClosedForm(request.args).wanted(desk().time_zone)
    pieces = export.jobs_as_json(desk().database, wanted)
    return Response(pieces, content_type="application/json; charset=utf-8", headers=_saved("json"))


def _saved(ending: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="closed-jobs.{ending}"'}
