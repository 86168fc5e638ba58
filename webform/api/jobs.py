"""What happens on site: the job sheet, the next step, entries."""

from collections.abc import Mapping
from typing import Any

from triage.services.call_log.events import FindingMade
from triage.services.job import record, sheet
from triage.services.job.events import JobEvent, event_from_sent
from triage.services.job.sheet import JobSheet
from triage.services.job.state import Made, Quote
from triage.services.plan.branching import branching_plan_as_json
from triage.services.plan.load import load_as_json
from triage.services.plan.next_step import next_step_as_json
from triage.services.plan.ranking import ranking_as_json
from webform.api.models import jobs as models
from webform.api.models.base import Sent
from webform.api.operations import CALL, entry_for, operation, own_id
from webform.desk import desk

Json = Mapping[str, Any]
ONE = f"/jobs/{CALL}"


@operation("GET", ONE, gives=models.JobShown, can_conflict=True)
def job(call_id: int) -> Json:
    """Look at the job sheet of a call: what was found, the plan from here, the next step."""
    return _shown(_sheet(call_id))


@operation("GET", f"{ONE}/next-step", gives=models.NextStepOfJob, can_conflict=True)
def next_step_of_job(call_id: int) -> Json:
    """Look at the next step on site, and what each other step would cost more."""
    found = _sheet(call_id)
    return {"call": call_id, "version": found.state.version, "next_step": _next_step(found)}


@operation("POST", f"{ONE}/enter", body=models.EntryGiven, gives=models.JobShown)
def enter(call_id: int, sent: models.EntryGiven) -> Json:
    """Enter what was found, done or said, on the job as it is now."""
    entry = entry_for(sent.client_id, sent.shown_version)
    record.record(desk().database, call_id, _event(sent.entry), entry)
    return _shown(_sheet(call_id))


@operation("POST", f"{ONE}/entries", body=models.KeptEntriesGiven, gives=models.Received)
def enter_kept(call_id: int, sent: models.KeptEntriesGiven) -> Json:
    """Enter what a device kept while it had no signal; each entry counts by when it was made."""
    now, by = desk().clock(), desk().who().name
    names = {own_id(one.client_id): one.client_id for one in sent.entries}
    kept = [_kept(one) for one in sent.entries]
    received = record.record_entries(desk().database, call_id, kept, at=now, by=by)
    lines = [{**one.as_json(), "client_id": names[one.id]} for one in received]
    return {"version": sheet.find_job(desk().database, call_id).version, "entries": lines}


def _sheet(call_id: int) -> JobSheet:
    return sheet.job_sheet(desk().database, call_id, desk().settings())


def _event(entry: Sent) -> JobEvent:
    plain = entry.model_dump(mode="json")
    return event_from_sent(plain.pop("kind"), plain)


def _kept(one: models.KeptEntryGiven) -> record.SentEntry:
    plain = one.entry.model_dump(mode="json")
    return record.SentEntry(
        id=own_id(one.client_id),
        kind=plain.pop("kind"),
        payload=plain,
        made_at=one.made_at,
        shown_version=one.shown_version,
    )


def _shown(found: JobSheet) -> dict[str, Any]:
    state = found.state
    return {
        "call": state.call.call_id,
        "version": state.version,
        "network": found.network.id,
        "network_version": found.network.version,
        "is_closed": found.is_closed,
        "visit": found.visit.id if found.visit else None,
        "plate": found.plate,
        "made": [_made(one) for one in state.made],
        "quote": None if state.quote is None else _quote(state.quote),
        "orders": state.orders,
        "left_plan_by": found.place.left_by if found.place else "",
        "plan": {**_head(found), **branching_plan_as_json(found.plan)},
        "next_step": _next_step(found),
        "ranking": None if found.ranking is None else ranking_as_json(found.ranking),
        "load": load_as_json(found.load),
        "currency": found.currency,
    }


def _head(found: JobSheet) -> dict[str, Any]:
    return {"network": found.network.id, "version": found.network.version}


def _next_step(found: JobSheet) -> dict[str, Any] | None:
    if found.next_step is None:
        return None
    return {**_head(found), **next_step_as_json(found.next_step)}


def _made(one: Made) -> dict[str, Any]:
    event, stamp = one.event, {"at": one.at, "by": one.by}
    if isinstance(event, FindingMade):
        found = {"observation": event.observation, "answer": event.answer}
        return {**found, "repair": None, "verified": None, **stamp}
    done = {"repair": event.repair, "verified": event.verified}
    return {"observation": None, "answer": None, **done, **stamp}


def _quote(quote: Quote) -> dict[str, Any]:
    state = "open" if quote.is_open else ("declined" if quote.declined else "authorised")
    return {
        "amount_minor": quote.given.amount_minor,
        "what_for": quote.given.what_for,
        "state": state,
    }
