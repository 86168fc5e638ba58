"""Claims about the owner's pages: people, tokens, the audit trail."""

from datetime import timedelta

import pytest

from tests.web.conftest import NINE, VisitorAs
from tests.web.page import Page, Visitor
from triage.services.people import accounts, tokens
from triage.services.people.audit import Action, Stamp, act
from triage.services.people.roles import Person, Role
from triage.store.audit import add_act
from triage.store.database import Database

TOVA = {"name": "Tova Lind", "login": "tova", "role": "technician"}


def secret(page: Page) -> str:
    """What a page shows once."""
    return page.root.all("code", class_="secret")[0].text


def errors(page: Page) -> str:
    return " ".join(error.text for error in page.root.all("p", class_="error"))


def add(visitor: Visitor, **changed: str) -> Page:
    return visitor.send(visitor.open("/shop/people/new"), {**TOVA, **changed})


def rows(page: Page) -> list[str]:
    return [row.text for row in page.root.all("tbody")[0].all("tr")]


def test_added_person_signs_in_with_the_password_that_is_shown_once(
    visitor: Visitor, stranger: Visitor
) -> None:
    page = add(visitor)
    assert page.heading == "One-time password for Tova Lind"

    entered = {"login": "tova", "password": secret(page)}
    page = stranger.send(stranger.open("/sign-in"), entered)

    assert page.heading == "Choose your own password"
    people = visitor.open("/shop/people")
    assert "Tova Lind tova Technician has a one-time password" in rows(people)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": ""}, "Enter the person's name"),
        ({"name": "n" * 101}, "The name must be 100 characters or fewer"),
        ({"login": ""}, "Enter a login"),
        ({"login": "to va"}, "Login must have 2 to 60 characters"),
        ({"login": "t" * 61}, "The login must be 60 characters or fewer"),
        ({"login": "owner"}, 'The login "owner" is taken'),
        ({"name": "\0"}, "Enter the person's name"),
        ({"role": "boss"}, "Choose a role"),
        ({"role": ""}, "Choose a role"),
    ],
)
def test_person_who_cannot_be_added_is_explained(
    database: Database, visitor: Visitor, typed: dict[str, str], said: str
) -> None:
    page = add(visitor, **typed)

    assert page.heading == "Add a person"
    assert said in errors(page)
    assert [one.login for one in accounts.find_people(database)] == ["owner"]


def test_name_and_role_are_changed(visitor: Visitor) -> None:
    add(visitor)

    page = visitor.send(
        visitor.open("/shop/people/tova"), {"name": "Tova Berg", "role": "dispatcher"}
    )

    assert page.heading == "People"
    assert "Tova Berg tova Dispatcher has a one-time password" in rows(page)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": " "}, "Enter the person's name"),
        ({"name": "n" * 101}, "The name must be 100 characters or fewer"),
        ({"role": "boss"}, "Choose a role"),
        ({"role": "dispatcher"}, "This is the only owner who can sign in"),
    ],
)
def test_change_that_is_not_taken_is_explained(
    visitor: Visitor, typed: dict[str, str], said: str
) -> None:
    page = visitor.send(visitor.open("/shop/people/owner"), typed)

    assert page.heading == "Olin Marsh"
    assert said in errors(page)


def test_reset_password_is_shown_once_and_lets_in(visitor: Visitor, stranger: Visitor) -> None:
    add(visitor)
    shown = secret(visitor.send(visitor.open("/shop/people/tova"), {}, action="/tova/password"))

    page = stranger.send(stranger.open("/sign-in"), {"login": "tova", "password": shown})

    assert page.heading == "Choose your own password"
    assert shown not in visitor.open("/shop/people/tova").text
    assert shown not in visitor.open("/shop/audit").text


def test_person_leaves_and_comes_back(visitor: Visitor) -> None:
    add(visitor)

    left = visitor.send(visitor.open("/shop/people/tova"), {}, action="/deactivate")
    back = visitor.send(visitor.open("/shop/people/tova"), {}, action="/activate")

    assert "Tova Lind tova Technician may not sign in" in rows(left)
    assert "Tova Lind tova Technician has a one-time password" in rows(back)


def test_only_owner_cannot_leave(visitor: Visitor) -> None:
    page = visitor.send(visitor.open("/shop/people/owner"), {}, action="/deactivate")

    assert page.status == 409
    assert "make somebody else an owner first" in page.text


@pytest.mark.parametrize("path", ["/shop/people/nobody", "/shop/people/%00", "/shop/people/a'--"])
def test_person_who_does_not_exist_gives_a_page(visitor: Visitor, path: str) -> None:
    page = visitor.open(path)

    assert page.status == 404
    assert "/shop" in page.links()


def test_token_is_shown_once_and_listed(database: Database, visitor: Visitor) -> None:
    page = visitor.send(visitor.open("/shop/tokens"), {"name": "Parts desk", "role": "dispatcher"})
    shown = secret(page)

    listed = visitor.open("/shop/tokens")
    person = tokens.person_of_token(database, shown, NINE)

    assert person == Person("owner", "Parts desk for Olin Marsh", Role.DISPATCHER)
    assert shown not in listed.text
    assert rows(listed)[0].startswith("Parts desk Dispatcher 09:00 by Olin Marsh never in force")


