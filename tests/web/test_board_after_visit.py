"""Claims about the call page after somebody was at the machine."""

from tests.triage.job.playing_jobs import phoned, repaired
from tests.web.conftest import VisitorAs
from tests.web.page import Visitor
from triage.services.calls.calls import Database

NOTICE = "Somebody was at the machine."


def test_call_page_counts_the_repair_and_leads_to_the_job_sheet(
    database: Database, visitor: Visitor
) -> None:
    call_id = repaired(database)

    page = visitor.open(f"/calls/{call_id}/questions")

    assert NOTICE in page.text
    assert "2 findings; Replace the drain pump (it works)" in page.text
    assert f"/jobs/{call_id}" in page.links()
    causes = page.root.all("section", aria_labelledby="causes-heading")[0].text
    assert "Full run: Runs clean to the end" in causes
    assert "1. Drain pump" not in causes


def test_call_page_says_nothing_of_the_site_before_a_visit(
    database: Database, visitor: Visitor
) -> None:
    assert NOTICE not in visitor.open(f"/calls/{phoned(database)}/questions").text


def test_dispatcher_sees_what_was_done_on_site(database: Database, visitor_as: VisitorAs) -> None:
    call_id = repaired(database)

    assert NOTICE in visitor_as("dispatcher").open(f"/calls/{call_id}/questions").text
