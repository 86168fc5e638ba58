"""Claims about the links on top of every page."""

import pytest

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
