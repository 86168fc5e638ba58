"""Every route stands in this table; reading a page writes nothing; every view is short."""

import ast
import re

import pytest
from flask import Flask

from tests.project.tree import python_files
from tests.web.closed_call import close_a_call
from tests.web.conftest import NINE
from tests.web.desk_records import put_on_record
from tests.web.page import Visitor
from tests.web.taking_calls import answer_number, begin, to_questions
from tests.web.technician import van_of
from triage.services.calls.calls import Database, Entry, Submission, find_call, find_calls
from triage.services.learning.files import send_file
from webform.desk import EXTENSION

ROUTES = {
    ("auth.sign_in", "/sign-in", "GET"),
    ("auth.sign_in", "/sign-in", "POST"),
    ("auth.account", "/account", "GET"),
    ("auth.password", "/account/password", "GET"),
    ("auth.password", "/account/password", "POST"),
    ("auth.sign_out", "/sign-out", "POST"),
    ("auth.sign_out_everywhere", "/sign-out-everywhere", "POST"),
    ("intake.call_list", "/", "GET"),
    ("intake.new_call", "/calls/new", "GET"),
    ("intake.new_call", "/calls/new", "POST"),
    ("intake.resume", "/calls/#", "GET"),
    ("intake.safety", "/calls/#/safety", "GET"),
    ("intake.safety", "/calls/#/safety", "POST"),
    ("intake.danger", "/calls/#/danger", "GET"),
    ("intake.danger", "/calls/#/danger", "POST"),
    ("intake.refer", "/calls/#/refer", "GET"),
    ("intake.signs", "/calls/#/signs", "GET"),
    ("intake.signs", "/calls/#/signs", "POST"),
    ("intake.questions", "/calls/#/questions", "GET"),
    ("intake.answer", "/calls/#/answer", "POST"),
    ("intake.skip", "/calls/#/skip", "POST"),
    ("intake.undo", "/calls/#/undo", "POST"),
    ("intake.plan", "/calls/#/plan", "GET"),
    ("intake.branches", "/calls/#/plan/branches", "GET"),
    ("intake.end", "/calls/#/end", "GET"),
    ("intake.end", "/calls/#/end", "POST"),
    ("intake.reopen", "/calls/#/reopen", "POST"),
    ("intake.can_help", "/calls/#/help", "GET"),
    ("intake.can_help", "/calls/#/help", "POST"),
    ("intake.refuse", "/calls/#/refuse", "GET"),
    ("intake.refuse", "/calls/#/refuse", "POST"),
    ("intake.customer", "/calls/#/customer", "GET"),
    ("intake.customer", "/calls/#/customer", "POST"),
    ("intake.new_customer", "/calls/#/customer/new", "POST"),
    ("intake.note", "/calls/#/note", "GET"),
    ("intake.note", "/calls/#/note", "POST"),
    ("customers.customer_list", "/customers", "GET"),
    ("customers.new_customer", "/customers/new", "GET"),
    ("customers.new_customer", "/customers/new", "POST"),
    ("customers.customer", "/customers/#", "GET"),
    ("customers.customer", "/customers/#", "POST"),
    ("customers.new_machine", "/customers/#/machines/new", "GET"),
    ("customers.new_machine", "/customers/#/machines/new", "POST"),
    ("customers.machine", "/customers/#/machines/#", "GET"),
    ("customers.machine", "/customers/#/machines/#", "POST"),
    ("booking.book", "/calls/#/book", "GET"),
    ("booking.book", "/calls/#/book", "POST"),
    ("booking.book_time", "/calls/#/book/time", "GET"),
    ("booking.book_time", "/calls/#/book/time", "POST"),
    ("booking.visit", "/visits/#", "GET"),
    ("booking.move", "/visits/#/move", "GET"),
    ("booking.move", "/visits/#/move", "POST"),
    ("booking.move_time", "/visits/#/move/time", "GET"),
    ("booking.move_time", "/visits/#/move/time", "POST"),
    ("booking.cancel", "/visits/#/cancel", "GET"),
    ("booking.cancel", "/visits/#/cancel", "POST"),
    ("booking.late", "/visits/#/late", "GET"),
    ("booking.late", "/visits/#/late", "POST"),
    ("booking.missed", "/visits/#/missed", "POST"),
    ("booking.visit_file", "/visits/#/visit.ics", "GET"),
    ("booking.day", "/visits", "GET"),
    ("booking.week", "/visits/week", "GET"),
    ("booking.van_list", "/vans", "GET"),
    ("booking.van_list", "/vans", "POST"),
    ("booking.van", "/vans/#", "GET"),
    ("booking.van", "/vans/#", "POST"),
    ("booking.renew_feed", "/vans/#/calendar", "POST"),
    ("booking.van_feed", "/calendar/<secret>.ics", "GET"),
    ("jobsheet.day", "/day", "GET"),
    ("jobsheet.waiting", "/jobs/waiting", "GET"),
    ("jobsheet.token", "/jobs/token", "GET"),
    ("jobsheet.job", "/jobs/#", "GET"),
    ("jobsheet.enter", "/jobs/#/enter", "POST"),
    ("jobsheet.entries", "/jobs/#/entries", "POST"),
    ("jobsheet.add_photo", "/jobs/#/photos", "POST"),
    ("jobsheet.kept_photo", "/jobs/#/kept-photos", "POST"),
    ("jobsheet.photo", "/jobs/#/photos/#", "GET"),
    ("jobsheet.steps", "/steps/<name>", "GET"),
    ("jobsheet.van_stock", "/stock/#", "GET"),
    ("jobsheet.count", "/stock/#/count", "POST"),
    ("jobsheet.refill", "/stock/#/refill", "POST"),
    ("jobsheet.service_worker", "/sw.js", "GET"),
    ("checks.check_list", "/checks", "GET"),
    ("checks.check", "/checks/<name>", "GET"),
    ("networks.network_list", "/networks", "GET"),
    ("networks.network", "/networks/<name>", "GET"),
    ("networks.picture", "/networks/<name>/picture.svg", "GET"),
    ("networks.around", "/networks/<name>/around", "GET"),
    ("learning.overview", "/learning", "GET"),
    ("learning.evaluate", "/learning/scores/begin", "POST"),
    ("learning.work", "/learning/work/#", "GET"),
    ("learning.stock", "/learning/stock", "GET"),
    ("learning.files", "/learning/files", "GET"),
    ("learning.files", "/learning/files", "POST"),
    ("learning.file", "/learning/files/#", "GET"),
    ("learning.file", "/learning/files/#", "POST"),
    ("learning.import_file", "/learning/files/#/import", "POST"),
    ("learning.versions", "/learning/<name>/versions", "GET"),
    ("learning.propose", "/learning/<name>/propose", "GET"),
    ("learning.propose", "/learning/<name>/propose", "POST"),
    ("learning.version", "/learning/<name>/versions/#", "GET"),
    ("learning.approve", "/learning/<name>/versions/#/approve", "POST"),
    ("learning.reject", "/learning/<name>/versions/#/reject", "POST"),
    ("learning.use", "/learning/<name>/versions/#/use", "POST"),
    ("learning.replan", "/learning/<name>/versions/#/replan", "POST"),
    ("learning.version_text", "/learning/<name>/versions/#/network.yaml", "GET"),
    ("learning.scores", "/learning/scores", "GET"),
    ("learning.measure", "/learning/<name>/measure", "GET"),
    ("learning.begin_measure", "/learning/<name>/measure/begin", "POST"),
    ("learning.numbers_of", "/learning/<name>/numbers", "GET"),
    ("learning.set_number", "/learning/<name>/number", "GET"),
    ("learning.set_number", "/learning/<name>/number", "POST"),
    ("owner.overview", "/shop", "GET"),
    ("owner.people", "/shop/people", "GET"),
    ("owner.new_person", "/shop/people/new", "GET"),
    ("owner.new_person", "/shop/people/new", "POST"),
    ("owner.person", "/shop/people/<login>", "GET"),
    ("owner.person", "/shop/people/<login>", "POST"),
    ("owner.reset_password", "/shop/people/<login>/password", "POST"),
    ("owner.deactivate", "/shop/people/<login>/deactivate", "POST"),
    ("owner.activate", "/shop/people/<login>/activate", "POST"),
    ("owner.tokens", "/shop/tokens", "GET"),
    ("owner.tokens", "/shop/tokens", "POST"),
    ("owner.revoke_token", "/shop/tokens/#/revoke", "POST"),
    ("owner.audit", "/shop/audit", "GET"),
    ("closing.close", "/calls/#/close", "GET"),
    ("closing.close", "/calls/#/close", "POST"),
    ("closing.close_as_ended", "/calls/#/close-as-ended", "POST"),
    ("closing.invoice", "/calls/#/invoice", "GET"),
    ("closing.invoice_text", "/calls/#/invoice.txt", "GET"),
    ("closing.correct", "/calls/#/correct", "GET"),
    ("closing.correct", "/calls/#/correct", "POST"),
    ("owner.closed_jobs", "/shop/closed", "GET"),
    ("owner.closed_job", "/shop/closed/#", "GET"),
    ("owner.close_ended", "/shop/closed/close-ended", "POST"),
    ("owner.closed_csv", "/shop/closed-jobs.csv", "GET"),
    ("owner.closed_json", "/shop/closed-jobs.json", "GET"),
    ("owner.settings", "/shop/settings", "GET"),
    ("owner.settings", "/shop/settings", "POST"),
    ("owner.settings_parts", "/shop/settings/parts", "GET"),
    ("owner.settings_parts", "/shop/settings/parts", "POST"),
    ("owner.settings_minutes", "/shop/settings/minutes", "GET"),
    ("owner.settings_minutes", "/shop/settings/minutes", "POST"),
    ("owner.settings_as_text", "/shop/settings/text", "GET"),
    ("owner.settings_as_text", "/shop/settings/text", "POST"),
    ("owner.settings_history_list", "/shop/settings/history", "GET"),
    ("owner.settings_version", "/shop/settings/history/#", "GET"),
    ("owner.plates", "/shop/plates", "GET"),
    ("owner.plates", "/shop/plates", "POST"),
    ("owner.remove_number", "/shop/plates/#/remove", "POST"),
    ("owner.recalls", "/shop/recalls", "GET"),
    ("owner.recalls", "/shop/recalls", "POST"),
    ("owner.remove_recall", "/shop/recalls/#/remove", "POST"),
    ("owner.erase_customer", "/shop/customers/#/erase", "GET"),
    ("owner.erase_customer", "/shop/customers/#/erase", "POST"),
    ("owner.export_customer", "/shop/customers/#/export", "POST"),
    ("static", "/static/<path:filename>", "GET"),
}
NAMES = {
    "checks": "dryer_duct",
    "jobsheet": "gas_dryer",
    "learning": "top_load_washer",
    "networks": "top_load_washer",
}
NO_PAGES = (
    "static",
    "networks.picture",
    "jobsheet.photo",
    "jobsheet.service_worker",
    "jobsheet.token",
    "learning.work",
    "learning.version_text",
    "booking.visit_file",
    "booking.van_feed",
    "closing.invoice_text",
    "owner.closed_csv",
    "owner.closed_json",
)
OF_CLOSED_JOB = ("closing.invoice", "closing.correct", "owner.closed_job")
NUMBER = re.compile(r"<int\(max=999999999\):\w+>")


