"""Claims about calls for machines that the shop does not repair, and calls that end early."""

import pytest

from tests.web.page import Page, Visitor
from tests.web.taking_calls import answer_safety, begin
from triage.services.networks.scope import OTHER_KINDS

KINDS = list(OTHER_KINDS)


def begin_other(visitor: Visitor, kind: str, words: str = "It does not start") -> Page:
    """Open a call about a machine of others; the page with the safety questions."""
    form = visitor.open("/calls/new")
    return visitor.send(form, {"caller": "Blue door", "network": kind, "words": words})


def test_new_call_names_what_the_shop_does_not_repair(visitor: Visitor) -> None:
    page = visitor.open("/calls/new")

    groups = {one.attributes["label"]: one.text for one in page.root.all("optgroup")}
    assert "Gas dryer" in groups["We repair"]
    assert all(kind.title in groups["We refer to others"] for kind in OTHER_KINDS.values())


@pytest.mark.parametrize("kind", KINDS)
def test_other_machine_is_kept_safe_then_referred_and_recorded(visitor: Visitor, kind: str) -> None:
    page = answer_safety(visitor, begin_other(visitor, kind))
    assert page.heading == "Refer the caller"
    assert OTHER_KINDS[kind].script in page.text

    listed = visitor.send(page, {"note": "Gave the number"}, action="/end")

    assert "Referred to someone else" in listed.text
    assert OTHER_KINDS[kind].title in listed.text
    assert "Gave the number" in visitor.open("/calls/1").text


@pytest.mark.parametrize("page", ["questions", "signs", "plan"])
def test_nothing_is_ranked_for_an_other_machine(visitor: Visitor, page: str) -> None:
    answer_safety(visitor, begin_other(visitor, "heat_pump_dryer"))

    refused = visitor.open(f"/calls/1/{page}")

    assert refused.status == 409
    assert "The shop does not repair this kind of machine: Heat-pump dryer" in refused.text


def test_danger_at_an_other_machine_comes_before_the_referral(visitor: Visitor) -> None:
    page = begin_other(visitor, "coin_operated_dryer", "There is a smell of gas")
    assert "Raised by the caller's words" in page.text
    assert visitor.open("/calls/1/refer").status == 409

    stopped = answer_safety(visitor, page, ["gas_smell"])

    assert stopped.heading == "Everyone out, and call for help"
    assert visitor.open("/calls/1/refer").status == 409


def test_visit_cannot_be_recorded_for_an_other_machine(visitor: Visitor) -> None:
    answer_safety(visitor, begin_other(visitor, "ventless_dryer"))

    page = visitor.send(visitor.open("/calls/1/end"), {"outcome": "visit"})

    assert "Choose how the call ended" in page.text


def test_referred_call_can_be_opened_again(visitor: Visitor) -> None:
    page = answer_safety(visitor, begin_other(visitor, "ventless_dryer"))
    visitor.send(page, {}, action="/end")

    reopened = visitor.send(visitor.open("/calls/1"), {}, action="/reopen")

    assert reopened.heading == "Refer the caller"
    assert reopened.forms("/end")


def test_own_machine_is_not_referred_by_its_kind(visitor: Visitor) -> None:
    answer_safety(visitor, begin(visitor))

    page = visitor.open("/calls/1/refer")

    assert page.heading == "What the caller said"


@pytest.mark.parametrize("kind", ["top_load_washer", "heat_pump_dryer"])
def test_call_that_ended_before_its_safety_questions_can_be_looked_at_and_opened_again(
    visitor: Visitor, kind: str
) -> None:
    begin_other(visitor, kind)
    visitor.send(visitor.open("/calls/1/end"), {"outcome": "declined"})
    ended = visitor.open("/calls/1")
    assert "This call ended: Caller does not want to go on" in ended.text

    reopened = visitor.send(ended, {}, action="/reopen")

    assert reopened.heading == "Safety questions"
    assert reopened.forms("/safety")
