"""Information and weight of evidence against published puzzles, textbooks and their own laws."""

from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.discrete_networks import screening
from triage.inference.information import (
    decibans,
    entropy_bits,
    expected_information_gain,
    generalized_bayes_factor,
    information_gain_of_classes,
)
from triage.inference.root_causes import RootCauseModel, RootCausePosterior

FloatArray = NDArray[np.float64]
SEEDS = st.integers(0, 2**32 - 1)


def random_problem(seed: int) -> tuple[FloatArray, FloatArray, NDArray[np.int_]]:
    """Prior (F,), likelihood (S, F, A) with some certain answers, and classes (F,)."""
    rng = np.random.default_rng(seed)
    prior = rng.dirichlet(np.ones(6))
    likelihood = rng.dirichlet(np.full(3, 0.3), size=(4, 6))
    likelihood[0] = np.eye(3)[rng.integers(0, 3, size=6)]
    return prior, likelihood, rng.integers(0, 3, size=6)


def gains_of(outcomes: NDArray[np.int_], prior: FloatArray) -> FloatArray:
    """Gain of noise-free questions; ``outcomes`` (S, F) numbers the answer of each hypothesis."""
    return expected_information_gain(prior, np.eye(outcomes.max() + 1)[outcomes])


@given(seed=SEEDS)
def test_gain_lies_between_zero_and_the_entropy(seed: int) -> None:
    prior, likelihood, _ = random_problem(seed)

    gain = expected_information_gain(prior, likelihood)

    assert (gain >= -1e-12).all()
    assert (gain <= entropy_bits(prior) + 1e-12).all()


@given(seed=SEEDS)
def test_gain_equals_the_fall_of_entropy_over_all_answers(seed: int) -> None:
    prior, likelihood, _ = random_problem(seed)
    answers = np.einsum("f,sfa->sa", prior, likelihood)
    by_enumeration = np.full(4, entropy_bits(prior))
    for s, a in product(range(4), range(3)):
        if answers[s, a] > 0:
            by_enumeration[s] -= answers[s, a] * entropy_bits(
                prior * likelihood[s, :, a] / answers[s, a]
            )

    gain = expected_information_gain(prior, likelihood)

    assert gain == pytest.approx(by_enumeration, abs=1e-12)


@given(seed=SEEDS)
def test_gain_about_classes_is_at_most_the_gain_about_hypotheses(seed: int) -> None:
    prior, likelihood, classes = random_problem(seed)

    gain = information_gain_of_classes(prior, likelihood, classes)

    assert (gain >= -1e-12).all()
    assert (gain <= expected_information_gain(prior, likelihood) + 1e-12).all()


@given(seed=SEEDS)
def test_gain_about_single_hypotheses_as_classes_is_the_joint_gain(seed: int) -> None:
    prior, likelihood, _ = random_problem(seed)

    gain = information_gain_of_classes(prior, likelihood, np.arange(6))

    assert gain == pytest.approx(expected_information_gain(prior, likelihood), abs=1e-12)


@given(seed=SEEDS)
def test_certain_sign_gives_the_whole_entropy_and_an_irrelevant_one_nothing(seed: int) -> None:
    prior, _, _ = random_problem(seed)
    irrelevant = np.tile(np.array([0.5, 0.25, 0.25, 0.0, 0.0, 0.0]), (6, 1))

    certain_gain, irrelevant_gain = expected_information_gain(
        prior, np.stack([np.eye(6), irrelevant])
    )

    assert certain_gain == pytest.approx(entropy_bits(prior), abs=1e-12)
    assert irrelevant_gain == pytest.approx(0.0, abs=1e-12)


def test_zero_probabilities_count_for_exactly_nothing() -> None:
    assert entropy_bits([1.0, 0.0]) == 0.0
    assert entropy_bits([0.5, 0.0, 0.5]) == 1.0


def test_entropy_runs_along_the_axis_asked_for() -> None:
    columns = np.array([[0.5, 1.0], [0.5, 0.0]])

    assert entropy_bits(columns, axis=0).tolist() == [1.0, 0.0]


@pytest.mark.parametrize(
    ("prior", "sensitivity", "false_positives", "bits"),
    [  # Binary asymmetric channel, H(answer) - H(answer | fault), computed by hand.
        (0.5, 0.95, 0.05, 0.7136030429),
        (0.2, 0.9, 0.1, 0.3577507789),
        (0.5, 0.8, 0.3, 0.1911649569),
    ],
)
def test_binary_channel_gives_its_mutual_information(
    prior: float, sensitivity: float, false_positives: float, bits: float
) -> None:
    network = screening(prior, sensitivity, false_positives)
    model = RootCauseModel(network, {"fault": "no"}, ["test"])

    direct = expected_information_gain(network.tables["fault"], network.tables["test"][None])

    assert direct[0] == pytest.approx(bits, abs=1e-9)
    assert model.posterior({}).expected_information_gain()["test"] == pytest.approx(bits, abs=1e-9)


