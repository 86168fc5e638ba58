"""Routes of the intake pages: a view gets the form, calls one service, and redirects or renders."""

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services import call_board, call_intake, calls
from triage.services.call_events import CallOutcome
from triage.services.call_help import answer_help, help_anyway, help_asked
from triage.services.engines import network_choices
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.intake.forms import (
    AnswerForm,
    ConfirmForm,
    NewCallForm,
    OutcomeForm,
    QuestionForm,
    ReopenForm,
    SafetyForm,
    SignsForm,
)
from webform.intake.help_forms import CanHelpForm, HelpAnywayForm
from webform.intake.plan_screen import plan_screen
from webform.intake.screens import (
    board_screen,
    call_head,
    call_lines,
    danger_screen,
    page_of,
)

bp = Blueprint("intake", __name__, template_folder="templates")

CALL_NUMBER_MAX = 999_999_999
CALL = f"/calls/<int(max={CALL_NUMBER_MAX}):call_id>"
SEE_OTHER = 303


def call_number(text: str) -> int:
    """Number of a call in an address; ``ValueError`` if it is none."""
    number = int(text)
    if not 0 < number <= CALL_NUMBER_MAX:
        raise ValueError(f"call number {text}; expected 1 to {CALL_NUMBER_MAX}")
    return number


@bp.get("/")
def call_list() -> ResponseReturnValue:
    """Look at the open calls and those of today."""
    found = calls.find_calls(desk().database, since=desk().midnight())
    lines = call_lines(found)
    return render_template(
        "intake/call_list.html",
        open_calls=[line for line in lines if line.call.is_open],
        ended_calls=[line for line in lines if not line.call.is_open],
    )


@bp.route("/calls/new", methods=["GET", "POST"])
def new_call() -> ResponseReturnValue:
    """Open a call with what the caller says."""
    again = request.args.get("again", type=call_number)
    repeated = calls.find_call(desk().database, again) if again else None
    form = NewCallForm.for_appliances(network_choices(), repeated)
    if form.validate_on_submit():
        call_id = calls.open_call(desk().database, form.report(), form.entry())
        return redirect(url_for("intake.safety", call_id=call_id), SEE_OTHER)
    return render_template("intake/new_call.html", form=form)


@bp.get(CALL)
def resume(call_id: int) -> ResponseReturnValue:
    """Go on with a call where it stands."""
    endpoint = page_of(calls.find_call(desk().database, call_id))
    return redirect(url_for(endpoint, call_id=call_id), SEE_OTHER)


@bp.route(f"{CALL}/safety", methods=["GET", "POST"])
def safety(call_id: int) -> ResponseReturnValue:
    """Ask the safety questions."""
    check = call_intake.safety_check(desk().database, call_id)
    form = SafetyForm.for_check(check).with_ticket(Ticket.for_page(check.state.version))
    if form.validate_on_submit():
        calls.answer_safety_questions(desk().database, call_id, form.answers(), form.entry())
        return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
    head = call_head(check.state, "intake.safety")
    return render_template("intake/safety.html", head=head, form=form, check=check)


@bp.route(f"{CALL}/danger", methods=["GET", "POST"])
def danger(call_id: int) -> ResponseReturnValue:
    """Say what a danger demands, and take the name of who made it safe."""
    check = call_intake.safety_check(desk().database, call_id)
    form = ConfirmForm().with_ticket(Ticket.for_page(check.state.version))
    if form.validate_on_submit():
        calls.confirm_made_safe(desk().database, call_id, form.name.data, form.entry())
        return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
    head = call_head(check.state, "intake.danger")
    screen = danger_screen(check)
    return render_template("intake/danger.html", head=head, form=form, screen=screen)


@bp.get(f"{CALL}/refer")
def refer(call_id: int) -> ResponseReturnValue:
    """Say who takes over a machine that the shop does not repair, and record it."""
    found = call_intake.referral(desk().database, call_id)
    if found is None:
        return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
    form = OutcomeForm.for_outcomes([CallOutcome.REFER_OUT], CallOutcome.REFER_OUT.value)
    form.with_ticket(Ticket.for_page(found.state.version))
    head = call_head(found.state, "intake.refer")
    return render_template("intake/refer.html", head=head, form=form, kind=found.kind)


