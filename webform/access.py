"""Who may open what: one table of every endpoint. What does not stand here is refused."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from urllib.parse import urlsplit

from flask import Flask, abort, redirect, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import WWWAuthenticate
from werkzeug.exceptions import Unauthorized
from werkzeug.routing import RequestRedirect

from triage.services.people.roles import Role
from triage.services.people.tokens import person_of_token
from webform.desk import desk
from webform.problems import is_for_program
from webform.session import act_as, read_account, signed_in

SIGN_IN = "auth.sign_in"
CHANGE_PASSWORD = "auth.password"
OWN_PATH = re.compile(r"/(?![/\\])[^\x00-\x20\\]*")


@dataclass(frozen=True, slots=True)
class Access:
    """Roles that may open an endpoint; one that ``is_open`` needs no sign-in."""

    roles: frozenset[Role]
    is_open: bool = False


OPEN = Access(frozenset(), is_open=True)
EVERYBODY = Access(frozenset(Role))
OFFICE = Access(frozenset({Role.DISPATCHER, Role.OWNER}))
SITE = Access(frozenset({Role.TECHNICIAN, Role.OWNER}))
OWNER = Access(frozenset({Role.OWNER}))

ACCESS: Mapping[str, Access] = {
    "static": OPEN,
    # auth
    "auth.sign_in": OPEN,
    "auth.account": EVERYBODY,
    "auth.password": EVERYBODY,
    "auth.sign_out": EVERYBODY,
    "auth.sign_out_everywhere": EVERYBODY,
    # intake
    "intake.call_list": OFFICE,
    "intake.new_call": OFFICE,
    "intake.resume": OFFICE,
    "intake.safety": OFFICE,
    "intake.danger": OFFICE,
    "intake.refer": OFFICE,
    "intake.can_help": OFFICE,
    "intake.refuse": OFFICE,
    "intake.signs": OFFICE,
    "intake.questions": OFFICE,
    "intake.answer": OFFICE,
    "intake.skip": OFFICE,
    "intake.undo": OFFICE,
    "intake.plan": OFFICE,
    "intake.branches": OFFICE,
    "intake.end": OFFICE,
    "intake.reopen": OFFICE,
    # jobsheet
    "jobsheet.day": EVERYBODY,
    "jobsheet.waiting": EVERYBODY,
    "jobsheet.job": EVERYBODY,
    "jobsheet.enter": EVERYBODY,
    "jobsheet.entries": EVERYBODY,
    "jobsheet.token": EVERYBODY,
    "jobsheet.add_photo": EVERYBODY,
    "jobsheet.kept_photo": EVERYBODY,
    "jobsheet.photo": EVERYBODY,
    "jobsheet.steps": EVERYBODY,
    "jobsheet.van_stock": SITE,
    "jobsheet.count": SITE,
    "jobsheet.refill": SITE,
    "jobsheet.service_worker": OPEN,
    "intake.customer": OFFICE,
    "intake.new_customer": OFFICE,
    "intake.note": OFFICE,
    # customers
    "customers.customer_list": OFFICE,
    "customers.new_customer": OFFICE,
    "customers.customer": OFFICE,
    "customers.new_machine": OFFICE,
    "customers.machine": OFFICE,
    # booking
    "booking.book": OFFICE,
    "booking.book_time": OFFICE,
    "booking.visit": OFFICE,
    "booking.move": OFFICE,
    "booking.move_time": OFFICE,
    "booking.cancel": OFFICE,
    "booking.late": OFFICE,
    "booking.missed": OFFICE,
    "booking.visit_file": OFFICE,
    "booking.day": OFFICE,
    "booking.week": OFFICE,
    "booking.van_list": OWNER,
    "booking.van": OWNER,
    "booking.renew_feed": OWNER,
    "booking.van_feed": OPEN,  # its address is the secret
    # closing
    "closing.close": EVERYBODY,
    "closing.close_as_ended": OFFICE,
    "closing.invoice": EVERYBODY,
    "closing.invoice_text": EVERYBODY,
    "closing.correct": OWNER,
    # checks
    "checks.check_list": EVERYBODY,
    "checks.check": EVERYBODY,
    # networks
    "networks.network_list": EVERYBODY,
    "networks.network": EVERYBODY,
    "networks.picture": EVERYBODY,
    "networks.around": EVERYBODY,
    # learning
    "learning.overview": OWNER,
    "learning.evaluate": OWNER,
    "learning.work": OWNER,
    "learning.stock": OWNER,
    "learning.files": OWNER,
    "learning.file": OWNER,
    "learning.import_file": OWNER,
    "learning.versions": OWNER,
    "learning.propose": OWNER,
    "learning.version": OWNER,
    "learning.approve": OWNER,
    "learning.reject": OWNER,
    "learning.use": OWNER,
    "learning.replan": OWNER,
    "learning.version_text": OWNER,
    "learning.scores": OWNER,
    "learning.measure": OWNER,
    "learning.begin_measure": OWNER,
    "learning.numbers_of": OWNER,
    "learning.set_number": OWNER,
    # owner
    "owner.overview": OWNER,
    "owner.closed_jobs": OWNER,
    "owner.closed_job": OWNER,
    "owner.close_ended": OWNER,
    "owner.closed_csv": OWNER,
    "owner.closed_json": OWNER,
    "owner.settings": OWNER,
    "owner.settings_parts": OWNER,
    "owner.settings_minutes": OWNER,
    "owner.settings_as_text": OWNER,
    "owner.settings_history_list": OWNER,
    "owner.settings_version": OWNER,
    "owner.plates": OWNER,
    "owner.recalls": OWNER,
    "owner.remove_number": OWNER,
    "owner.remove_recall": OWNER,
    "owner.erase_customer": OWNER,
    "owner.export_customer": OWNER,
    "owner.people": OWNER,
    "owner.new_person": OWNER,
    "owner.person": OWNER,
    "owner.reset_password": OWNER,
    "owner.deactivate": OWNER,
    "owner.activate": OWNER,
    "owner.tokens": OWNER,
    "owner.revoke_token": OWNER,
    "owner.audit": OWNER,
    # api: programs of the shop
    "api.appliances": EVERYBODY,
    "api.appliance": EVERYBODY,
    "api.observations": EVERYBODY,
    "api.versions": OWNER,
    "api.rank": EVERYBODY,
    "api.plan": EVERYBODY,
    "api.branches": EVERYBODY,
    "api.next_step": EVERYBODY,
    "api.calls": OFFICE,
    "api.open_call": OFFICE,
    "api.call": OFFICE,
    "api.answer_safety": OFFICE,
    "api.confirm_made_safe": OFFICE,
    "api.can_help": OFFICE,
    "api.helped_anyway": OFFICE,
    "api.confirm_signs": OFFICE,
    "api.answer": OFFICE,
    "api.skip": OFFICE,
    "api.undo": OFFICE,
    "api.caller": OFFICE,
    "api.note": OFFICE,
    "api.end": OFFICE,
    "api.reopen": OFFICE,
    "api.plan_of_call": OFFICE,
    "api.customers": OFFICE,
    "api.new_customer": OFFICE,
    "api.customer": OFFICE,
    "api.new_machine": OFFICE,
    "api.change_customer": OFFICE,
    "api.change_machine": OFFICE,
    "api.vans": EVERYBODY,
    "api.visits_of_day": EVERYBODY,
    "api.slots": OFFICE,
    "api.book": OFFICE,
    "api.visit": OFFICE,
    "api.move": OFFICE,
    "api.late": OFFICE,
    "api.cancel": OFFICE,
    "api.missed": OFFICE,
    "api.job": EVERYBODY,
    "api.next_step_of_job": EVERYBODY,
    "api.enter": EVERYBODY,
    "api.enter_kept": EVERYBODY,
    "api.draft": EVERYBODY,
    "api.close": EVERYBODY,
    "api.closed_job": EVERYBODY,
    "api.closed_jobs": OWNER,
    "api.openapi": EVERYBODY,
    "api.problems": EVERYBODY,
}
HOMES: Mapping[Role, str] = {
    Role.DISPATCHER: "intake.call_list",
    Role.TECHNICIAN: "jobsheet.day",
    Role.OWNER: "intake.call_list",
}
# What somebody may open who has to choose a password of their own first.
BEFORE_OWN_PASSWORD = (CHANGE_PASSWORD, "auth.sign_out")


def may_open(endpoint: str) -> bool:
    """Whether an endpoint is open to who is signed in; for links, so that none leads to a wall."""
    access = ACCESS.get(endpoint)
    if access is None:
        return False
    account = signed_in()
    return access.is_open or (account is not None and account.role in access.roles)


def home() -> str:
    """Endpoint of the page on which one's work begins."""
    account = signed_in()
    return SIGN_IN if account is None else HOMES[account.role]


