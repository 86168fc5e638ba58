"""Weight of evidence and conflict."""

from dataclasses import replace

import numpy as np
import pytest

from tests.builders import component, network, observation, random_network, sign
from triage.errors import UnknownModeError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.inference.explanation import (
    conflict,
    decibans,
    odds_shifts,
    weights_of_evidence,
)
from triage.network.values import FaultNetwork


def _screening() -> FaultNetwork:
    """One disease at 1 %, one test of sensitivity 0.8 and false positive rate 0.096."""
    return network(
        [component("disease", {"present": 0.01}), component("health", {"good": 0.99})],
        [sign("marker", {"disease.present": 0.999999}, leak=0.0)],
        [observation("test", "marker", [[0.904, 0.096], [0.2, 0.8]], ("negative", "positive"))],
        expected_failed_modes=1.0,
    )


def test_weight_of_a_positive_screening_test_is_the_published_one() -> None:
    # Eddy (1982), as told by Gigerenzer: prior .01, sensitivity .8, false positives .096 give
    # a likelihood ratio of 8.3333, 9.2082 decibans, and a posterior of .0776 (inputs from memory,
    # outputs by Bayes' rule).
    engine = Engine(_screening())
    evidence = Evidence.of(Finding("test", "positive"))

    weight = weights_of_evidence(engine, evidence, "disease.present")[0]

    posterior = engine.posterior(evidence).mode_probabilities[0]
    assert weight.decibans == pytest.approx(9.2082, abs=1e-4)
    assert weight.alone_decibans == pytest.approx(9.2082, abs=1e-4)
    assert posterior == pytest.approx(0.0776397516, abs=1e-6)


def test_weights_in_order_add_up_to_the_whole_change_of_the_odds() -> None:
    engine = Engine(random_network(4))
    evidence = Evidence.of(Finding("o_s0_0", "a"), Finding("o_s1_0", "b"), Finding("o_s2_1", "c"))
    prior = engine.posterior(Evidence()).mode_probabilities[0]
    posterior = engine.posterior(evidence).mode_probabilities[0]

    weights = weights_of_evidence(engine, evidence, engine.compiled.mode_ids[0])

    whole = decibans((posterior / (1 - posterior)) / (prior / (1 - prior)))
    assert sum(weight.decibans for weight in weights) == pytest.approx(whole, abs=1e-9)
    assert [weight.finding for weight in weights] == list(evidence.findings)


def test_weight_for_an_unknown_cause_is_refused() -> None:
    engine = Engine(random_network(4))

    with pytest.raises(UnknownModeError, match="Unknown failure mode"):
        weights_of_evidence(engine, Evidence(), "c9.m9")


def _two_machines() -> FaultNetwork:
    """Two causes that never come together, each with two signs of its own."""
    rows = [[0.99, 0.01], [0.01, 0.99]]
    return network(
        [component("a", {"x": 0.5}), component("b", {"y": 0.5})],
        [sign(f"{cause[0]}{k}", {cause: 0.95}, 0.01) for cause in ("a.x", "b.y") for k in (1, 2)],
        [observation(f"o_{name}", name, rows) for name in ("a1", "a2", "b1", "b2")],
        expected_failed_modes=1.0,
    )


def test_findings_that_support_each_other_have_negative_conflict() -> None:
    engine = Engine(_two_machines())
    evidence = Evidence.of(Finding("o_a1", "yes"), Finding("o_a2", "yes"))

    assert conflict(engine, evidence).bits < 0.0


def test_conflict_equals_its_definition() -> None:
    engine = Engine(_two_machines())
    findings = (Finding("o_a1", "yes"), Finding("o_a2", "yes"), Finding("o_b1", "yes"))
    single = [engine.log_evidence(Evidence.of(finding)) for finding in findings]

    measured = conflict(engine, Evidence(findings))

    expected = (sum(single) - engine.log_evidence(Evidence(findings))) / np.log(2.0)
    assert measured.bits == pytest.approx(expected, abs=1e-9)


def test_conflict_names_the_finding_that_fits_least() -> None:
    engine = Engine(_two_machines())
    odd_one = Finding("o_b1", "yes")
    evidence = Evidence.of(
        Finding("o_a1", "yes"), Finding("o_a2", "yes"), odd_one, Finding("o_b2", "no")
    )
    low_threshold = conflict(engine, evidence)

    assert low_threshold.bits > 0.0
    suspicious = _with_threshold(engine, low_threshold.bits - 0.1)
    assert conflict(suspicious, evidence).least_likely == odd_one
    assert conflict(suspicious, evidence).is_suspicious


def _with_threshold(engine: Engine, threshold_bits: float) -> Engine:
    return Engine(replace(engine.network, conflict_threshold_bits=threshold_bits))


def test_explaining_away_lowers_the_rival_that_was_not_looked_at() -> None:
    fault_network = network(
        [component("a", {"x": 0.5}), component("b", {"y": 0.5})],
        [sign("both", {"a.x": 0.9, "b.y": 0.9}), sign("only_a", {"a.x": 0.95})],
        [
            observation("o_both", "both", [[0.99, 0.01], [0.01, 0.99]]),
            observation("o_a", "only_a", [[0.99, 0.01], [0.01, 0.99]]),
        ],
    )
    engine = Engine(fault_network)
    before = Evidence.of(Finding("o_both", "yes"))

    shifts = {s.mode: s for s in odds_shifts(engine, before, before.adding(Finding("o_a", "yes")))}

    assert shifts["a.x"].after > shifts["a.x"].before
    assert shifts["b.y"].after < shifts["b.y"].before
