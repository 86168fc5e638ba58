"""The phone call. What changes a call answers with the call as it is afterwards."""

from collections.abc import Mapping
from typing import Any

from triage.services.call_lists import desk_calls
from triage.services.call_log.events import CallOutcome, HelpAsked
from triage.services.calls import calls as services
from triage.services.calls.calls import CallReport
from triage.services.calls.help import answer_help, help_anyway
from triage.services.calls.notes import take_note
from triage.services.calls.whole import call_as_json, call_head_as_json, call_whole
from triage.services.closing.close import answer_safety_and_close, end_and_close
from triage.services.customers.records import link_customer
from triage.services.job.board import job_plan, ranked_by_job
from triage.services.plan.offer import offer_as_json
from triage.services.plan.visit import plan_as_json
from webform.api.models import calls as models
from webform.api.models.base import Submitted
from webform.api.models.plans import PlanTold
from webform.api.models.visits import PlateAsked
from webform.api.operations import CALL, entry_for, operation
from webform.api.paging import page_of
from webform.desk import desk

Json = Mapping[str, Any]
ONE = f"/calls/{CALL}"


@operation("GET", "/calls", asked=models.CallsAsked, gives=models.Calls)
def calls(asked: models.CallsAsked) -> Json:
    """List the calls that wait for something, and those opened since a moment; at most 200."""
    found = desk_calls(desk().database, since=asked.since or desk().midnight())
    lines = [{**call_head_as_json(one.state), "place": one.place.value} for one in found]
    return page_of("calls", lines, asked.page)


@operation("POST", "/calls", body=models.CallGiven, gives=models.CallShown, makes="/calls/{call}")
def open_call(sent: models.CallGiven) -> Json:
    """Open a call; the same ``client_id`` again opens no second one."""
    report = CallReport(
        network_id=sent.network,
        caller=sent.caller,
        words=sent.words,
        customer_id=sent.customer,
        machine_id=sent.machine,
        linked_to=sent.linked_to,
        phone=sent.phone,
        region=desk().desk_settings().phone_region,
    )
    return shown(services.open_call(desk().database, report, entry_for(sent.client_id)))


@operation("GET", ONE, gives=models.CallShown)
def call(call_id: int) -> Json:
    """Look at a call: where it stands, its answers, causes and next question if they may be."""
    return shown(call_id)


@operation("POST", f"{ONE}/safety", body=models.SafetyAnswersGiven, gives=models.CallShown)
def answer_safety(call_id: int, sent: models.SafetyAnswersGiven) -> Json:
    """Answer the safety questions; a danger that stops the call ends it at once."""
    told, settings, front = (sent.answers, _entry(sent)), desk().settings(), desk().front()
    answer_safety_and_close(desk().database, call_id, *told, settings=settings, front=front)
    return shown(call_id)


@operation("POST", f"{ONE}/made-safe", body=models.MadeSafeGiven, gives=models.CallShown)
def confirm_made_safe(call_id: int, sent: models.MadeSafeGiven) -> Json:
    """Say who confirmed that the machine was made safe, where the danger allows going on."""
    services.confirm_made_safe(desk().database, call_id, sent.name, _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/help", body=models.HelpGiven, gives=models.CallShown)
def can_help(call_id: int, sent: models.HelpGiven) -> Json:
    """Say where the machine is, whose it is and how to get to it."""
    asked = HelpAsked(**sent.model_dump(exclude={"client_id", "shown_version"}))
    answer_help(desk().database, call_id, asked, desk().desk_settings(), _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/help-anyway", body=models.ReasonGiven, gives=models.CallShown)
def helped_anyway(call_id: int, sent: models.ReasonGiven) -> Json:
    """Say why the shop helps although something speaks against it."""
    help_anyway(desk().database, call_id, sent.reason, _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/signs", body=models.SignsGiven, gives=models.CallShown)
def confirm_signs(call_id: int, sent: models.SignsGiven) -> Json:
    """Confirm the signs that the caller named unasked."""
    services.confirm_signs(desk().database, call_id, sent.observations, _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/answers", body=models.AnswerGiven, gives=models.CallShown)
def answer(call_id: int, sent: models.AnswerGiven) -> Json:
    """Answer a question."""
    services.answer_question(desk().database, call_id, sent.observation, sent.answer, _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/skip", body=models.QuestionGiven, gives=models.CallShown)
def skip(call_id: int, sent: models.QuestionGiven) -> Json:
    """Pass a question over."""
    services.skip_question(desk().database, call_id, sent.observation, _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/undo", body=models.QuestionGiven, gives=models.CallShown)
def undo(call_id: int, sent: models.QuestionGiven) -> Json:
    """Take an answer back."""
    services.take_back_answer(desk().database, call_id, sent.observation, _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/customer", body=models.CallerGiven, gives=models.CallShown)
def caller(call_id: int, sent: models.CallerGiven) -> Json:
    """Say whose call it is and about which machine; what its record tells goes in as answers."""
    link_customer(desk().database, call_id, sent.customer, sent.machine, _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/notes", body=models.NoteGiven, gives=models.CallShown)
def note(call_id: int, sent: models.NoteGiven) -> Json:
    """Take a note."""
    take_note(desk().database, call_id, sent.text, _entry(sent))
    return shown(call_id)


@operation("POST", f"{ONE}/end", body=models.EndGiven, gives=models.CallShown)
def end(call_id: int, sent: models.EndGiven) -> Json:
    """Record how the call ended; where nobody is to come, that closes the job, too."""
    told = (CallOutcome(sent.outcome), sent.note, _entry(sent))
    settings, front = desk().settings(), desk().front()
    end_and_close(desk().database, call_id, *told, settings=settings, front=front)
    return shown(call_id)


@operation("POST", f"{ONE}/reopen", body=Submitted, gives=models.CallShown)
def reopen(call_id: int, sent: Submitted) -> Json:
    """Go on with a call that had ended; one that a danger stopped stays ended."""
    services.reopen_call(desk().database, call_id, _entry(sent))
    return shown(call_id)


@operation("GET", f"{ONE}/plan", asked=PlateAsked, gives=PlanTold, can_conflict=True)
def plan_of_call(call_id: int, asked: PlateAsked) -> Json:
    """Look at the first visit plan of a call, with what to offer the caller."""
    found = job_plan(desk().database, call_id, plate=asked.plate, settings=desk().settings())
    return {
        "network": found.network.id,
        "version": found.network.version,
        **plan_as_json(found.plan),
        "offer": offer_as_json(found.offer),
    }


def shown(call_id: int) -> Json:
    """Call as it is now."""
    return call_as_json(
        call_whole(desk().database, call_id, desk().settings(), ranked=ranked_by_job)
    )


def _entry(sent: Submitted) -> services.Entry:
    return entry_for(sent.client_id, sent.shown_version)