def own_path(text: str) -> str:
    """Text if it is the path of a page of this form, else empty: nobody is led elsewhere.

    >>> [own_path(text) for text in ("/calls/3?ask=a", "//elsewhere.example", "https://a.example")]
    ['/calls/3?ask=a', '', '']
    """
    return text if OWN_PATH.fullmatch(text) else ""


def let_in() -> ResponseReturnValue | None:
    """Let a request through, send it to the sign-in page, or refuse it. Runs before every view."""
    endpoint = request.endpoint
    if endpoint == "static":
        return None
    if is_for_program():
        let_program_in()
        return None
    account = read_account()
    if endpoint is None:
        return None  # there is no such page, and the error page says so
    access = ACCESS.get(endpoint)
    if access is None:
        abort(HTTPStatus.FORBIDDEN)
    if access.is_open:
        return None
    if account is None:
        return redirect(url_for(SIGN_IN, next=_wanted() or None), HTTPStatus.SEE_OTHER)
    if account.must_change_password and endpoint not in BEFORE_OWN_PASSWORD:
        return redirect(url_for(CHANGE_PASSWORD), HTTPStatus.SEE_OTHER)
    if account.role not in access.roles and request.path == "/":
        return redirect(url_for(HOMES[account.role]), HTTPStatus.SEE_OTHER)
    if account.role not in access.roles:
        abort(HTTPStatus.FORBIDDEN)
    return None


