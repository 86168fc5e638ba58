"""Noisy-OR and noisy-MAX against published examples, pyAgrum and Quickscore."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.discrete_networks import noisy_or_network
from tests.oracle_quickscore import quickscore
from triage.inference.noisy import link_from_compound, noisy_max
from triage.inference.root_causes import RootCauseModel

# Fever [RussellNorvig2021]_: cold, flu and malaria fail to cause it with 0.6, 0.2 and 0.1.
FEVER = {"cold": 0.4, "flu": 0.8, "malaria": 0.9}
FEVER_PRIORS = {"cold": 0.10, "flu": 0.05, "malaria": 0.01}  # invented for this test


def fever(causes: list[str], leak: float = 0.0) -> float:
    links = np.array([[1 - FEVER[cause], FEVER[cause]] for cause in causes]).reshape(-1, 2)
    return float(noisy_max(np.array([1 - leak, leak]), links)[1])


def fever_posterior(leak: float) -> tuple[float, dict[str, float], float]:
    """P(fever), P(cause | fever) of each, and P(two or more causes | fever)."""
    network = noisy_or_network(FEVER_PRIORS, {"fever": list(FEVER.values())}, {"fever": leak})
    model = RootCauseModel(network, dict.fromkeys(FEVER, "no"), ["fever"])
    posterior = model.posterior({"fever": "yes"})
    several = model.hypotheses.sum(axis=1) >= 2
    causes = {cause: posterior.marginal(cause)["yes"] for cause in FEVER}
    return posterior.evidence_probability, causes, float(posterior.probabilities[several].sum())


@pytest.mark.parametrize(
    ("causes", "expected"),  # table of the fever example [RussellNorvig2021]_
    [
        ([], 0.0),
        (["malaria"], 0.9),
        (["flu"], 0.8),
        (["flu", "malaria"], 0.98),
        (["cold"], 0.4),
        (["cold", "malaria"], 0.94),
        (["cold", "flu"], 0.88),
        (["cold", "flu", "malaria"], 0.988),
    ],
)
def test_noisy_or_gives_the_published_fever_table(causes: list[str], expected: float) -> None:
    assert fever(causes) == pytest.approx(expected, abs=1e-12)


def test_fever_posterior_equals_enumeration_without_leak() -> None:
    evidence, causes, several = fever_posterior(leak=0.0)

    # Computed by enumeration from the invented priors.
    assert evidence == pytest.approx(0.0866944, abs=1e-9)
    assert causes == pytest.approx(
        {"cold": 0.4950538904, "flu": 0.4670013288, "malaria": 0.1047172597}, abs=1e-9
    )
    assert several == pytest.approx(0.0662026613, abs=1e-9)


def test_fever_posterior_equals_enumeration_with_a_leak() -> None:
    evidence, causes, several = fever_posterior(leak=0.01)

    # Computed by enumeration from the invented priors.
    assert evidence == pytest.approx(0.0958274560, abs=1e-9)
    assert causes == pytest.approx(
        {"cold": 0.4538283475, "flu": 0.4234854779, "malaria": 0.0948331134}, abs=1e-9
    )
    assert several == pytest.approx(0.0599620009, abs=1e-9)


@pytest.mark.parametrize("convention", ["net", "compound"])
def test_leak_convention_agrees_with_pyagrum(convention: str) -> None:
    import pyagrum

    leak = 0.01
    reference = pyagrum.BayesNet()
    add = {"net": reference.addNoisyORNet, "compound": reference.addNoisyORCompound}[convention]
    add(pyagrum.LabelizedVariable("fever", "fever", 2), leak)
    for cause, strength in FEVER.items():
        reference.add(pyagrum.LabelizedVariable(cause, cause, 2))
        reference.addWeightedArc(cause, "fever", strength)
    net = {
        "net": list(FEVER.values()),
        "compound": [link_from_compound(strength, leak) for strength in FEVER.values()],
    }[convention]

    table = noisy_or_network(FEVER_PRIORS, {"fever": net}, {"fever": leak}).tables["fever"]

    for present in np.ndindex(2, 2, 2):
        place = dict(zip(FEVER, present, strict=True))
        # pyAgrum keeps the weights in float32.
        assert table[present] == pytest.approx(reference.cpt("fever")[place], abs=1e-6)


def test_leak_conventions_differ_where_the_leak_counts() -> None:
    compound = link_from_compound(0.4, 0.01)
    leak = np.array([0.99, 0.01])

    # Computed by hand: 1 - 0.99 * 0.6, and the compound probability itself.
    assert noisy_max(leak, np.array([[0.6, 0.4]]))[1] == pytest.approx(0.406, abs=1e-12)
    assert noisy_max(leak, np.array([[1 - compound, compound]]))[1] == pytest.approx(0.4, abs=1e-12)


@pytest.mark.parametrize(
    ("x", "y", "expected"),  # own example, computed by enumerating the two causes and the leak
    [
        (0, 0, (0.95, 0.04, 0.01)),
        (0, 1, (0.57, 0.321, 0.109)),
        (0, 2, (0.095, 0.301, 0.604)),
        (1, 0, (0.285, 0.507, 0.208)),
        (1, 1, (0.171, 0.5418, 0.2872)),
        (1, 2, (0.0285, 0.2883, 0.6832)),
    ],
)
def test_noisy_max_is_the_worst_that_any_cause_produces(
    x: int, y: int, expected: tuple[float, ...]
) -> None:
    leak = np.array([0.95, 0.04, 0.01])  # none, mild, severe
    x_links = np.array([[0.3, 0.5, 0.2]])[: min(x, 1)]
    y_links = np.array([[0.6, 0.3, 0.1], [0.1, 0.3, 0.6]])[y - 1 : y]

    effect = noisy_max(leak, np.vstack([x_links, y_links]))

    assert effect == pytest.approx(np.array(expected), abs=1e-12)


@given(seed=st.integers(0, 2**32 - 1))
def test_noisy_max_equals_enumeration_of_what_each_cause_produces(seed: int) -> None:
    rng = np.random.default_rng(seed)
    leak, first, second = rng.dirichlet(np.ones(3), size=3)
    by_enumeration = np.zeros(3)
    for states in np.ndindex(3, 3, 3):
        by_enumeration[max(states)] += leak[states[0]] * first[states[1]] * second[states[2]]

    effect = noisy_max(leak, np.stack([first, second]))

    assert effect == pytest.approx(by_enumeration, abs=1e-12)


def test_quickscore_equals_elimination() -> None:
    priors = {"d1": 0.10, "d2": 0.20, "d3": 0.05}
    links = {"f1": [0.8, 0.5, 0.0], "f2": [0.3, 0.9, 0.6], "f3": [0.0, 0.4, 0.7]}
    leaks = {"f1": 0.01, "f2": 0.02, "f3": 0.03}
    network = noisy_or_network(priors, links, leaks)
    findings = np.array([True, True, False])

    oracle, causes = quickscore(
        np.array(list(priors.values())),
        np.array(list(links.values())),
        np.array(list(leaks.values())),
        findings,
    )
    posterior = RootCauseModel(network, dict.fromkeys(priors, "no"), list(links)).posterior(
        {"f1": "yes", "f2": "yes", "f3": "no"}
    )

    # Own example, computed by enumeration.
    assert oracle == pytest.approx(0.0749670103310, abs=1e-12)
    assert causes == pytest.approx([0.3825003069854, 0.7407057041360, 0.0220965120853], abs=1e-12)
    assert posterior.evidence_probability == pytest.approx(oracle, abs=1e-12)
    assert [posterior.marginal(cause)["yes"] for cause in priors] == pytest.approx(causes)


def test_quickscore_equals_elimination_on_random_networks(rng: np.random.Generator) -> None:
    names, effects = list("abcde"), [f"f{number}" for number in range(6)]
    priors, leaks = rng.uniform(0.01, 0.3, size=5), rng.uniform(0.0, 0.1, size=6)
    links, findings = rng.uniform(size=(6, 5)), np.array([True, False, True, True, False, True])
    network = noisy_or_network(
        dict(zip(names, priors.tolist(), strict=True)),
        dict(zip(effects, links.tolist(), strict=True)),
        dict(zip(effects, leaks.tolist(), strict=True)),
    )

    oracle, causes = quickscore(priors, links, leaks, findings)
    posterior = RootCauseModel(network, dict.fromkeys(names, "no"), effects).posterior(
        {name: "yes" if seen else "no" for name, seen in zip(effects, findings, strict=True)}
    )

    assert posterior.evidence_probability == pytest.approx(oracle, rel=1e-9)
    assert [posterior.marginal(name)["yes"] for name in names] == pytest.approx(causes, rel=1e-9)
