"""Routes of the intake pages: a view gets the form, calls one service, and redirects or renders."""

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services.call_lists import desk_calls, search_calls
from triage.services.call_log.events import CallOutcome
from triage.services.calls import calls
from triage.services.calls import intake as call_intake
from triage.services.calls.help import answer_help, help_anyway, help_asked
from triage.services.calls.notes import take_note
from triage.services.closing.close import answer_safety_and_close, end_and_close
from triage.services.customers.calls import (
    StartAsked,
    WhoCalls,
    call_start,
    put_on_record,
    who_calls,
)
from triage.services.customers.records import link_customer
from triage.services.job.board import job_board, job_branches, job_plan
from triage.services.networks.engines import network_choices
from webform.customers.forms import NewOfCallForm, WhoForm
from webform.customers.screens import who_screen
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.intake.branches_screen import branches_screen
from webform.intake.forms import (
    AnswerForm,
    ConfirmForm,
    NewCallForm,
    NoteForm,
    OutcomeForm,
    QuestionForm,
    ReopenForm,
    SafetyForm,
    SignsForm,
)
from webform.intake.help_forms import CanHelpForm, HelpAnywayForm
from webform.intake.help_screen import help_screen
from webform.intake.list_screens import call_list_screen, found_calls_screen, new_call_screen
from webform.intake.plan_screen import plan_screen
from webform.intake.screens import (
    board_screen,
    call_head,
    danger_screen,
    page_of,
)

bp = Blueprint("intake", __name__, template_folder="templates")

CALL_NUMBER_MAX = 999_999_999
CALL = f"/calls/<int(max={CALL_NUMBER_MAX}):call_id>"
SEE_OTHER = 303
SEARCH_MAX = 100


def after_call(outcome: CallOutcome, call_id: int) -> str:
    """Address to go on with once a call has ended: a visit is booked at once."""
    if outcome is CallOutcome.VISIT:
        return url_for("booking.book", call_id=call_id)
    return url_for("intake.call_list")


def call_number(text: str) -> int:
    """Number of a call in an address; ``ValueError`` if it is none."""
    number = int(text)
    if not 0 < number <= CALL_NUMBER_MAX:
        raise ValueError(f"call number {text}; expected 1 to {CALL_NUMBER_MAX}")
    return number


def phone_region() -> str:
    """Country of phone numbers written without one."""
    return desk().desk_settings().phone_region


def start_asked() -> StartAsked:
    """What the address of a new call says of who is calling."""
    number = {
        name: request.args.get(name, 0, type=call_number)
        for name in ("again", "linked", "customer", "machine")
    }
    return StartAsked(
        again=number["again"],
        linked_to=number["linked"],
        customer_id=number["customer"],
        machine_id=number["machine"],
        search=request.args.get("q", "")[:SEARCH_MAX],
    )


@bp.get("/")
def call_list() -> ResponseReturnValue:
    """Look at the calls that wait for something and those of today, or search all of them."""
    search = request.args.get("q", "").strip()[:SEARCH_MAX]
    if search:
        page, region = request.args.get("page", 1, type=call_number), phone_region()
        found = search_calls(desk().database, search, region, page=page)
        screen = found_calls_screen(found, search)
    else:
        screen = call_list_screen(desk_calls(desk().database, since=desk().midnight()))
    return render_template("intake/call_list.html", screen=screen)


@bp.route("/calls/new", methods=["GET", "POST"])
def new_call() -> ResponseReturnValue:
    """Open a call with what the caller says."""
    asked, region = start_asked(), desk().desk_settings().phone_region
    start = call_start(desk().database, asked, region)
    form = NewCallForm.for_appliances(network_choices(), start)
    if form.validate_on_submit():
        call_id = calls.open_call(desk().database, form.report(region), form.entry())
        return redirect(url_for("intake.safety", call_id=call_id), SEE_OTHER)
    screen = new_call_screen(start, asked.search)
    return render_template("intake/new_call.html", form=form, screen=screen)


def who_asked(call_id: int) -> tuple[WhoCalls, str]:
    """Call with its customer, and what is searched for."""
    search, region = request.args.get("q", "")[:SEARCH_MAX], desk().desk_settings().phone_region
    return who_calls(desk().database, call_id, search, region), search