def screened(prior: float, sensitivity: float, false_positives: float) -> list[RootCausePosterior]:
    """What is believed after a positive and after a negative test."""
    network = screening(prior, sensitivity, false_positives)
    model = RootCauseModel(network, {"fault": "no"}, ["test"])
    return [model.posterior({"test": answer}) for answer in ("positive", "negative")]


@pytest.mark.parametrize(
    ("test", "posterior", "weights"),
    [
        # Mammography problem of D. M. Eddy (1982), as used by G. Gigerenzer: 1 %, 80 %, 9.6 %.
        # The published answer is 7.8 %; the further digits are Bayes' rule by hand.
        ((0.01, 0.8, 0.096), (0.0776397516, 0.0022297538), (9.2082, -6.5514)),
        ((0.2, 0.9, 0.1), (0.6923076923, 0.0270270270), (9.5424, -9.5424)),  # by hand
    ],
)
def test_screening_gives_the_published_posterior_and_its_weight_in_decibans(
    test: tuple[float, float, float], posterior: tuple[float, float], weights: tuple[float, float]
) -> None:
    prior = test[0]

    after = [answer.marginal("fault")["yes"] for answer in screened(*test)]

    assert after == pytest.approx(posterior, abs=1e-9)
    factors = [generalized_bayes_factor(prior, p) for p in after]
    assert decibans(factors) == pytest.approx(weights, abs=1e-4)


def test_bayes_factor_of_a_test_is_its_likelihood_ratio() -> None:
    positive, negative = screened(0.01, 0.8, 0.096)

    ratio = generalized_bayes_factor(0.01, positive.marginal("fault")["yes"])
    ratio_negative = generalized_bayes_factor(0.01, negative.marginal("fault")["yes"])

    assert ratio == pytest.approx(0.8 / 0.096)  # by definition, sensitivity / false positives
    assert ratio_negative == pytest.approx(0.2 / 0.904)


def test_bayes_factor_of_a_proof_is_infinite_and_of_a_refutation_zero() -> None:
    assert decibans(generalized_bayes_factor(0.3, 1.0)) == np.inf
    assert decibans(generalized_bayes_factor(0.3, 0.0)) == -np.inf


@pytest.mark.parametrize(
    ("prior", "posterior", "slope"),  # se fp / P(positive)^2, by hand
    [(0.05, 0.3214285714, 4.591837), (0.1, 0.5, 2.777778), (0.2, 0.6923076923, 1.331361)],
)
def test_posterior_reacts_to_the_prior_as_calculus_says(
    prior: float, posterior: float, slope: float
) -> None:
    step = 1e-5

    below, at, above = (
        screened(prior + move, 0.9, 0.1)[0].marginal("fault")["yes"] for move in (-step, 0.0, step)
    )

    assert at == pytest.approx(posterior, abs=1e-9)
    assert (above - below) / (2 * step) == pytest.approx(slope, rel=1e-6)


def test_best_test_for_the_hypothesis_can_be_worthless_for_the_repair() -> None:
    prior, classes = np.array([0.3, 0.2, 0.2, 0.2, 0.1]), np.array([0, 0, 1, 1, 2])
    positive = np.array(
        [[0.9, 0.9, 0.1, 0.1, 0.5], [0.95, 0.05, 0.95, 0.05, 0.5], [0.1, 0.1, 0.2, 0.2, 0.95]]
    )
    likelihood = np.stack([positive, 1 - positive], axis=-1)

    joint = expected_information_gain(prior, likelihood)
    about_classes = information_gain_of_classes(prior, likelihood, classes)

    # Own example, computed by enumeration.
    assert joint == pytest.approx([0.473282, 0.636392, 0.217284], abs=1e-6)
    assert about_classes == pytest.approx([0.473282, 0.005899, 0.217284], abs=1e-6)


def weighings(alive: NDArray[np.bool_]) -> NDArray[np.int_]:
    """Outcome (S, 2 N) of weighings that differ in kind; hypotheses: coin heavy, coin light.

    Twelve coins ([MacKay2003]_, chapter 4): one is odd, heavy or light.
    ``alive`` (2, N) tells which are still possible. Coins about which the same is known are alike,
    so a weighing is how many of each kind lie left and right.
    """
    kinds = [np.flatnonzero((kind == alive.T).all(axis=1)) for kind in np.ndindex(2, 2)]
    loads = [
        [(left, right) for left in range(len(kind) + 1) for right in range(len(kind) + 1 - left)]
        for kind in kinds
    ]
    rows = []
    for load in product(*loads):
        if sum(left for left, _ in load) == sum(right for _, right in load) > 0:
            tilt = np.zeros(alive.shape[1], dtype=int)  # per coin: left 1, right -1, off 0
            for kind, (left, right) in zip(kinds, load, strict=True):
                tilt[kind[:left]], tilt[kind[left : left + right]] = 1, -1
            rows.append(np.concatenate([tilt, -tilt]) + 1)
    return np.array(rows)


