"""Claims about signing in and out, one's own password, sessions and their cookies."""

from datetime import timedelta

import pytest
from flask import Flask

from tests.web.conftest import CHEAP, NINE, PASSWORD, VisitorAs, make_app, signed_in_visitor
from tests.web.page import Page, Visitor
from tests.web.taking_calls import begin
from triage.services.people import accounts
from triage.services.people.audit import ActFilter, Stamp, find_acts
from triage.services.people.roles import Person, Role
from triage.store.calls import read_call
from triage.store.database import Database
from webform.auth import limits
from webform.desk import EXTENSION

STAMP = Stamp(NINE, "a test")
NEW = "another one of mine"


@pytest.fixture
def database(app: Flask) -> Database:
    """Database of the app, with an owner and a dispatcher."""
    found: Database = app.extensions[EXTENSION].database
    for role in (Role.OWNER, Role.DISPATCHER):
        person = Person(role.value, role.title(), role)
        accounts.add_person_with_password(found, person, PASSWORD, CHEAP, STAMP)
    return found


def sign_in(visitor: Visitor, login: str, password: str = PASSWORD, path: str = "/sign-in") -> Page:
    return visitor.send(visitor.open(path), {"login": login, "password": password})


@pytest.mark.usefixtures("database")
def test_right_password_leads_to_the_page_that_was_asked_for(stranger: Visitor) -> None:
    page = stranger.open("/checks/standpipe?trap=8&top=60")
    assert page.heading == "Sign in"

    page = stranger.send(page, {"login": "dispatcher", "password": PASSWORD})

    assert page.path == "/checks/standpipe?trap=8&top=60"


@pytest.mark.usefixtures("database")
@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example", "//elsewhere.example", "calls"])
def test_page_to_go_on_with_is_one_of_ours(stranger: Visitor, elsewhere: str) -> None:
    form = stranger.open(f"/sign-in?next={elsewhere}").forms("/sign-in")[0]
    token = form.all("input", name="csrf_token")[0].attributes["value"]
    data = {
        "login": "dispatcher",
        "password": PASSWORD,
        "csrf_token": token,
        "client_id": "0" * 32,
        "shown_version": "0",
    }

    response = stranger.client.post(f"/sign-in?next={elsewhere}", data=data)

    assert (response.status_code, response.location) == (303, "/")


@pytest.mark.usefixtures("database")
@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"login": "", "password": PASSWORD}, "Enter your login"),
        ({"login": "owner", "password": ""}, "Enter your password"),
        ({"login": "owner", "password": "wrong"}, "Login and password do not go together"),
        ({"login": "nobody", "password": PASSWORD}, "Login and password do not go together"),
        ({"login": "\0", "password": "\0"}, "Enter your login"),
        ({"login": "o" * 61, "password": PASSWORD}, "The login must be 60 characters or fewer"),
        ({"login": "owner", "password": "p" * 201}, "The password must be 200 characters or fewer"),
    ],
)
def test_wrong_entry_is_said_beside_its_field(
    stranger: Visitor, typed: dict[str, str], said: str
) -> None:
    page = stranger.send(stranger.open("/sign-in"), typed)

    assert page.heading == "Sign in"
    assert said in page.root.all("p", class_="error")[0].text
    assert "wrong" not in str(
        page.root.all("input", type="password")[0].attributes.get("value", "")
    )
    assert stranger.open("/").heading == "Sign in"


def test_password_never_comes_back_in_a_page(database: Database, stranger: Visitor) -> None:
    form = stranger.open("/sign-in").forms("/sign-in")[0]
    token = form.all("input", name="csrf_token")[0].attributes["value"]

    response = stranger.client.post(
        "/sign-in", data={"csrf_token": token, "login": "owner", "password": "my secret guess"}
    )

    assert "my secret guess" not in response.text


def test_login_that_fails_too_often_has_to_wait_even_with_the_right_password(
    database: Database, stranger: Visitor
) -> None:
    tries = int(limits.BY_LOGIN.split()[0])
    for _ in range(tries):
        assert sign_in(stranger, "owner", "wrong").status == 200

    page = sign_in(stranger, "owner")
    other = sign_in(stranger, "dispatcher")

    assert (page.status, page.heading) == (429, "Too many attempts")
    assert "Wait ten minutes" in page.text
    assert other.heading == "Calls"
    failures = find_acts(database, ActFilter(action="sign_in_failed")).acts
    assert len(failures) == tries


@pytest.mark.usefixtures("database")
def test_address_from_which_many_logins_fail_has_to_wait(stranger: Visitor) -> None:
    for number in range(int(limits.BY_ADDRESS.split()[0])):
        assert sign_in(stranger, f"guess{number}", "wrong").status == 200

    assert sign_in(stranger, "owner").status == 429


@pytest.mark.usefixtures("database")
def test_signing_in_often_is_no_failure(app: Flask) -> None:
    for _ in range(int(limits.BY_LOGIN.split()[0]) + 2):
        assert sign_in(Visitor(app.test_client()), "owner").heading == "Calls"


@pytest.mark.usefixtures("database")
def test_session_begins_anew_at_sign_in(stranger: Visitor) -> None:
    stranger.open("/sign-in")
    before = stranger.client.get_cookie("triage")
    with stranger.client.session_transaction() as session:
        planted = session["planted"] = "by somebody else"
        token = session["csrf_token"]

    sign_in(stranger, "owner")

    after = stranger.client.get_cookie("triage")
    with stranger.client.session_transaction() as session:
        assert planted not in session.values()
        assert session.get("csrf_token") != token
    assert before is not None
    assert after is not None
    assert after.value != before.value
    assert after.expires is None


