"""Claims about a call in whole, as programs read it."""

from tests.triage.desk.booking_shop import call_for_visit, page
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.calls.calls import CallReport, CallStep, Database, open_call
from triage.services.calls.whole import call_as_json, call_whole


def test_call_before_its_safety_questions_shows_them_and_ranks_nothing(database: Database) -> None:
    report = CallReport(network_id="gas_dryer", caller="Blue door", words="I smell gas")
    call_id = open_call(database, report, page())

    whole = call_whole(database, call_id, DEFAULT_SETTINGS)

    assert (whole.step, whole.board, whole.signs) == (CallStep.SAFETY, None, ())
    told = call_as_json(whole)
    assert (told["ranking"], told["question"]) == (None, None)
    suspected = [one["flag"] for one in told["safety"]["questions"] if one["suggested_by"]]
    assert suspected == ["gas_smell"]


def test_ended_call_is_still_ranked_and_can_be_ended_in_no_way(database: Database) -> None:
    call_id = call_for_visit(database)

    whole = call_whole(database, call_id, DEFAULT_SETTINGS)

    assert (whole.step, whole.outcomes) == (CallStep.ENDED, ())
    assert [one.observation.id for one in whole.signs][:1] == ["says_no_heat"]
    assert call_as_json(whole)["ranking"]["causes"]


def test_call_about_a_machine_of_others_is_referred_and_not_ranked(database: Database) -> None:
    call_id = call_for_visit(database, network="heat_pump_dryer", ended=False)

    whole = call_whole(database, call_id, DEFAULT_SETTINGS)

    assert (whole.step, whole.board) == (CallStep.REFER, None)
    assert "refer_out" in call_as_json(whole)["outcomes_allowed"]
    assert "visit" not in call_as_json(whole)["outcomes_allowed"]
