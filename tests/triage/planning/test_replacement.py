"""Repair or not: the rules against figures worked out by hand, and the advice against the rules."""

import math

import pytest

from triage.inference.evidence import Evidence, parse_findings
from triage.planning.problem.site import site_problem
from triage.planning.shop.costs import DEFAULT_COSTS
from triage.planning.shop.settings import DEFAULT_SETTINGS, NewMachine
from triage.planning.visit.replacement import (
    JobPrice,
    Rule,
    RuleLimit,
    Verdict,
    job_prices,
    replacement_advice,
    sliding_share,
    years_left,
)
from triage.services.networks.engines import engine_for
from triage.services.plan.replacement import repair_or_replace

CONTROL = "main_control"


def _sure(price_minor: int, *parts: str) -> tuple[JobPrice, ...]:
    ends = (price_minor, price_minor)
    return (JobPrice(probability=1.0, price_minor=ends, parts=frozenset(parts)),)


def _machine(price: int, installation: int, life_years: float) -> NewMachine:
    return NewMachine(price_minor=price, installation_minor=installation, life_years=life_years)


def _rules(prices: tuple[JobPrice, ...], machine: NewMachine, age: float) -> dict[Rule, RuleLimit]:
    return {entry.rule: entry for entry in replacement_advice(prices, machine, age).rules}


def test_half_and_half_rule_replaces_an_old_machine_with_a_dear_repair() -> None:
    # Published form of the rule, own figures: age 8 of 11 is 73 %, 310 of 600 is 52 %: replace.
    rules = _rules(_sure(31000), _machine(60000, 0, 11), 8)

    assert rules[Rule.HALF_AND_HALF].says_replace


def test_half_and_half_rule_repairs_against_the_installed_price() -> None:
    # The same repair against 600 + 175 installed is 40 %: repair stays open.
    rules = _rules(_sure(31000), _machine(60000, 17500, 11), 8)

    assert not rules[Rule.HALF_AND_HALF].says_replace
    assert not rules[Rule.PLAIN_HALF].says_replace


def test_half_and_half_rule_has_no_limit_for_a_young_machine() -> None:
    rules = _rules(_sure(59000), _machine(60000, 0, 11), 5)

    assert rules[Rule.HALF_AND_HALF].limit_minor is None
    assert rules[Rule.PLAIN_HALF].says_replace


def test_plain_half_rule_replaces_from_exactly_half() -> None:
    machine = _machine(60000, 0, 11)

    assert _rules(_sure(30000), machine, 2)[Rule.PLAIN_HALF].says_replace
    assert not _rules(_sure(29999), machine, 2)[Rule.PLAIN_HALF].says_replace


@pytest.mark.parametrize(
    ("age", "share"),
    [(0, 0.60), (3, 0.60), (4, 0.55), (5, 0.50), (8, 0.40), (11, 0.25), (14, 0.10), (30, 0.10)],
)
def test_sliding_limit_falls_with_age(age: float, share: float) -> None:
    # Common practice, no source: 60 % at 3 years, 50 at 5, 40 at 8, 25 at 11, 10 at 14.
    assert sliding_share(age) == pytest.approx(share)


@pytest.mark.parametrize("age", [0.0, 3.0, 10.0, 25.0])
def test_years_left_are_the_mean_over_the_survivors(age: float) -> None:
    # Rayleigh survival exp(-(t / s)^2) with mean 10, summed in steps of a thousandth of a year.
    scale = 20.0 / math.sqrt(math.pi)
    step = 1e-3
    later = (age + (k + 0.5) * step for k in range(60_000))
    summed = sum(math.exp((age / scale) ** 2 - (t / scale) ** 2) for t in later) * step

    assert years_left(age, 10.0) == pytest.approx(summed, rel=1e-5)


def test_worth_of_a_repair_is_the_same_share_of_the_price_as_of_the_life() -> None:
    rules = _rules(_sure(20000), _machine(72500, 17500, 10), 8)

    assert rules[Rule.WORTH_OF_REPAIR].limit_minor == pytest.approx(90000 * years_left(8, 10) / 10)


def test_advice_is_firm_only_where_all_rules_agree() -> None:
    machine = _machine(72500, 17500, 10)

    assert replacement_advice(_sure(15000), machine, 4).verdict is Verdict.REPAIR
    assert replacement_advice(_sure(24000), machine, 14).verdict is Verdict.CLOSE
    assert replacement_advice(_sure(60000), machine, 14).verdict is Verdict.REPLACE


def test_unknown_age_leaves_the_plain_rule_alone() -> None:
    advice = replacement_advice(_sure(15000), _machine(72500, 17500, 10), None)

    assert [entry.rule for entry in advice.rules] == [Rule.PLAIN_HALF]
    assert advice.years_left is None


def test_share_above_a_limit_is_the_chance_of_the_dear_jobs() -> None:
    prices = (
        JobPrice(probability=0.7, price_minor=(10000, 20000), parts=frozenset()),
        JobPrice(probability=0.3, price_minor=(50000, 70000), parts=frozenset()),
    )

    advice = replacement_advice(prices, _machine(72500, 17500, 10), None)

    assert advice.expected_price_minor == pytest.approx(0.7 * 15000 + 0.3 * 60000)
    assert advice.rules[0].share_above == pytest.approx(0.3)


@pytest.mark.parametrize(("age", "warned"), [(9.0, True), (3.0, False)])
def test_control_for_an_old_machine_brings_a_caution(age: float, warned: bool) -> None:
    advice = replacement_advice(_sure(40000, CONTROL), _machine(72500, 17500, 10), age)

    assert (CONTROL in advice.scarce_controls) is warned


def test_control_that_is_hardly_needed_brings_no_caution() -> None:
    prices = (
        JobPrice(probability=0.95, price_minor=(10000, 10000), parts=frozenset()),
        JobPrice(probability=0.05, price_minor=(40000, 40000), parts=frozenset({CONTROL})),
    )

    assert replacement_advice(prices, _machine(72500, 17500, 10), 12.0).scarce_controls == {}


def test_prices_of_jobs_cover_all_that_may_be_needed() -> None:
    engine = engine_for("top_load_washer")
    site = site_problem(engine, Evidence(), DEFAULT_COSTS)

    prices = job_prices(site, engine.network, DEFAULT_COSTS)

    assert sum(price.probability for price in prices) == pytest.approx(1.0)
    assert min(price.price_minor[0] for price in prices) == DEFAULT_COSTS.service_fee_minor
    assert all(price.price_minor[0] <= price.price_minor[1] for price in prices)


def test_age_among_the_findings_enters_the_advice_and_the_customer_decides() -> None:
    engine = engine_for("top_load_washer")
    evidence = parse_findings(engine.compiled.index, ["asks_age=over_12"])

    found = repair_or_replace(engine, evidence)

    assert found is not None
    assert found.advice.age_years == 14.0
    assert found.reasons[-1] == "This is advice; the customer decides."
    assert any("last 10 years on average" in reason for reason in found.reasons)


def test_reading_of_the_plate_beats_what_the_caller_says() -> None:
    engine = engine_for("top_load_washer")
    texts = ["reads_date_on_plate=from_4_to_7", "asks_age=over_12"]

    found = repair_or_replace(engine, parse_findings(engine.compiled.index, texts))

    assert found is not None
    assert found.advice.age_years == 6.0


def test_kind_without_a_new_machine_gets_no_advice() -> None:
    engine = engine_for("tests/triage/network/networks_files/small_washer.yaml")

    assert "small_washer" not in DEFAULT_SETTINGS.new_machines
    assert repair_or_replace(engine, Evidence()) is None
