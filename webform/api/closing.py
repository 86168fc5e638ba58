"""Close a job; closed jobs."""

from collections.abc import Mapping
from typing import Any

from triage.services.closing.close import close_job
from triage.services.closing.closed import ClosingFilter, job_in_full
from triage.services.closing.draft import closing_draft
from triage.services.closing.export import jobs_page
from triage.services.closing.values import CauseClosed, ClosingGiven, PartUsed
from webform.api.models import closing as models
from webform.api.operations import CALL, entry_for, operation
from webform.desk import desk

Json = Mapping[str, Any]
ONE = f"/jobs/{CALL}/closing"


@operation("GET", f"{ONE}/draft", gives=models.ClosingDraftShown)
def draft(call_id: int) -> Json:
    """Look at the closing of a job as it is proposed, filled in from what the job holds."""
    settings = desk().settings()
    found = closing_draft(desk().database, call_id, settings, desk().clock())
    return {
        "call": call_id,
        "version": found.version,
        "is_closed": found.standing is not None,
        "draft": found.given,
        "causes": found.causes,
        "ordered": found.ordered,
        "later_visit": found.later_visit,
        "currency": settings.currency,
    }


@operation("GET", ONE, gives=models.ClosedShown)
def closed_job(call_id: int) -> Json:
    """Look at a closed job."""
    return _closed(call_id)


@operation(
    "POST", ONE, body=models.ClosingGiven, gives=models.ClosedShown, makes="/jobs/{call}/closing"
)
def close(call_id: int, sent: models.ClosingGiven) -> Json:
    """Close a job."""
    here, entry = desk(), entry_for(sent.client_id, sent.shown_version)
    settings, front = here.settings(), here.front()
    close_job(here.database, call_id, _given(sent), entry, settings=settings, front=front)
    return _closed(call_id)


@operation("GET", "/closed-jobs", asked=models.ClosedAsked, gives=models.ClosedJobs)
def closed_jobs(asked: models.ClosedAsked) -> Json:
    """List closed jobs, newest first, as the export of the shop writes them."""
    wanted = ClosingFilter(
        network_id=asked.network or "",
        outcome=asked.outcome.value if asked.outcome else "",
        since=asked.since,
        before=asked.before,
    )
    found = jobs_page(desk().database, wanted, page=asked.page)
    counts = {"count": found.count, "page": found.page, "pages": found.pages}
    return {"closed_jobs": list(found.entries), **counts}


def _given(sent: models.ClosingGiven) -> ClosingGiven:
    plain = sent.model_dump(exclude={"client_id", "shown_version", "causes", "parts"})
    return ClosingGiven(
        **{**plain, "repairs": tuple(sent.repairs)},
        causes=tuple(CauseClosed(one.cause, one.degree) for one in sent.causes),
        parts=tuple(PartUsed(**one.model_dump()) for one in sent.parts),
    )


def _closed(call_id: int) -> Json:
    found = job_in_full(desk().database, call_id)
    kept = found.closing.data
    return {
        "call": call_id,
        "version": found.call.version,
        "network": found.closing.network_id,
        "closing": found.given,
        "tax_minor": kept.tax_minor,
        "total_minor": kept.total_minor,
        "currency": kept.currency,
        "closed_at": found.closing.closed_at,
        "closed_by": found.closing.closed_by,
    }
