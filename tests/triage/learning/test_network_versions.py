"""Versions of networks: never changed, used by decision, and every past ranking comes back."""

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.triage.learning.learning_shop import NOW, STAMP, WASHER, proposal, take_in
from triage.errors import (
    NetworkFileError,
    NothingApprovedError,
    UnknownCallError,
    UnknownChangeError,
    UnknownVersionError,
    VersionStateError,
)
from triage.network.catalogue import load_network
from triage.services.calls.board import call_board
from triage.services.calls.calls import (
    CallReport,
    Database,
    Entry,
    Submission,
    answer_question,
    answer_safety_questions,
    find_call,
    open_call,
)
from triage.services.calls.intake import safety_check
from triage.services.learning.editing import Edit, edited, number, numbers
from triage.services.learning.past import ranking_as_it_was
from triage.services.learning.versions import (
    approve,
    base_of,
    keep_proposal,
    propose_edit,
    reject,
    text_of,
    use,
    version_in_full,
    versions_of,
)
from triage.services.networks.in_use import network_in_use, network_version
from triage.services.people.audit import ActFilter, find_acts

PUMP = "share:drain_pump.burnt"


def edit(key: str = PUMP, value: float = 0.2) -> Edit:
    return Edit(key=key, value=value, reason="counted", source="own count", grade="measured")


def entry(number: int, version: int) -> Entry:
    return Entry(submission=Submission(f"page-{number}", version), at=NOW, by="Ivo Brandt")


def call_with_an_answer(database: Database) -> int:
    call = open_call(database, CallReport(network_id=WASHER, caller="C", words=""), entry(1, 0))
    flags = [question.flag.id for question in safety_check(database, call).questions]
    version = find_call(database, call).version
    answer_safety_questions(database, call, dict.fromkeys(flags, False), entry(2, version))
    version = find_call(database, call).version
    answer_question(database, call, "says_water_left", "yes", entry(3, version))
    return call


def chances(database: Database, call: int) -> dict[str, float]:
    ranking = call_board(database, call).ranking
    return {cause.mode: cause.probability for cause in ranking.causes}


def test_shipped_network_is_in_use_until_another_is(database: Database) -> None:
    assert network_in_use(database, WASHER) == load_network(WASHER)
    assert versions_of(database, WASHER) == ()


def test_shipped_version_is_kept_as_soon_as_a_call_uses_it(database: Database) -> None:
    call_with_an_answer(database)

    (line,) = versions_of(database, WASHER)

    assert (line.stored.version, line.stored.origin, line.is_in_use) == (1, "shipped", True)


def test_approved_version_is_in_use_and_holds_what_was_learned(database: Database) -> None:
    take_in(database, 60)
    found = proposal(database)

    made = keep_proposal(database, WASHER, found, STAMP, "spring")
    before = network_in_use(database, WASHER)
    chosen = approve(database, WASHER, made, STAMP, "scores are better")

    assert before == load_network(WASHER)
    assert chosen == made == 2
    assert network_in_use(database, WASHER) == replace(found.version.network, version=2)
    kept = version_in_full(database, WASHER, 2).proposal
    assert kept is not None
    assert kept.version.network == network_in_use(database, WASHER)
    assert (kept.effects, kept.scores, kept.now) == (found.effects, found.scores, found.now)


def test_part_of_a_proposal_is_a_version_of_its_own(database: Database) -> None:
    take_in(database, 60)
    found = proposal(database)
    made = keep_proposal(database, WASHER, found, STAMP, "")
    key = "leak:soap_left"

    chosen = approve(database, WASHER, made, STAMP, "the leak only", [key])

    states = {line.stored.version: line.stored.state for line in versions_of(database, WASHER)}
    assert chosen == 3
    assert states == {1: "approved", 2: "approved_in_part", 3: "approved"}
    new, old = network_in_use(database, WASHER), load_network(WASHER)
    assert new.signs["soap_left"].leak != old.signs["soap_left"].leak
    shares = [[one.value for one in numbers(which, "share")] for which in (new, old)]
    assert shares[0] == pytest.approx(shares[1], abs=1e-12)
    assert version_in_full(database, WASHER, 3).keys == (key,)


def test_version_cannot_be_approved_without_a_row_or_with_an_unknown_one(
    database: Database,
) -> None:
    take_in(database, 20)
    made = keep_proposal(database, WASHER, proposal(database), STAMP, "")

    with pytest.raises(NothingApprovedError, match="Tick at least one row"):
        approve(database, WASHER, made, STAMP, "x", [])
    with pytest.raises(UnknownChangeError, match=r'Unknown change "share:no\.such"'):
        approve(database, WASHER, made, STAMP, "x", ["share:no.such"])


def test_decided_version_is_not_decided_again(database: Database) -> None:
    made = propose_edit(database, WASHER, edit(), STAMP)
    reject(database, WASHER, made, STAMP, "too few")

    with pytest.raises(VersionStateError, match="version 2: it is rejected, so it cannot be"):
        approve(database, WASHER, made, STAMP, "after all")
    with pytest.raises(VersionStateError, match="it is rejected, so it cannot be put in use"):
        use(database, WASHER, made, STAMP, "after all")
    assert network_in_use(database, WASHER) == load_network(WASHER)


