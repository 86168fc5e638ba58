"""The engine against enumeration of the whole model, and the laws every answer obeys.

Origin of the expected values: ``tests/oracle.py``, which enumerates sets of failed modes and sign
states one by one and shares nothing with the engine but the solved base odds.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.builders import (
    component,
    network,
    observation,
    random_network,
    sign,
    two_causes_one_sign,
)
from tests.oracle import information_gain, joint_table
from triage.errors import (
    ImpossibleEvidenceError,
    ReadingError,
    UnknownAnswerError,
    UnknownObservationError,
)
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, parse_finding
from triage.inference.missing_mass import Certainty
from triage.network.values import FaultNetwork

EXACT = 1e-12


def _random_evidence(fault_network: FaultNetwork, seed: int, count: int = 4) -> Evidence:
    rng = np.random.default_rng(seed)
    chosen = rng.choice(list(fault_network.observations), size=count, replace=False)
    findings = []
    for name in chosen:
        entry = fault_network.observations[str(name)]
        answers = [*entry.answers, *(["volunteered"] if entry.volunteered else [])]
        findings.append(Finding(str(name), str(rng.choice(answers))))
    return Evidence(tuple(findings))


@pytest.mark.parametrize("max_failed", [1, 2, 4])
@pytest.mark.parametrize("seed", range(8))
def test_posterior_and_evidence_equal_enumeration(seed: int, max_failed: int) -> None:
    fault_network = random_network(seed, signs_count=4)
    engine = Engine(fault_network, max_failed=max_failed, missing_mass_max=1.0)
    evidence = _random_evidence(fault_network, seed)
    table = joint_table(engine.compiled, engine.prior, evidence, max_failed)
    total = sum(table.values())

    assessment = engine.assess(evidence)

    expected = [
        sum(weight for failed, weight in table.items() if mode in failed) / total
        for mode in range(engine.compiled.mode_count)
    ]
    assert assessment.mode_probabilities == pytest.approx(expected, abs=EXACT)
    assert assessment.posterior.log_evidence == pytest.approx(np.log(total), abs=EXACT)


@pytest.mark.parametrize("seed", range(5))
def test_gain_of_every_observation_equals_enumeration(seed: int) -> None:
    fault_network = random_network(seed, components_count=3, signs_count=4)
    engine = Engine(fault_network, max_failed=2, dropped_mass=0.0, missing_mass_max=1.0)
    evidence = _random_evidence(fault_network, seed + 50, count=3)

    gains = engine.assess(evidence).gains

    for place, name in enumerate(engine.compiled.observation_ids):
        expected = information_gain(engine.compiled, engine.prior, evidence, name, 2)
        assert gains.bits[place] == pytest.approx(expected, abs=1e-11), name


@pytest.mark.parametrize("seed", range(6))
def test_missing_mass_is_the_exact_share_beyond_the_table(seed: int) -> None:
    fault_network = random_network(seed, signs_count=4, with_table=False)
    engine = Engine(fault_network, max_failed=2, missing_mass_max=1.0)
    evidence = _random_evidence(fault_network, seed + 9)
    capped = sum(joint_table(engine.compiled, engine.prior, evidence, 2).values())
    whole = sum(joint_table(engine.compiled, engine.prior, evidence).values())

    missing = engine.assess(evidence).missing

    assert missing.certainty is Certainty.EXACT
    assert missing.share == pytest.approx(1.0 - capped / whole, abs=EXACT)


def test_table_grows_until_the_missing_mass_is_under_the_limit() -> None:
    fault_network = random_network(2, components_count=6, signs_count=5, with_table=False)
    evidence = _random_evidence(fault_network, 4, count=6)
    small = Engine(fault_network, max_failed=1, missing_mass_max=1.0).assess(evidence)
    grown = Engine(fault_network, max_failed=1, missing_mass_max=1e-3).assess(evidence)

    assert small.missing.share > 1e-2
    assert grown.missing.share < 1e-3
    assert grown.posterior.state.table.members.shape[1] > 1


def test_dropping_the_lightest_hypotheses_moves_gains_by_less_than_a_thousandth_of_a_bit() -> None:
    fault_network = random_network(5, components_count=6, signs_count=5)
    evidence = _random_evidence(fault_network, 5)
    whole = Engine(fault_network, dropped_mass=0.0).assess(evidence).gains.bits
    pruned = Engine(fault_network).assess(evidence).gains.bits

    assert np.abs(whole - pruned).max() < 2e-3


def test_class_gain_never_exceeds_the_gain_about_hypotheses() -> None:
    for seed in range(4):
        fault_network = random_network(seed)
        engine = Engine(fault_network, dropped_mass=0.0)
        assessment = engine.assess(_random_evidence(fault_network, seed, count=2))

        assert (assessment.class_gains_bits <= assessment.gains.bits + 1e-12).all()


@given(seed=st.integers(0, 30), order=st.permutations(range(4)))
@settings(max_examples=25, deadline=None)
def test_order_of_findings_does_not_matter(seed: int, order: list[int]) -> None:
    fault_network = random_network(seed % 5)
    engine = Engine(fault_network)
    evidence = _random_evidence(fault_network, seed)
    shuffled = Evidence(tuple(evidence.findings[place] for place in order))

    first, second = engine.posterior(evidence), engine.posterior(shuffled)

    assert second.mode_probabilities == pytest.approx(first.mode_probabilities, abs=EXACT)


@given(seed=st.integers(0, 30))
@settings(max_examples=20, deadline=None)
def test_weights_sum_to_one_and_gains_lie_between_zero_and_the_entropy(seed: int) -> None:
    fault_network = random_network(seed % 6)
    assessment = Engine(fault_network, dropped_mass=0.0).assess(
        _random_evidence(fault_network, seed, count=3)
    )
    weights = assessment.posterior.weights[assessment.posterior.weights > 0]
    entropy = -(weights * np.log2(weights)).sum()

    assert weights.sum() == pytest.approx(1.0, abs=EXACT)
    assert (assessment.gains.bits >= 0.0).all()
    assert (assessment.gains.bits <= entropy + 1e-9).all()


def test_dont_know_leaves_the_posterior_unchanged() -> None:
    engine = Engine(two_causes_one_sign())
    evidence = Evidence.of(Finding("says_no_spin", "dont_know"))

    found = engine.posterior(evidence)

    assert found.mode_probabilities == pytest.approx(
        engine.posterior(Evidence()).mode_probabilities, abs=EXACT
    )


def test_asking_the_same_person_again_replaces_the_answer() -> None:
    engine = Engine(two_causes_one_sign())
    twice = Evidence.of(Finding("says_no_spin", "yes"), Finding("says_no_spin", "yes"))
    once = Evidence.of(Finding("says_no_spin", "yes"))

    assert engine.posterior(twice).mode_probabilities == pytest.approx(
        engine.posterior(once).mode_probabilities, abs=EXACT
    )


def test_a_second_person_adds_evidence() -> None:
    engine = Engine(two_causes_one_sign())
    first = Evidence.of(Finding("says_no_spin", "yes"))
    belt = engine.compiled.mode_position["belt.broken"]

    both = first.adding(Finding("says_no_spin", "yes", by="neighbour"))

    before = engine.posterior(first).mode_probabilities[belt]
    assert engine.posterior(both).mode_probabilities[belt] > before


def test_two_channels_share_the_sign_they_look_at() -> None:
    engine = Engine(two_causes_one_sign(), dropped_mass=0.0)
    tested = Evidence.of(Finding("tests_spin", "yes", by="technician"))

    gains = dict(
        zip(engine.compiled.observation_ids, engine.assess(tested).gains.bits, strict=True)
    )
    fresh = dict(
        zip(engine.compiled.observation_ids, engine.assess(Evidence()).gains.bits, strict=True)
    )

    assert gains["says_no_spin"] < 0.2 * fresh["says_no_spin"]


def test_irrelevant_sign_has_no_gain() -> None:
    fault_network = network(
        [component("a", {"x": 0.5}), component("b", {"y": 0.5})],
        [sign("s", {"a.x": 0.9}), sign("blank", {"a.x": 0.0}, leak=0.2)],
        [
            observation("o", "s", [[0.9, 0.1], [0.1, 0.9]]),
            observation("idle", "blank", [[0.9, 0.1], [0.1, 0.9]]),
        ],
    )
    engine = Engine(fault_network)

    gains = engine.assess(Evidence()).gains.bits

    assert gains[1] == pytest.approx(0.0, abs=1e-12)
    assert gains[0] > 0.1


def test_impossible_findings_are_named_and_innocent_ones_are_not() -> None:
    fault_network = network(
        [component("a", {"x": 0.5}), component("b", {"y": 0.5})],
        [sign("s", {"a.x": 0.9, "b.y": 0.2}), sign("t", {"b.y": 0.5})],
        [
            observation("sees", "s", [[1.0, 0.0], [0.0, 1.0]]),
            observation("feels", "s", [[1.0, 0.0], [0.0, 1.0]]),
            observation("other", "t", [[0.9, 0.1], [0.1, 0.9]]),
        ],
    )
    evidence = Evidence.of(Finding("other", "yes"), Finding("sees", "yes"), Finding("feels", "no"))

    with pytest.raises(ImpossibleEvidenceError, match="cannot all be true") as caught:
        Engine(fault_network).assess(evidence)

    assert caught.value.findings == ("sees=yes", "feels=no")


def test_unknown_observation_names_the_nearest() -> None:
    engine = Engine(two_causes_one_sign())

    with pytest.raises(UnknownObservationError, match='Did you mean "says_no_spin"'):
        engine.assess(Evidence.of(Finding("say_no_spin", "yes")))


def test_unknown_answer_names_the_accepted_ones() -> None:
    engine = Engine(two_causes_one_sign())

    with pytest.raises(UnknownAnswerError, match='expected one of "no", "yes", "dont_know"'):
        engine.assess(Evidence.of(Finding("says_no_spin", "perhaps")))


def test_number_for_a_question_without_a_meter_is_refused() -> None:
    engine = Engine(two_causes_one_sign())

    with pytest.raises(ReadingError, match=r'Reading "12\.0" for observation "says_no_spin"'):
        engine.assess(Evidence.of(Finding("says_no_spin", 12.0)))


def test_finding_is_read_from_text() -> None:
    engine = Engine(two_causes_one_sign())

    assert parse_finding(engine.compiled.index, " says_no_spin = yes ") == Finding(
        "says_no_spin", "yes"
    )


def test_thirty_findings_neither_underflow_nor_lose_the_sum() -> None:
    fault_network = random_network(0, components_count=5, signs_count=5)
    names = [o.id for o in fault_network.observations.values() if o.sign]
    findings = [Finding(name, "a", by=f"person {person}") for name in names for person in range(30)]

    found = Engine(fault_network).posterior(Evidence(tuple(findings)))

    assert found.log_evidence < -100
    assert found.weights.sum() == pytest.approx(1.0, abs=EXACT)


def test_probabilities_after_each_answer_equal_those_of_answering() -> None:
    fault_network = random_network(3)
    engine = Engine(fault_network, dropped_mass=0.0)
    evidence = _random_evidence(fault_network, 1, count=2)
    places = [place for place, _ in enumerate(engine.compiled.observations)]

    after = engine.assess(evidence).mode_probabilities_after(places)

    for place, entry in enumerate(engine.compiled.observations):
        for answer, probabilities in zip(entry.answers, after[place], strict=True):
            answered = evidence.adding(Finding(entry.id, answer, by="second look"))
            expected = engine.posterior(answered).mode_probabilities
            assert probabilities == pytest.approx(expected, abs=1e-11), entry.id
