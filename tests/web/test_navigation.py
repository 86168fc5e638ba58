"""Claims about the links on top of every page."""

import pytest

from tests.web.conftest import VisitorAs
from tests.web.page import Page, Visitor
from tests.web.taking_calls import begin


def current(page: Page) -> dict[str, str]:
    """What ``aria-current`` says of each link on top of a page."""
    top = page.root.all("nav", aria_label="Main")[0]
    links = {link.text: link.attributes.get("aria-current", "") for link in top.all("a")}
    return {name: value for name, value in links.items() if value}


@pytest.mark.parametrize(
    ("path", "marked"),
    [
        ("/", {"Calls": "page"}),
        ("/calls/1/safety", {"Calls": "true"}),
        ("/calls/new", {"New call": "page"}),
        ("/checks", {"Checks on site": "page"}),
        ("/checks/standpipe", {"Checks on site": "true"}),
        ("/networks", {"Networks": "page"}),
        ("/networks/gas_dryer", {"Networks": "true"}),
        ("/networks/toaster", {"Networks": "true"}),
        ("/nowhere", {}),
    ],
)
def test_navigation_marks_where_one_is(visitor: Visitor, path: str, marked: dict[str, str]) -> None:
    begin(visitor)

    page = visitor.open(path)

    assert current(page) == marked


def links_on_top(page: Page) -> set[str]:
    return {link.text for link in page.root.all("nav", aria_label="Main")[0].all("a")}


def test_each_role_finds_links_to_its_own_pages_and_account_only(visitor_as: VisitorAs) -> None:
    dispatcher = links_on_top(visitor_as("dispatcher").open("/checks"))
    technician = links_on_top(visitor_as("technician").open("/checks"))
    owner = links_on_top(visitor_as("owner").open("/checks"))

    assert {"Calls", "New call", "Ivo Brandt"} <= dispatcher
    assert "Shop" not in dispatcher
    assert {"Checks on site", "Networks", "Tova Lind"} <= technician
    assert not technician & {"Calls", "New call", "Shop"}
    assert {"Calls", "New call", "Checks on site", "Shop", "Olin Marsh"} <= owner


def test_every_link_on_top_leads_to_a_page_one_may_open(visitor_as: VisitorAs) -> None:
    for role in ("dispatcher", "technician", "owner"):
        visitor = visitor_as(role)
        top = visitor.open("/checks").root.all("nav", aria_label="Main")[0]

        statuses = {
            link.text: visitor.open(link.attributes["href"]).status for link in top.all("a")
        }

        assert set(statuses.values()) == {200}, statuses


def test_stranger_finds_no_links_on_top(stranger: Visitor) -> None:
    assert stranger.open("/sign-in").root.all("nav") == []
