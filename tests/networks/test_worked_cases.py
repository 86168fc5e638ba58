"""Worked cases: the right cause is found, or the case stands here by name as a miss.

How the cases were made is told in ``tests/cases/README.md``. A new miss fails a test, and so does a
miss that has been mended: then its name goes.
"""

import re
from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest

from tests.cases.casebook import Case, case_networks, read_cases, read_draw
from tests.cases.draw import ShareTable, draw_truths
from tests.cases.expect import hits_expected, simulated_findings
from tests.cases.measure import Outcome, measured
from tests.cases.report import PAGE, page, pooled, read_expected
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.network.catalogue import load_network
from triage.network.values import VOLUNTEERED

CASES_MIN = 15  # a network
PHONE_ANSWERS, TESTS = (6, 8), (3, 6)

MISSED_FROM_PHONE = {
    "electric_dryer": {
        "case_03", "case_08", "case_11", "case_13", "case_14", "case_15", "case_16",
    },
    "front_load_washer": {"case_09", "case_15"},
    "gas_dryer": {"case_04", "case_09", "case_13"},
    "top_load_washer": {"case_18"},
}  # fmt: skip
MISSED_AFTER_TESTS = {
    "electric_dryer": {"case_03", "case_11", "case_16"},
    "front_load_washer": {"case_10", "case_15"},
    "gas_dryer": {"case_03", "case_04", "case_09", "case_13"},
    "top_load_washer": {"case_18"},
}
WORDS_NOT_HEARD = {
    "electric_dryer": {"case_02", "case_03"},
    "front_load_washer": {"case_05"},
    "gas_dryer": {"case_02", "case_08", "case_11"},
    "top_load_washer": {"case_04", "case_09", "case_13", "case_15"},
}

each_network = pytest.mark.parametrize("name", case_networks())


@cache
def outcomes(name: str) -> tuple[Outcome, ...]:
    return measured(name)


def without_percentages(text: str) -> str:
    """A page may be behind by a percent, never by a rank or a case."""
    return re.sub(r"\d+%", "%", text)


def chance(engine: Engine, case: Case, findings: Sequence[Finding]) -> float:
    """P(what had failed, findings) by the engine."""
    found = engine.posterior(Evidence(tuple(findings)))
    failed = {engine.compiled.mode_position[mode] for mode in case.truth}
    nobody = {engine.compiled.mode_count}
    rows = [set(members) - nobody == failed for members in found.state.table.members.tolist()]
    return float(found.weights[rows].sum() * np.exp(found.log_evidence))


def test_every_network_with_cases_has_its_misses_named() -> None:
    assert set(case_networks()) == set(MISSED_FROM_PHONE)


@each_network
def test_truths_are_those_the_script_draws_by_share(name: str) -> None:
    drawn = read_draw(name)
    cases = read_cases(name)

    truths = draw_truths(ShareTable.of_draw(drawn), len(cases))

    assert truths == [tuple(entry["truth"]) for entry in drawn["cases"]]
    assert truths == [case.truth for case in cases]
    assert len(cases) >= CASES_MIN


@each_network
def test_cases_are_calls_of_a_sensible_length(name: str) -> None:
    phone = {case.id: len(case.phone) for case in read_cases(name)}
    tests = {case.id: len(case.tests) for case in read_cases(name)}

    assert min(phone.values()) >= PHONE_ANSWERS[0]
    assert max(phone.values()) <= PHONE_ANSWERS[1]
    assert min(tests.values()) >= TESTS[0]
    assert max(tests.values()) <= TESTS[1]


@each_network
def test_wrong_answers_are_answers_of_the_case(name: str) -> None:
    strange = {
        case.id: set(case.wrong) - {finding.observation for finding in (*case.phone, *case.tests)}
        for case in read_cases(name)
    }

    assert {case for case, names in strange.items() if names} == set()


@each_network
def test_words_of_the_caller_are_heard_but_for_the_known_misses(name: str) -> None:
    missed = {outcome.case.id for outcome in outcomes(name) if not outcome.is_heard}

    assert missed == WORDS_NOT_HEARD[name]


@each_network
def test_cause_is_found_from_the_phone_but_for_the_known_misses(name: str) -> None:
    missed = {
        outcome.case.id for outcome in outcomes(name) if not outcome.phone.is_found_from_phone
    }

    assert missed == MISSED_FROM_PHONE[name]


@each_network
def test_cause_is_found_after_the_tests_but_for_the_known_misses(name: str) -> None:
    missed = {
        outcome.case.id for outcome in outcomes(name) if not outcome.tests.is_found_after_tests
    }

    assert missed == MISSED_AFTER_TESTS[name]


@each_network
def test_causes_are_found_no_less_often_than_the_network_expects(name: str) -> None:
    rates = read_expected()[name]
    cases = outcomes(name)

    phone = sum(outcome.phone.is_found_from_phone for outcome in cases)
    tests = sum(outcome.tests.is_found_after_tests for outcome in cases)

    assert rates.cases == len(cases)
    assert phone >= hits_expected(rates.phone, len(cases))[0]
    assert tests >= hits_expected(rates.tests, len(cases))[0]


def test_causes_of_all_cases_together_are_found_no_less_often_than_expected() -> None:
    rates = pooled(read_expected())
    cases = [outcome for name in case_networks() for outcome in outcomes(name)]

    phone = sum(outcome.phone.is_found_from_phone for outcome in cases)
    tests = sum(outcome.tests.is_found_after_tests for outcome in cases)

    assert phone >= hits_expected(rates.phone, len(cases))[0]
    assert tests >= hits_expected(rates.tests, len(cases))[0]


def test_simulated_answers_are_as_frequent_as_the_engine_expects() -> None:
    engine = Engine(load_network("top_load_washer"))
    case = next(case for case in read_cases("top_load_washer") if case.id == "case_06")
    opening = [finding for finding in case.phone if finding.answer == VOLUNTEERED]
    low_spin = next(finding for finding in case.tests if finding.observation == "tests_low_spin")
    calls = simulated_findings(engine, case, 4000, np.random.default_rng(1))
    opened = chance(engine, case, opening)

    for asked in (case.phone[3], case.phone[4], low_spin):  # of a context, a sign, a masked sign
        answers = [f.answer for call in calls for f in call if f.observation == asked.observation]
        for answer in engine.network.observations[asked.observation].answers:
            finding = Finding(asked.observation, answer)
            expected = chance(engine, case, [*opening, finding]) / opened
            spread = np.sqrt(expected * (1 - expected) / len(calls))
            assert answers.count(answer) / len(calls) == pytest.approx(expected, abs=4 * spread)


def test_page_of_results_is_current() -> None:
    expected = page({name: outcomes(name) for name in case_networks()}, read_expected())

    written = PAGE.read_text(encoding="utf-8")

    assert without_percentages(written) == without_percentages(expected), (
        "docs/worked-cases.md is behind; run python -m tests.cases.report"
    )