def address(endpoint: str, path: str) -> str:
    """Address of a page that there is: call 1, the owner, a known name; call 2 is closed."""
    name = NAMES.get(endpoint.split(".")[0], "")
    path += "?number=share:drive_belt.broken" if endpoint == "learning.set_number" else ""
    return (
        path.replace("#", "2" if endpoint in OF_CLOSED_JOB else "1")
        .replace("<name>", name)
        .replace("<login>", "owner")
    )


PAGES = sorted(
    address(endpoint, path)
    for endpoint, path, method in ROUTES
    if method == "GET" and endpoint not in NO_PAGES
)
FORMS = sorted(address(name, path) for name, path, method in ROUTES if method == "POST")


def keep_a_file(database: Database) -> None:
    """Send a file of closed jobs in, which nobody has taken in yet."""
    entry = Entry(submission=Submission("file", 0), at=NINE, by="a test")
    send_file(database, "jobs.csv", b"job,closed_at\n1,2026-01-05\n", entry)


def views() -> list[ast.FunctionDef]:
    modules = [path for path in python_files("webform") if path.name.endswith("routes.py")]
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in modules]
    found = [node for tree in trees for node in tree.body if isinstance(node, ast.FunctionDef)]
    return [view for view in found if view.decorator_list]


def test_table_holds_every_route(app: Flask) -> None:
    found = {
        (rule.endpoint, NUMBER.sub("#", rule.rule), method)
        for rule in app.url_map.iter_rules()
        for method in rule.methods - {"HEAD", "OPTIONS"}
        if not rule.endpoint.startswith("api.")  # test_api_document.py holds those
    }

    assert found == ROUTES