def let_program_in() -> None:
    """Let a program through whose token may; no cookie counts, and nothing is redirected."""
    if request.endpoint is None:
        if isinstance(request.routing_exception, RequestRedirect):
            abort(HTTPStatus.NOT_FOUND)  # a redirect would be a page
        return  # there is no such operation, and the answer says so
    sent = request.authorization
    secret = (sent.token or "") if sent is not None and sent.type == "bearer" else ""
    person = person_of_token(desk().database, secret, desk().clock())
    if person is None:
        raise Unauthorized(www_authenticate=WWWAuthenticate("bearer", {"realm": "shop"}))
    access = ACCESS.get(request.endpoint)
    if access is None or person.role not in access.roles:
        abort(HTTPStatus.FORBIDDEN)
    act_as(person)


def _wanted() -> str:
    """Page to go on with after signing in: the one that was asked for, or whose form was sent."""
    if request.method in ("GET", "HEAD"):
        return own_path(request.full_path.rstrip("?"))
    referrer = urlsplit(request.referrer or "")
    is_ours = referrer.netloc == request.host
    return own_path(referrer._replace(scheme="", netloc="").geturl()) if is_ours else ""


def init_access(app: Flask) -> None:
    """Ask of every request whether it may come in; before the form token is looked at."""
    app.before_request(let_in)
