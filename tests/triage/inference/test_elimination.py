"""Elimination against the joint table, pgmpy and pyAgrum, and the tables that cannot be."""

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.discrete_networks import in_pgmpy, in_pyagrum, joint_table, random_network
from triage.errors import NetworkFileError, UnknownObservationError
from triage.inference.elimination import Elimination, min_fill_order
from triage.network.discrete import DiscreteNetwork

FloatArray = NDArray[np.float64]
SEEDS = st.integers(0, 2**32 - 1)


def random_likelihoods(network: DiscreteNetwork, seed: int) -> dict[str, FloatArray]:
    """Hard, soft or no finding on each variable."""
    rng = np.random.default_rng(seed)
    likelihoods = {}
    for name, states in network.states.items():
        kind = rng.integers(0, 3)
        if kind == 1:
            likelihoods[name] = np.eye(len(states))[rng.integers(len(states))]
        elif kind == 2:
            likelihoods[name] = rng.uniform(0.1, 2.0, size=len(states))
    return likelihoods


def by_enumeration(
    network: DiscreteNetwork, likelihoods: Mapping[str, FloatArray], axes: list[str]
) -> FloatArray:
    """``P(axes, evidence)`` from the joint table, axes in network order."""
    names = list(network.states)
    table = joint_table(network)
    for name, likelihood in likelihoods.items():
        shape = [-1 if other == name else 1 for other in names]
        table = table * likelihood.reshape(shape)
    return np.asarray(
        table.sum(axis=tuple(place for place, name in enumerate(names) if name not in axes))
    )


@given(seed=SEEDS)
def test_evidence_and_every_derivative_equal_enumeration(seed: int) -> None:
    network = random_network(seed)
    likelihoods = random_likelihoods(network, seed)

    evidence, joint = Elimination(network, network.states).derivatives(likelihoods)

    assert evidence == pytest.approx(by_enumeration(network, likelihoods, []), rel=1e-12)
    for name in network.states:
        others = {other: value for other, value in likelihoods.items() if other != name}
        assert joint[name] == pytest.approx(by_enumeration(network, others, [name]), rel=1e-12)


@given(seed=SEEDS)
def test_fixed_variables_give_the_same_numbers_per_hypothesis(seed: int) -> None:
    network = random_network(seed)
    likelihoods = random_likelihoods(network, seed)
    sizes = len(network.states["v1"]), len(network.states["v4"])
    first, second = np.indices(sizes).reshape(2, -1)

    evidence, joint = Elimination(network, network.states, {"v1": first, "v4": second}).derivatives(
        likelihoods
    )

    expected = by_enumeration(network, likelihoods, ["v1", "v4"])
    assert evidence.reshape(sizes) == pytest.approx(expected, rel=1e-12)
    without_v0 = {name: value for name, value in likelihoods.items() if name != "v0"}
    expected = by_enumeration(network, without_v0, ["v0", "v1", "v4"])
    assert joint["v0"].reshape(-1, *sizes) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_posteriors_equal_pgmpy_and_pyagrum_on_random_networks(seed: int) -> None:
    import pyagrum
    from pgmpy.inference import VariableElimination

    network = random_network(seed, size=9)
    findings = {"v8": 1, "v5": 0}
    likelihoods = {
        name: np.eye(len(network.states[name]))[state] for name, state in findings.items()
    }
    pgmpy = VariableElimination(in_pgmpy(network))
    agrum = pyagrum.LazyPropagation(in_pyagrum(network))
    agrum.setEvidence(findings)

    evidence, joint = Elimination(network, network.states).derivatives(likelihoods)

    assert evidence == pytest.approx(agrum.evidenceProbability(), abs=1e-12)
    named = {name: network.states[name][state] for name, state in findings.items()}
    for name in network.states.keys() - findings.keys():
        ours = joint[name] / joint[name].sum()
        assert ours == pytest.approx(agrum.posterior(name).toarray(), abs=1e-12)
        reference = pgmpy.query([name], named, show_progress=False)
        assert ours == pytest.approx(reference.values, abs=1e-12)


def test_variables_below_everything_asked_about_are_pruned() -> None:
    network = random_network(seed=4)

    elimination = Elimination(network, ["v2"])

    assert "v2" in elimination.variables
    assert set(elimination.variables) <= {"v0", "v1", "v2"}
    assert elimination.evidence_probability({}) == pytest.approx(1.0, abs=1e-12)


def test_elimination_of_nothing_is_certain() -> None:
    assert Elimination(random_network(seed=5), []).evidence_probability({}) == 1.0


def test_elimination_of_an_unknown_variable_names_the_nearest() -> None:
    with pytest.raises(UnknownObservationError, match='Did you mean "v0"'):
        Elimination(random_network(seed=5), ["v00"])


def test_min_fill_takes_a_chain_apart_without_joining_anything() -> None:
    scopes = [("a", "b"), ("b", "c"), ("c", "d")]

    order = min_fill_order(["b", "c", "a", "d"], scopes)

    assert order == ["a", "b", "c", "d"]  # always an end, by hand


def test_min_fill_leaves_the_hub_of_a_star_for_last() -> None:
    scopes = [("hub", leaf) for leaf in "abcd"]

    order = min_fill_order(["hub", *"abcd"], scopes)

    # By hand: with one leaf left, hub and leaf are equal and the earlier one goes first.
    assert order == ["a", "b", "c", "hub", "d"]


def test_network_that_is_too_dense_is_refused_with_a_way_out() -> None:
    # Thirty coins and every pair of them compared: no order avoids a table over all of them.
    coins = [f"coin_{number}" for number in range(30)]
    pairs = {f"{a} {b}": (a, b) for a in coins for b in coins if a < b}
    network = DiscreteNetwork(
        name="pairs",
        states=dict.fromkeys([*coins, *pairs], ("heads", "tails")),
        parents={**dict.fromkeys(coins, ()), **pairs},
        tables={
            **dict.fromkeys(coins, np.full(2, 0.5)),
            **dict.fromkeys(pairs, np.full((2, 2, 2), 0.5)),
        },
    )

    with pytest.raises(NetworkFileError, match=r"needs a table of \d+ numbers.*fix more variables"):
        Elimination(network, pairs)
