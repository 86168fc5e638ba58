"""Hypotheses over chosen roots: laws, enumeration, caps, and findings that cannot be."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.discrete_networks import joint_table, random_network, screening
from triage.errors import (
    ImpossibleEvidenceError,
    ReadingError,
    UnknownAnswerError,
    UnknownObservationError,
)
from triage.inference.information import entropy_bits, mutual_information_bits
from triage.inference.root_causes import RootCauseModel, RootCausePosterior
from triage.network.discrete import DiscreteNetwork

FloatArray = NDArray[np.float64]
SEEDS = st.integers(0, 2**32 - 1)
ROOTS = {"v0": None, "v1": None, "v2": None}


def asked(seed: int, max_causes: int | None = None) -> RootCausePosterior:
    """Random network of 7 variables, three of them roots, one hard and one soft finding."""
    network = random_network(seed, size=7)
    model = RootCauseModel(network, ROOTS, ["v3", "v4", "v5", "v6"], max_causes=max_causes)
    return model.posterior({"v6": "b", "v4": np.linspace(0.2, 0.9, len(network.states["v4"]))})


def flooded_or_dry() -> DiscreteNetwork:
    """A valve that is stuck always floods, a closed one never does; an unrelated lamp."""
    return DiscreteNetwork(
        name="valve",
        states={"valve": ("closed", "stuck"), "floor": ("dry", "wet"), "lamp": ("off", "on")},
        parents={"valve": (), "floor": ("valve",), "lamp": ()},
        tables={
            "valve": np.array([0.7, 0.3]),
            "floor": np.array([[1.0, 0.0], [0.0, 1.0]]),
            "lamp": np.array([0.4, 0.6]),
        },
    )


@given(seed=SEEDS)
def test_probabilities_sum_to_one(seed: int) -> None:
    posterior = asked(seed)

    assert posterior.probabilities.sum() == pytest.approx(1.0, abs=1e-12)
    for variable in posterior.joint:
        assert sum(posterior.marginal(variable).values()) == pytest.approx(1.0, abs=1e-12)


@given(seed=SEEDS)
def test_gain_lies_between_zero_and_the_entropy_of_the_causes(seed: int) -> None:
    posterior = asked(seed)

    gains = posterior.expected_information_gain()

    entropy = entropy_bits(posterior.probabilities)
    assert all(-1e-12 <= gain <= entropy + 1e-12 for gain in gains.values())
    assert gains["v6"] == pytest.approx(0.0, abs=1e-12)  # known already


@given(seed=SEEDS)
def test_gain_about_one_root_is_at_most_the_gain_about_all(seed: int) -> None:
    posterior = asked(seed)

    gains = posterior.expected_information_gain()
    about_one = posterior.expected_information_gain(["v1"])

    assert all(about_one[name] <= gain + 1e-12 for name, gain in gains.items())


@given(seed=SEEDS)
def test_gain_equals_mutual_information_in_the_joint_table(seed: int) -> None:
    network = random_network(seed)
    model = RootCauseModel(network, {"v0": "a", "v2": "a"}, ["v3", "v4", "v5"])
    table = np.moveaxis(joint_table(network)[..., 0], [0, 2], [0, 1])  # v5 seen in state a
    table = table / table.sum()  # v0, v2, v1, v3, v4

    gains = model.posterior({"v5": "a"}).expected_information_gain()

    v3 = table.sum(axis=(2, 4)).reshape(len(model.hypotheses), -1)
    v4 = table.sum(axis=(2, 3)).reshape(len(model.hypotheses), -1)
    assert gains["v3"] == pytest.approx(mutual_information_bits(v3), abs=1e-12)
    assert gains["v4"] == pytest.approx(mutual_information_bits(v4), abs=1e-12)


@given(seed=SEEDS)
def test_order_of_findings_does_not_matter(seed: int) -> None:
    model = RootCauseModel(random_network(seed, size=7), ROOTS, ["v3", "v4", "v5", "v6"])
    findings = {"v3": "a", "v6": "b", "v1": "b"}
    reverse = dict(reversed(findings.items()))

    assert np.array_equal(model.posterior(findings).weights, model.posterior(reverse).weights)


@given(seed=SEEDS, max_causes=st.integers(0, 2))
def test_capped_list_is_off_by_at_most_the_missing_mass(seed: int, max_causes: int) -> None:
    exact, capped = asked(seed), asked(seed, max_causes)

    missing = capped.missing_mass()

    assert exact.missing_mass() == pytest.approx(0.0, abs=1e-12)
    assert missing == pytest.approx(
        1 - capped.evidence_probability / exact.evidence_probability, abs=1e-12
    )
    for variable in exact.joint:
        true, near = exact.marginal(variable), capped.marginal(variable)
        assert all(abs(near[state] - true[state]) <= missing + 1e-12 for state in true)


def test_list_holds_every_set_of_departures_up_to_the_cap() -> None:
    network = random_network(seed=1, size=7)
    sizes = [len(network.states[root]) for root in ROOTS]

    model = RootCauseModel(network, dict.fromkeys(ROOTS, "a"), [], max_causes=1)

    # None, or one root in one of its other states.
    assert len(model.hypotheses) == 1 + sum(size - 1 for size in sizes)
    assert model.hypotheses[0].tolist() == [0, 0, 0]
    assert np.count_nonzero(model.hypotheses[1:], axis=1).tolist() == [1] * sum(
        size - 1 for size in sizes
    )


def test_normal_state_is_the_most_probable_one_unless_given() -> None:
    network = screening(prior=0.9, sensitivity=0.9, false_positives=0.1)

    most_probable = RootCauseModel(network, {"fault": None}, ["test"], max_causes=0)
    given_state = RootCauseModel(network, {"fault": "no"}, ["test"], max_causes=0)

    assert most_probable.hypotheses.tolist() == [[1]]
    assert given_state.hypotheses.tolist() == [[0]]


def test_certain_sign_gives_the_whole_entropy_and_an_unrelated_one_nothing() -> None:
    model = RootCauseModel(flooded_or_dry(), {"valve": "closed"}, ["floor", "lamp"])

    gains = model.posterior({}).expected_information_gain()

    assert gains["floor"] == pytest.approx(entropy_bits([0.7, 0.3]), abs=1e-12)
    assert gains["lamp"] == pytest.approx(0.0, abs=1e-12)


def test_known_observation_has_nothing_more_to_give() -> None:
    model = RootCauseModel(flooded_or_dry(), {"valve": "closed"}, ["floor", "lamp"])

    posterior = model.posterior({"floor": "wet"})

    assert posterior.expected_information_gain()["floor"] == 0.0
    assert posterior.marginal("valve") == {"closed": 0.0, "stuck": 1.0}


def test_soft_finding_weighs_by_its_likelihood() -> None:
    model = RootCauseModel(screening(0.3, 0.9, 0.1), {"fault": "no"}, ["test"])
    twice = np.array([1.0, 2.0]) * np.array([1.0, 3.0])  # two independent looks, multiplied

    posterior = model.posterior({"test": twice})

    # By hand: 0.3 (0.1 + 6 * 0.9) against 0.7 (0.9 + 6 * 0.1).
    assert posterior.marginal("fault")["yes"] == pytest.approx(1.65 / (1.65 + 1.05), abs=1e-12)


def test_finding_about_a_root_itself_settles_it() -> None:
    model = RootCauseModel(flooded_or_dry(), {"valve": "closed"}, ["floor"])

    posterior = model.posterior({"valve": "stuck"})

    assert posterior.probability_of({"valve": "stuck"}) == 1.0
    assert posterior.marginal("floor") == {"dry": 0.0, "wet": 1.0}


def test_findings_that_exclude_each_other_are_named() -> None:
    model = RootCauseModel(flooded_or_dry(), {"valve": "closed"}, ["floor", "lamp"])

    with pytest.raises(ImpossibleEvidenceError, match='"valve = closed", "floor = wet"') as raised:
        model.posterior({"valve": "closed", "floor": "wet"})

    assert raised.value.findings == ("valve = closed", "floor = wet")


def test_findings_beyond_the_cap_are_refused_with_the_cap_named() -> None:
    model = RootCauseModel(flooded_or_dry(), {"valve": "closed"}, ["floor"], max_causes=0)

    with pytest.raises(ImpossibleEvidenceError, match='"floor = wet", "at most 0 causes"'):
        model.posterior({"floor": "wet"})


def test_unknown_names_and_bad_likelihoods_are_refused() -> None:
    model = RootCauseModel(flooded_or_dry(), {"valve": "closed"}, ["floor"])
    posterior = model.posterior({})

    with pytest.raises(UnknownObservationError, match='Unknown observation "lamp"'):
        model.posterior({"lamp": "on"})  # pruned: neither root nor observation nor above one
    with pytest.raises(UnknownAnswerError, match='Unknown answer "damp"'):
        model.posterior({"floor": "damp"})
    with pytest.raises(ReadingError, match="expected 2 numbers, none negative"):
        model.posterior({"floor": [0.5, -0.5]})
    with pytest.raises(ReadingError, match="expected 2 numbers, none negative"):
        model.posterior({"floor": [1.0, 1.0, 1.0]})
    with pytest.raises(UnknownObservationError, match='Unknown observation "lamp"'):
        posterior.marginal("lamp")
    with pytest.raises(UnknownObservationError, match='Unknown observation "floor"'):
        posterior.expected_information_gain(["floor"])


def polybox() -> DiscreteNetwork:
    """Three multipliers, two adders [deKleerWilliams1987]_; a failed one shows anything."""
    products, sums = range(13), range(25)
    failing = dict.fromkeys(["M1", "M2", "M3", "A1", "A2"], ("ok", "failed"))
    six, anything = np.eye(len(products))[6], np.full(len(products), 1 / len(products))
    added = np.eye(len(sums))[np.add.outer(products, products)]  # x, y, sum
    adder = np.stack([added, np.full_like(added, 1 / len(sums))])  # state, x, y, sum
    return DiscreteNetwork(
        name="polybox",
        states={
            **failing,
            **dict.fromkeys("XYZ", tuple(map(str, products))),
            **dict.fromkeys("FG", tuple(map(str, sums))),
        },
        parents={
            **dict.fromkeys(failing, ()),
            "X": ("M1",),
            "Y": ("M2",),
            "Z": ("M3",),
            "F": ("A1", "X", "Y"),
            "G": ("A2", "Y", "Z"),
        },
        tables={
            **dict.fromkeys(failing, np.array([0.99, 0.01])),
            **dict.fromkeys("XYZ", np.stack([six, anything])),
            **dict.fromkeys("FG", adder),
        },
    )


def test_polybox_has_the_published_diagnoses_and_probe() -> None:
    components = ["M1", "M2", "M3", "A1", "A2"]
    model = RootCauseModel(polybox(), dict.fromkeys(components, "ok"), ["X", "Y", "Z", "F", "G"])

    posterior = model.posterior({"F": "10", "G": "12"})

    # Of the 31 sets of components 27 are consistent, four of them minimal; the paper probes X.
    possible = [set(np.flatnonzero(row)) for row in model.hypotheses[posterior.weights > 0]]
    minimal = [one for one in possible if not any(other < one for other in possible)]
    assert len(possible) == 27
    assert [{components[place] for place in one} for one in minimal] == [
        {"M1"},
        {"A1"},
        {"M2", "M3"},
        {"M2", "A2"},
    ]
    gains = posterior.expected_information_gain()
    assert max(gains, key=lambda name: gains[name]) == "X"