def greedy_weighings(alive: NDArray[np.bool_]) -> int:
    """Weighings the greedy policy needs in the worst case."""
    if alive.sum() == 1:
        return 0
    options = weighings(alive)
    flat = alive.ravel()
    gains = expected_information_gain(flat / flat.sum(), np.eye(3)[options])
    outcome = options[gains.round(12).argmax()]
    left = [flat & (outcome == seen) for seen in range(3)]
    return 1 + max(greedy_weighings(rest.reshape(alive.shape)) for rest in left if rest.any())


def test_first_weighing_of_twelve_coins_has_the_published_gains() -> None:
    coins = np.arange(12)
    sizes = range(1, 7)
    tilt = np.array([np.where(coins < n, 1, np.where(coins < 2 * n, -1, 0)) for n in sizes])

    gains = gains_of(np.concatenate([tilt, -tilt], axis=1) + 1, np.full(24, 1 / 24))

    # Entropy of the outcome, by hand; four against four is best, as published.
    assert gains == pytest.approx([0.816689, 1.251629, 1.5, 1.584963, 1.483356, 1.0], abs=1e-6)


@pytest.mark.parametrize(("coins", "needed"), [(3, 2), (12, 3)])
def test_greedy_weighing_finds_the_odd_coin_in_the_published_number(
    coins: int, needed: int
) -> None:
    # (3^k - 3) / 2 coins need k weighings [MacKay2003]_, [CoverThomas2006]_.
    assert greedy_weighings(np.ones((2, coins), dtype=bool)) == needed


def greedy_questions(prior: FloatArray) -> float:
    """Expected number of yes-no questions if each has the largest gain, any subset allowed."""
    count = len(prior)
    if count == 1:
        return 0.0
    subsets = [
        list(chosen)
        for size in range(1, count // 2 + 1)
        for chosen in combinations(range(count), size)
    ]
    questions = np.zeros((len(subsets), count), dtype=int)
    for row, chosen in enumerate(subsets):
        questions[row, chosen] = 1
    inside = questions[gains_of(questions, prior).round(12).argmax()] == 1
    halves = [(prior[side].sum(), prior[side]) for side in (inside, ~inside)]
    return float(1.0 + sum(mass * greedy_questions(half / mass) for mass, half in halves))


@pytest.mark.parametrize(
    ("weights", "entropy", "questions"),
    [  # Examples and exercises of [CoverThomas2006]_, chapter 5: entropies and Huffman lengths.
        ((0.25, 0.25, 0.2, 0.15, 0.15), 2.2854752972, 2.3),
        ((1 / 2, 1 / 4, 1 / 8, 1 / 8), 1.75, 1.75),
        ((1 / 2, 1 / 4, 1 / 8, 1 / 16, 1 / 64, 1 / 64, 1 / 64, 1 / 64), 2.0, 2.0),
        ((8 / 23, 6 / 23, 4 / 23, 2 / 23, 2 / 23, 1 / 23), 2.2840065, 54 / 23),  # bad wine
    ],
)
def test_greedy_questions_reach_the_published_optimum(
    weights: tuple[float, ...], entropy: float, questions: float
) -> None:
    prior = np.array(weights)

    assert entropy_bits(prior) == pytest.approx(entropy, abs=1e-7)
    assert greedy_questions(prior) == pytest.approx(questions, abs=1e-12)


def test_next_probe_of_the_polybox_is_the_published_one() -> None:
    # Three multipliers, two adders [deKleerWilliams1987]_. Minimal diagnoses {A1}, {M1}, {A2, M2},
    # {M2, M3}; each component fails with 0.01, so a second failure costs a factor 0.01 / 0.99.
    weights = np.array([1.0, 1.0, 0.01 / 0.99, 0.01 / 0.99])
    predicted = {"X": [6, 4, 6, 6], "Y": [6, 6, 4, 4], "Z": [6, 6, 6, 8]}
    outcomes = np.array([np.unique(row, return_inverse=True)[1] for row in predicted.values()])

    gains = gains_of(outcomes, weights / weights.sum())

    # Entropies of (0.495, 0.505), (0.99, 0.01), (0.995, 0.005), by hand; the paper probes X.
    assert gains == pytest.approx([0.9999278641, 0.0807931359, 0.0454146923], abs=1e-9)