def who_page(
    who: WhoCalls, search: str, form: WhoForm | None, new: NewOfCallForm | None
) -> ResponseReturnValue:
    """Page with both forms: a caller who is on record, and one who is not."""
    ticket = Ticket.for_page(who.state.version)
    return render_template(
        "intake/customer.html",
        head=call_head(who.state, "intake.customer"),
        who=who,
        screen=who_screen(who),
        search=search,
        form=form or WhoForm(formdata=None).fresh(ticket),
        new=new or NewOfCallForm.for_call(who.state.caller, who.drives).fresh(ticket),
    )


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
        told, settings, front = (form.answers(), form.entry()), desk().settings(), desk().front()
        answer_safety_and_close(desk().database, call_id, *told, settings=settings, front=front)
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
    asked = help_asked(desk().database, call_id, settings, desk().clock())
    form = CanHelpForm.for_call(asked).with_ticket(Ticket.for_page(asked.state.version))
    if form.validate_on_submit():
        answers, callback = form.answers(), form.callback_judged(asked)
        answer_help(desk().database, call_id, answers, settings, form.entry(), callback=callback)
        return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
    screen = help_screen(asked, settings)
    return render_template("intake/can_help.html", form=form, screen=screen, head=screen.head)


@bp.route(f"{CALL}/refuse", methods=["GET", "POST"])
def refuse(call_id: int) -> ResponseReturnValue:
    """Say who helps instead of the shop, or why it helps all the same."""
    asked = help_asked(desk().database, call_id, desk().desk_settings(), desk().clock())
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
    found = job_board(desk().database, call_id, ask=ask, settings=settings)
    return render_template("intake/questions.html", screen=board_screen(found))


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
    planned = job_plan(desk().database, call_id, settings=desk().settings())
    return render_template("intake/plan.html", screen=plan_screen(planned))


@bp.get(f"{CALL}/plan/branches")
def branches(call_id: int) -> ResponseReturnValue:
    """Look at what every result of the visit plan leads to."""
    found = job_branches(desk().database, call_id, settings=desk().settings())
    return render_template("intake/branches.html", screen=branches_screen(found))


@bp.route(f"{CALL}/end", methods=["GET", "POST"])
def end(call_id: int) -> ResponseReturnValue:
    """Record how the call ended."""
    state = calls.find_call(desk().database, call_id)
    allowed = calls.outcomes_allowed(desk().database, state)
    form = OutcomeForm.for_outcomes(allowed, request.args.get("outcome", ""))
    if form.with_ticket(Ticket.for_page(state.version)).validate_on_submit():
        told = (form.chosen(), form.note.data, form.entry())
        settings, front = desk().settings(), desk().front()
        end_and_close(desk().database, call_id, *told, settings=settings, front=front)
        return redirect(after_call(form.chosen(), call_id), SEE_OTHER)
    return render_template("intake/end.html", head=call_head(state, "intake.end"), form=form)


@bp.route(f"{CALL}/customer", methods=["GET", "POST"])
def customer(call_id: int) -> ResponseReturnValue:
    """Say who is calling about which machine."""
    who, search = who_asked(call_id)
    form = WhoForm().with_ticket(Ticket.for_page(who.state.version))
    if form.validate_on_submit():
        customer_id, machine_id = form.chosen()
        link_customer(desk().database, call_id, customer_id, machine_id, form.entry())
        return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
    return who_page(who, search, form, None)


@bp.post(f"{CALL}/customer/new")
def new_customer(call_id: int) -> ResponseReturnValue:
    """Put the caller and the machine on record."""
    who, search = who_asked(call_id)
    form = NewOfCallForm.for_call(who.state.caller, who.drives)
    if form.validate_on_submit():
        customer, machine = form.customer(), form.machine(who.state.network_id)
        region = desk().desk_settings().phone_region
        put_on_record(desk().database, call_id, customer, machine, region, form.entry())
        return redirect(url_for("intake.customer", call_id=call_id), SEE_OTHER)
    return who_page(who, search, None, form)


@bp.route(f"{CALL}/note", methods=["GET", "POST"])
def note(call_id: int) -> ResponseReturnValue:
    """Take a note, and read those that were taken."""
    state = calls.find_call(desk().database, call_id)
    form = NoteForm().with_ticket(Ticket.for_page(state.version))
    if form.validate_on_submit():
        take_note(desk().database, call_id, form.text.data, form.entry())
        return redirect(url_for("intake.note", call_id=call_id), SEE_OTHER)
    head = call_head(state, "intake.note")
    return render_template("intake/note.html", head=head, form=form, notes=state.notes)


@bp.post(f"{CALL}/reopen")
def reopen(call_id: int) -> ResponseReturnValue:
    """Go on with a call that had ended."""
    calls.reopen_call(desk().database, call_id, sent(ReopenForm()).entry())
    return redirect(url_for("intake.resume", call_id=call_id), SEE_OTHER)