def test_unknown_version_is_told(database: Database) -> None:
    with pytest.raises(UnknownVersionError, match=r"no version 9 is kept; expected one of 1\."):
        network_version(database, WASHER, 9)
    with pytest.raises(UnknownVersionError):
        use(database, WASHER, 9, STAMP, "x")
    with pytest.raises(UnknownVersionError):
        version_in_full(database, WASHER, 9)


def test_earlier_version_is_put_in_use_again(database: Database) -> None:
    made = propose_edit(database, WASHER, edit(), STAMP)
    approve(database, WASHER, made, STAMP, "counted")

    use(database, WASHER, 1, STAMP, "worse on Monday")

    assert network_in_use(database, WASHER) == load_network(WASHER)
    assert [line.is_in_use for line in versions_of(database, WASHER)] == [False, True]


def test_every_decision_is_in_the_audit_trail(database: Database) -> None:
    first = propose_edit(database, WASHER, edit(), STAMP)
    second = propose_edit(database, WASHER, edit(value=0.1), STAMP)
    approve(database, WASHER, first, STAMP, "counted")
    reject(database, WASHER, second, STAMP, "no")
    use(database, WASHER, 1, STAMP, "back")

    acts = find_acts(database, ActFilter()).acts

    assert [(act.action, act.subject, act.by) for act in reversed(acts)] == [
        ("version_proposed", f"{WASHER} 2", STAMP.by),
        ("version_proposed", f"{WASHER} 3", STAMP.by),
        ("version_approved", f"{WASHER} 2", STAMP.by),
        ("version_rejected", f"{WASHER} 3", STAMP.by),
        ("version_in_use", f"{WASHER} 1", STAMP.by),
    ]
    assert all(act.detail["reason"] for act in acts)


def test_open_call_goes_on_with_the_version_it_was_opened_with(database: Database) -> None:
    call = call_with_an_answer(database)
    before = chances(database, call)

    approve(database, WASHER, propose_edit(database, WASHER, edit(), STAMP), STAMP, "counted")

    assert chances(database, call) == before
    report = CallReport(network_id=WASHER, caller="D", words="")
    new = open_call(database, report, entry(9, 0))
    assert find_call(database, new).network_version == 2


def test_past_ranking_comes_back_from_its_version(database: Database) -> None:
    call = call_with_an_answer(database)
    board = call_board(database, call)
    approve(database, WASHER, propose_edit(database, WASHER, edit(), STAMP), STAMP, "counted")

    then = ranking_as_it_was(database, call, board.state.version)
    earlier = ranking_as_it_was(database, call, board.state.version - 1)

    assert then.network_version == 1
    assert then.ranking.causes == board.ranking.causes
    assert earlier.ranking.evidence.findings == ()


@pytest.mark.parametrize("sequence", [0, 99])
def test_ranking_of_an_event_that_never_was_is_refused(database: Database, sequence: int) -> None:
    call = call_with_an_answer(database)

    with pytest.raises(UnknownCallError):
        ranking_as_it_was(database, call, sequence)


def test_number_set_by_hand_is_where_learning_starts(database: Database) -> None:
    take_in(database, 20)
    made = propose_edit(database, WASHER, edit(value=0.3), STAMP)
    approve(database, WASHER, made, STAMP, "counted")
    learned = keep_proposal(database, WASHER, proposal(database), STAMP, "")

    base = base_of(database, WASHER, learned)

    assert number(base, PUMP).value == 0.3
    assert base.sources["owner"] == "own count"


@pytest.mark.parametrize("kind", ["share", "link", "leak", "channel", "minutes", "part"])
def test_number_is_set_and_nothing_else_is_said_of_it(kind: str) -> None:
    network = load_network(WASHER)
    one = numbers(network, kind)[3]
    value = 0.123 if one.is_chance else 33.0

    new = edited(network, edit(one.key, value))

    assert number(new, one.key).value == pytest.approx(value, abs=1e-12)
    assert sum(share.value for share in numbers(new, "share")) == pytest.approx(1.0, abs=1e-12)


def test_number_that_breaks_the_network_is_refused_with_every_problem(database: Database) -> None:
    part = numbers(load_network(WASHER), "part")[0]

    with pytest.raises(NetworkFileError, match=f"{WASHER}.yaml"):
        propose_edit(database, WASHER, edit(part.key, 99_999.0), STAMP)
    assert [line.stored.version for line in versions_of(database, WASHER)] == [1]


def test_unknown_number_is_refused(database: Database) -> None:
    with pytest.raises(UnknownChangeError, match=r'Unknown change "share:no\.such"'):
        propose_edit(database, WASHER, edit("share:no.such"), STAMP)
    with pytest.raises(UnknownChangeError, match="expected one of"):
        propose_edit(database, WASHER, edit("nonsense"), STAMP)


def test_version_is_kept_as_a_network_file(database: Database) -> None:
    made = propose_edit(database, WASHER, edit(), STAMP)

    text = text_of(database, WASHER, made)

    assert text.startswith("format: 1\nnetwork: top_load_washer\n")
    assert "version: 2" in text


def test_moments_of_use_are_kept(database: Database) -> None:
    made = propose_edit(database, WASHER, edit(), STAMP)
    approve(database, WASHER, made, STAMP, "counted")
    later = replace(STAMP, at=NOW + timedelta(days=1))
    use(database, WASHER, 1, later, "back")
    use(database, WASHER, 2, later, "and forth")

    full = version_in_full(database, WASHER, 2)

    assert [one.reason for one in full.uses] == ["and forth", "counted"]
