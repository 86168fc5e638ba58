"""Claims about the page on which calls are searched."""

from flask import Flask

from tests.triage.desk.test_call_search import many_calls
from tests.web.page import Visitor
from triage.services.call_lists import PAGE_LENGTH
from webform.desk import EXTENSION


def test_search_of_calls_is_paged_and_keeps_what_was_looked_for(
    app: Flask, visitor: Visitor
) -> None:
    many_calls(app.extensions[EXTENSION].database, "Mill cottage", PAGE_LENGTH + 2)

    first = visitor.open("/?q=mill")
    second = visitor.open("/?q=mill&page=2")

    assert f"Found: {PAGE_LENGTH + 2} calls, page 1 of 2" in first.text
    assert "/?q=mill&page=2" in first.links()
    assert len(second.root.all("a", class_="call-line")) == 2
    assert "/?q=mill&page=1" in second.links()
    assert visitor.open("/?q=mill&page=x").status == 200