@bp.route(f"{CALL}/help", methods=["GET", "POST"])
def can_help(call_id: int) -> ResponseReturnValue:
    """Ask where the machine is, whose it is, and how to get to it."""
    settings = desk().desk_settings()
    asked = help_asked(desk().database, call_id)
    form = CanHelpForm.for_call(asked.state, asked.place)
    if form.with_ticket(Ticket.for_page(asked.state.version)).validate_on_submit():
        answer_help(desk().database, call_id, form.answers(), settings, form.entry())
        return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
    head = call_head(asked.state, "intake.can_help")
    asks_place = bool(settings.service_area)
    return render_template("intake/can_help.html", form=form, head=head, asks_place=asks_place)


@bp.route(f"{CALL}/refuse", methods=["GET", "POST"])
def refuse(call_id: int) -> ResponseReturnValue:
    """Say who helps instead of the shop, or why it helps all the same."""
    asked = help_asked(desk().database, call_id)
    form = HelpAnywayForm().with_ticket(Ticket.for_page(asked.state.version))
    if form.validate_on_submit():
        help_anyway(desk().database, call_id, form.reason.data, form.entry())
        return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
    head = call_head(asked.state, "intake.refuse")
    return render_template("intake/refuse.html", head=head, form=form, refusals=asked.refusals)


@bp.route(f"{CALL}/signs", methods=["GET", "POST"])
def signs(call_id: int) -> ResponseReturnValue:
    """Choose the signs that the caller named unasked."""
    choices = call_intake.sign_choices(desk().database, call_id)
    form = SignsForm.for_choices(choices).with_ticket(Ticket.for_page(choices.state.version))
    if form.validate_on_submit():
        calls.confirm_signs(desk().database, call_id, form.chosen(), form.entry())
        return redirect(url_for("intake.questions", call_id=call_id), SEE_OTHER)
    head = call_head(choices.state, "intake.signs")
    return render_template("intake/signs.html", head=head, form=form, choices=choices)


@bp.get(f"{CALL}/questions")
def questions(call_id: int) -> ResponseReturnValue:
    """Ask the next question and look at the causes."""
    ask, settings = request.args.get("ask"), desk().settings()
    board = call_board.call_board(desk().database, call_id, ask=ask, settings=settings)
    return render_template("intake/questions.html", screen=board_screen(board))


@bp.post(f"{CALL}/answer")
def answer(call_id: int) -> ResponseReturnValue:
    """Record the answer to a question."""
    form = sent(AnswerForm())
    calls.answer_question(
        desk().database, call_id, form.observation.data, form.answer.data, form.entry()
    )
    return redirect(url_for("intake.questions", call_id=call_id), SEE_OTHER)


@bp.post(f"{CALL}/skip")
def skip(call_id: int) -> ResponseReturnValue:
    """Pass a question over."""
    form = sent(QuestionForm())
    calls.skip_question(desk().database, call_id, form.observation.data, form.entry())
    return redirect(url_for("intake.questions", call_id=call_id), SEE_OTHER)


@bp.post(f"{CALL}/undo")
def undo(call_id: int) -> ResponseReturnValue:
    """Take an answer back."""
    form = sent(QuestionForm())
    calls.take_back_answer(desk().database, call_id, form.observation.data, form.entry())
    return redirect(url_for("intake.questions", call_id=call_id), SEE_OTHER)


@bp.get(f"{CALL}/plan")
def plan(call_id: int) -> ResponseReturnValue:
    """Look at the first visit plan."""
    planned = call_board.call_plan(desk().database, call_id, settings=desk().settings())
    return render_template("intake/plan.html", screen=plan_screen(planned))


@bp.route(f"{CALL}/end", methods=["GET", "POST"])
def end(call_id: int) -> ResponseReturnValue:
    """Record how the call ended."""
    state = calls.find_call(desk().database, call_id)
    allowed = calls.outcomes_allowed(state)
    form = OutcomeForm.for_outcomes(allowed, request.args.get("outcome", ""))
    if form.with_ticket(Ticket.for_page(state.version)).validate_on_submit():
        calls.end_call(desk().database, call_id, form.chosen(), form.note.data, form.entry())
        return redirect(url_for("intake.call_list"), SEE_OTHER)
    return render_template("intake/end.html", head=call_head(state, "intake.end"), form=form)


@bp.post(f"{CALL}/reopen")
def reopen(call_id: int) -> ResponseReturnValue:
    """Go on with a call that had ended."""
    calls.reopen_call(desk().database, call_id, sent(ReopenForm()).entry())
    return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