def test_reading_any_page_writes_nothing(app: Flask, visitor: Visitor) -> None:
    answer_number(visitor, to_questions(visitor), "1")
    database = app.extensions[EXTENSION].database
    van_of(database)
    put_on_record(database)
    assert close_a_call(database) == 2
    keep_a_file(database)
    before = find_call(database, 1)

    statuses = {path: visitor.open(path).status for path in PAGES}

    assert statuses == dict.fromkeys(PAGES, 200)
    assert find_calls(database, since=before.opened_at) == (before,)


@pytest.mark.parametrize("path", FORMS)
def test_form_without_a_token_is_refused(visitor: Visitor, path: str) -> None:
    begin(visitor)

    response = visitor.client.post(path, data={"answer": "yes"})

    assert response.status_code == 400
    assert "This page has expired" in response.text


def test_form_sent_with_a_token_alone_gives_a_page_and_records_nothing(
    app: Flask, visitor: Visitor
) -> None:
    page = to_questions(visitor)
    put_on_record(app.extensions[EXTENSION].database)
    close_a_call(app.extensions[EXTENSION].database)
    keep_a_file(app.extensions[EXTENSION].database)
    token = page.root.all("input", name="csrf_token")[0].attributes["value"]
    before = find_call(app.extensions[EXTENSION].database, 1)

    sent = {path: visitor.client.post(path, data={"csrf_token": token}) for path in FORMS}

    assert {response.status_code for response in sent.values()} == {200, 400}
    assert all("<h1>" in response.text for response in sent.values())
    assert find_calls(app.extensions[EXTENSION].database, since=before.opened_at) == (before,)


@pytest.mark.parametrize("path", ["/", "/calls/1", "/calls/1/questions"])
def test_address_that_takes_no_form_gives_a_page(visitor: Visitor, path: str) -> None:
    token = begin(visitor).root.all("input", name="csrf_token")[0].attributes["value"]

    response = visitor.client.post(path, data={"csrf_token": token})

    assert response.status_code == 405
    assert "<h1>" in response.text


def test_every_view_has_a_docstring_and_at_most_twelve_lines() -> None:
    long = {}
    for view in views():
        body = view.body[1:]
        lines = (body[-1].end_lineno or 0) - body[0].lineno + 1
        if ast.get_docstring(view) is None or lines > 12:
            long[view.name] = lines

    assert len(views()) == len({endpoint for endpoint, _, _ in ROUTES}) - 1
    assert long == {}