def test_sign_out_ends_the_session_and_clears_what_the_browser_kept(visitor: Visitor) -> None:
    page = visitor.open("/account")
    form = page.forms("/sign-out")[0]
    data = {one.attributes["name"]: one.attributes["value"] for one in form.all("input")}

    response = visitor.client.post("/sign-out", data=data)

    assert response.headers["Clear-Site-Data"] == '"cache", "storage"'
    assert response.location == "/sign-in"
    assert visitor.open("/").heading == "Sign in"


def test_sign_out_everywhere_ends_the_other_sessions_too(app: Flask, visitor: Visitor) -> None:
    other = signed_in_visitor(app)

    page = visitor.send(visitor.open("/account"), {}, action="/sign-out-everywhere")

    assert page.heading == "Sign in"
    assert other.open("/").heading == "Sign in"
    assert visitor.open("/").heading == "Sign in"


def test_changed_password_keeps_this_session_and_ends_the_others(
    app: Flask, visitor: Visitor
) -> None:
    other = signed_in_visitor(app)
    page = visitor.open("/account/password")

    page = visitor.send(page, {"present": PASSWORD, "new": NEW, "again": NEW})

    assert page.heading == "Calls"
    assert other.open("/").heading == "Sign in"
    assert sign_in(Visitor(app.test_client()), "owner", NEW).heading == "Calls"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"present": ""}, "Enter your present password"),
        ({"present": "wrong"}, "Present password is another one"),
        ({"new": ""}, "Enter a new password"),
        ({"new": "short", "again": "short"}, "New password must have 12 characters or more"),
        ({"new": "w" * 30, "again": "w" * 30}, "one character over and over"),
        ({"new": PASSWORD, "again": PASSWORD}, "another than the present one"),
        ({"again": "a password of another day"}, "New password must be the same twice"),
        ({"again": ""}, "Enter the new password again"),
    ],
)
def test_new_password_that_is_not_taken_is_explained(
    visitor: Visitor, typed: dict[str, str], said: str
) -> None:
    values = {"present": PASSWORD, "new": NEW, "again": NEW, **typed}

    page = visitor.send(visitor.open("/account/password"), values)

    assert page.heading == "Change your password"
    assert said in " ".join(error.text for error in page.root.all("p", class_="error"))


def test_one_time_password_leads_to_choosing_ones_own_before_anything_else(
    database: Database, stranger: Visitor
) -> None:
    made = accounts.reset_password(database, "dispatcher", CHEAP, STAMP)

    page = sign_in(stranger, "dispatcher", made.password)
    elsewhere = stranger.open("/calls/new")
    done = stranger.send(page, {"present": made.password, "new": NEW, "again": NEW})

    assert page.heading == "Choose your own password"
    assert elsewhere.heading == "Choose your own password"
    assert done.heading == "Calls"
    assert stranger.open("/calls/new").heading == "New call"


def test_role_that_is_taken_away_is_gone_with_the_next_page(
    app: Flask, visitor_as: VisitorAs
) -> None:
    visitor = visitor_as("dispatcher")
    assert visitor.open("/calls/new").status == 200
    database = app.extensions[EXTENSION].database

    accounts.change_person(database, "dispatcher", "Ivo", Role.TECHNICIAN, STAMP)

    assert visitor.open("/calls/new").status == 403


def test_deactivated_person_is_out_with_the_next_page(app: Flask, visitor_as: VisitorAs) -> None:
    visitor = visitor_as("technician")
    database = app.extensions[EXTENSION].database

    accounts.deactivate(database, "technician", STAMP)

    assert visitor.open("/checks").heading == "Sign in"


@pytest.mark.parametrize("cookie", ["1:1", "1", "one:two", ":", "1:1:1", "999:1"])
def test_session_that_names_nobody_is_nobodys(app: Flask, stranger: Visitor, cookie: str) -> None:
    with stranger.client.session_transaction() as session:
        session["_user_id"] = cookie

    assert stranger.open("/checks").heading == "Sign in"


def test_cookie_of_another_key_is_not_believed(app: Flask, visitor: Visitor, tmp_path) -> None:
    cookie = visitor.client.get_cookie("triage")
    other = make_app(tmp_path / "other")
    signed_in_visitor(other)
    client = other.test_client()
    assert cookie is not None

    client.set_cookie("triage", cookie.value)

    assert Visitor(client).open("/").heading == "Sign in"


def test_session_is_over_after_a_long_working_day(app: Flask) -> None:
    assert app.permanent_session_lifetime <= timedelta(hours=16)
    assert app.config["SESSION_COOKIE_HTTPONLY"]


def test_page_names_who_is_at_work_and_so_does_what_is_entered(
    app: Flask, visitor_as: VisitorAs
) -> None:
    visitor = visitor_as("dispatcher")

    page = begin(visitor)

    links = {link.text: link.attributes["href"] for link in page.root.all("a")}
    assert links["Ivo Brandt"] == "/account"
    with app.extensions[EXTENSION].database.reading() as session:
        call = read_call(session, 1)
    assert {call.opened_by, *(event.by for event in call.events)} == {"Ivo Brandt"}


def test_account_page_says_name_login_role_and_what_it_may_do(visitor_as: VisitorAs) -> None:
    page = visitor_as("technician").open("/account")

    assert page.heading == "Tova Lind"
    assert "Technician: works from job sheets" in page.text
