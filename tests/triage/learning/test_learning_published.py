"""Published examples of EM, conjugate updates, hierarchical priors and prequential scores."""

import numpy as np
import pytest

from tests.closed_jobs import one_sign_network
from triage.learning.columns import JobColumns, closure_weights, decay
from triage.learning.expectation import candidate_weights
from triage.learning.layout import Layout
from triage.learning.maximisation import posterior_mean
from triage.learning.patterns import Candidates, PriorCells, Shard
from triage.learning.pooling import beta_binomial_moments, beta_from_moments
from triage.learning.prequential import prequential
from triage.learning.values import LearningSettings

NO_CELLS = np.zeros(0, dtype=np.int64)


def shard_of_mixtures(cells_of_pair: list[list[int]], pairs_each: int) -> Shard:
    """Jobs with ``pairs_each`` hypotheses; each pair lists its cells, repeats allowed."""
    pairs = len(cells_of_pair)
    candidates = Candidates(
        hypothesis=np.zeros(pairs, dtype=np.int64),
        log_label=np.zeros(pairs),
        prior_cell=np.arange(pairs) % pairs_each,
        first=np.arange(0, pairs, pairs_each),
        weight=np.ones(pairs // pairs_each),
        entry_pair=np.repeat(np.arange(pairs), [len(cells) for cells in cells_of_pair]),
        entry_cell=np.array([cell for cells in cells_of_pair for cell in cells], dtype=np.int64),
        kept_share=1.0,
    )
    prior = PriorCells(NO_CELLS, NO_CELLS, np.zeros(0), np.zeros((0, 0), dtype=np.int64))
    return Shard((), NO_CELLS, np.zeros(0), prior, candidates, np.zeros(0), 1.0, 1)


def test_em_steps_equal_those_of_the_linkage_example() -> None:
    # [DempsterLairdRubin1977]_, section 1: 125, 18, 20, 34 with cell probabilities
    # 1/2 + p/4, (1-p)/4, (1-p)/4, p/4; start at 0.5. The iterates are those of their table.
    shard = shard_of_mixtures([[], []], pairs_each=2)
    published = [0.608247423, 0.624321050, 0.626488879, 0.626777322, 0.626815632]
    published += [0.626820719, 0.626821394, 0.626821484]
    found, value = [], 0.5
    for _ in published:
        share, _, _ = candidate_weights(shard, np.zeros(0), np.log([0.5, value / 4.0]))
        hits = 125.0 * share[1] + 34.0
        value = float(posterior_mean(np.array([0.5, 0.5]), 0.0, np.array([hits, 38.0]))[0])
        found.append(value)

    np.testing.assert_allclose(found, published, atol=5e-10)


def test_em_steps_equal_those_of_the_two_coins_example() -> None:
    # [DoBatzoglou2008]_: five sets of ten tosses by one of two coins; heads 5, 9, 8, 4, 7; start
    # 0.60 and 0.50. Published: .71 / .58 after one step, .80 / .52 after ten.
    heads = [5, 9, 8, 4, 7]
    cells = [
        [2 * coin] * count + [2 * coin + 1] * (10 - count) for count in heads for coin in range(2)
    ]
    shard = shard_of_mixtures(cells, pairs_each=2)
    coins = np.array([0.6, 0.5])
    found = []
    for _ in range(10):
        faces = np.column_stack([coins, 1.0 - coins])
        share, _, _ = candidate_weights(shard, np.log(faces).ravel(), np.log([0.5, 0.5]))
        weight = share[shard.candidates.entry_pair]
        counts = np.bincount(shard.candidates.entry_cell, weight, 4).reshape(2, 2)
        coins = posterior_mean(faces, 0.0, counts)[:, 0]
        found.append(coins)

    np.testing.assert_allclose(found[0], [0.713012, 0.581339], atol=5e-7)
    np.testing.assert_allclose(found[9], [0.796744, 0.519659], atol=5e-7)


RAT_TUMOURS = (  # [GelmanEtAl2013]_, table 5.1: tumours / rats in 70 historical groups
    "0/20 0/20 0/20 0/20 0/20 0/20 0/20 0/19 0/19 0/19 0/19 0/18 0/18 0/17 1/20 1/20 1/20 1/20 "
    "1/19 1/19 1/18 1/18 2/25 2/24 2/23 2/20 2/20 2/20 2/20 2/20 2/20 1/10 5/49 2/19 5/46 3/27 "
    "2/17 7/49 7/47 3/20 3/20 2/13 9/48 10/50 4/20 4/20 4/20 4/20 4/20 4/20 4/20 10/48 4/19 4/19 "
    "4/19 5/22 11/46 12/49 5/20 5/20 6/23 5/19 6/22 6/20 6/20 6/20 16/52 15/47 15/46 9/24"
)


def test_population_prior_of_rates_equals_the_rat_tumour_example() -> None:
    # [GelmanEtAl2013]_, section 5.1: alpha 1.4, beta 8.6 from mean 0.136 and sd 0.103.
    pairs = np.array([entry.split("/") for entry in RAT_TUMOURS.split()], dtype=float)
    assert len(pairs) == 70

    alpha, beta = beta_binomial_moments(pairs[:, 0], pairs[:, 1])

    assert (alpha, beta) == pytest.approx((1.356149, 8.615058), abs=2e-6)
    assert beta_from_moments(0.1360065, 0.1034923) == pytest.approx((alpha, beta), abs=1e-4)


def test_current_group_of_the_rat_tumour_example_is_pulled_to_its_population() -> None:
    # 4 of 14 with Beta(1.4, 8.6): Beta(5.4, 18.6), mean 0.225 (the book prints 0.223).
    current = posterior_mean(np.array([0.14, 0.86]), 10.0, np.array([4.0, 10.0]))

    np.testing.assert_allclose(current, [0.225, 0.775])


def test_counts_with_a_prior_are_those_worked_by_hand() -> None:
    # Beta(1, 1) and 7 of 10; mean 0.02 worth 10 jobs and 3 of 40.
    even = posterior_mean(np.array([0.5, 0.5]), 2.0, np.array([7.0, 3.0]))
    rare = posterior_mean(np.array([0.02, 0.98]), 10.0, np.array([3.0, 37.0]))

    assert even[0] == pytest.approx(8 / 12)
    assert rare[0] == pytest.approx(0.064)


def test_half_life_gives_the_effective_number_of_jobs_worked_by_hand() -> None:
    # Half-life 12 months, 20 jobs a month: 0.9438743127 a month, 20 / (1 - that) = 356.34 jobs.
    months = np.arange(2000.0)

    weights = decay(months, 12.0)

    assert weights[1] == pytest.approx(0.9438743127)
    assert 20.0 * weights.sum() == pytest.approx(356.34, abs=5e-3)


def test_closure_weights_restore_the_true_mix_of_causes() -> None:
    # True .5 / .3 / .2, closed at .9 / .6 / .3: naive .652174 / .260870 / .086957.
    rates = np.repeat([0.9, 0.6, 0.3], [450, 180, 60])
    cause = np.repeat([0, 1, 2], [450, 180, 60])

    weights = closure_weights(rates)

    naive = np.bincount(cause) / len(cause)
    np.testing.assert_allclose(naive, [0.652174, 0.260870, 0.086957], atol=5e-7)
    np.testing.assert_allclose(np.bincount(cause, weights) / weights.sum(), [0.5, 0.3, 0.2])
    assert weights.mean() == pytest.approx(1.0)


def test_sequential_forecasts_multiply_to_the_marginal_likelihood() -> None:
    # [Dawid1984]_: Beta(1, 1), outcomes 1, 1, 0, 1: 1/2 * 2/3 * 1/4 * 3/5 = 1/20 = B(4,2)/B(1,1).
    given = one_sign_network()
    layout = Layout(given)
    pump, belt = layout.row(["pump.burnt"]), layout.row(["belt.broken"])
    columns = JobColumns.of(
        layout, np.zeros((1, 4), dtype=np.int8), np.array([pump, pump, belt, pump])
    )

    scored = prequential(columns, layout, LearningSettings(share_jobs=2.0), batch=1)

    np.testing.assert_allclose(2.0**-scored.base_bits, [1 / 2, 2 / 3, 1 / 4, 3 / 5])
    assert 2.0 ** -scored.base_bits.sum() == pytest.approx(1 / 20)
    np.testing.assert_allclose(scored.learned_bits, scored.base_bits)
    np.testing.assert_allclose(scored.frozen_bits, 1.0)