def test_revoked_token_opens_nothing_and_stays_listed(database: Database, visitor: Visitor) -> None:
    page = visitor.send(visitor.open("/shop/tokens"), {"name": "Parts desk", "role": "dispatcher"})

    listed = visitor.send(visitor.open("/shop/tokens"), {}, action="/revoke")

    assert tokens.person_of_token(database, secret(page), NINE) is None
    assert "revoked 09:00" in rows(listed)[0]
    assert listed.forms("/revoke") == []


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": "", "role": "owner"}, "Enter what it is for"),
        ({"name": "n" * 41, "role": "owner"}, "It must be 40 characters or fewer"),
        ({"name": "Parts desk", "role": "boss"}, "Choose a role"),
    ],
)
def test_token_that_cannot_be_made_is_explained(
    database: Database, visitor: Visitor, typed: dict[str, str], said: str
) -> None:
    page = visitor.send(visitor.open("/shop/tokens"), typed)

    assert said in errors(page)
    assert tokens.find_tokens(database) == ()


def test_unknown_token_gives_a_page(visitor: Visitor) -> None:
    visitor.send(visitor.open("/shop/tokens"), {"name": "Parts desk", "role": "dispatcher"})
    form = visitor.open("/shop/tokens").forms("/revoke")[0]
    data = {one.attributes["name"]: one.attributes["value"] for one in form.all("input")}

    response = visitor.client.post("/shop/tokens/99/revoke", data=data)

    assert response.status_code == 404
    assert "There is no token of number 99" in response.text


def test_trail_tells_what_was_done_by_whom_newest_first(visitor: Visitor) -> None:
    add(visitor)

    lines = rows(visitor.open("/shop/audit"))

    assert lines[0] == (
        "2 Mar 2026, 09:00 Olin Marsh added a person tova name: Tova Lind; role: technician"
    )
    assert lines[1].startswith("2 Mar 2026, 09:00 Olin Marsh signed in owner")


def test_trail_is_filtered_by_person_act_and_day(database: Database, visitor: Visitor) -> None:
    with database.writing() as session:
        yesterday = Stamp(NINE - timedelta(days=1), "Una Berg")
        add_act(session, act(Action.ROLE_CHANGED, yesterday, "tova"))
        add_act(session, act(Action.SIGN_IN_FAILED, Stamp(NINE, ""), "", reason="login"))
    page = visitor.open("/shop/audit")

    by_person = visitor.send(page, {"person": "name:Una Berg"})
    by_nobody = visitor.send(page, {"person": "nobody"})
    by_act = visitor.send(page, {"action": "role_changed"})
    by_day = visitor.send(page, {"day": "2026-03-01"})
    nothing = visitor.send(page, {"day": "2026-02-01"})

    changed = "1 Mar 2026, 09:00 Una Berg changed a role tova"
    assert rows(by_person) == rows(by_act) == rows(by_day) == [changed]
    assert rows(by_nobody) == ["2 Mar 2026, 09:00 not signed in failed to sign in reason: login"]
    assert "Nothing was done that fits" in nothing.text


@pytest.mark.parametrize("day", ["today", "2026-02-30", "02.03.2026", "0001-01-01", "x" * 5000])
def test_day_that_cannot_be_read_is_explained(visitor: Visitor, day: str) -> None:
    page = visitor.open(f"/shop/audit?day={day}")

    assert "Day must be written as year, month, day" in errors(page)
    assert rows(page)


@pytest.mark.parametrize(
    "query", ["page=0", "page=-1", "page=x", "page=999999", "page=", "x=1", "action=x"]
)
def test_page_that_is_no_number_is_the_first(visitor: Visitor, query: str) -> None:
    assert "signed in" in rows(visitor.open(f"/shop/audit?{query}"))[0]


@pytest.mark.parametrize("query", ["person=name:%00", "action=%00", "day=%00", "person=%00"])
def test_what_nobody_can_type_finds_nothing_or_everything(visitor: Visitor, query: str) -> None:
    assert visitor.open(f"/shop/audit?{query}").status == 200


def test_long_trail_has_pages_that_keep_what_was_chosen(
    database: Database, visitor: Visitor
) -> None:
    with database.writing() as session:
        for number in range(60):
            add_act(session, act(Action.ROLE_CHANGED, Stamp(NINE, "Una Berg"), f"act {number}"))
    first = visitor.open("/shop/audit?action=role_changed")

    older = next(link for link in first.links() if "page=2" in link)
    second = visitor.open(older)

    assert "act 59" in rows(first)[0]
    assert "act 0" in rows(second)[-1]
    assert "action=role_changed" in older
    assert any("page=1" in link for link in second.links())


@pytest.mark.parametrize("role", ["dispatcher", "technician"])
def test_others_find_no_way_to_the_pages_of_the_owner(visitor_as: VisitorAs, role: str) -> None:
    visitor = visitor_as(role)

    assert "/shop" not in visitor.open("/checks").links()
    assert visitor.open("/shop/people").status == 403


def test_overview_leads_to_every_page_of_the_owner(visitor: Visitor) -> None:
    overview = visitor.open("/shop")

    headings = {visitor.open(link).heading for link in overview.links() if "/shop/" in link}

    assert {"People", "Tokens", "Audit trail"} <= headings
