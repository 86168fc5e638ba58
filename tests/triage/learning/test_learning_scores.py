"""Scores equal published figures, scikit-learn and scipy; the drift alarm keeps its rates."""

import numpy as np
import pytest

from tests.builders import random_network
from tests.closed_jobs import random_columns
from triage.learning.drift import page_test, standardised_excess
from triage.learning.layout import Layout
from triage.learning.model import Model
from triage.learning.prequential import grouped, prequential
from triage.learning.scores import (
    TEN_BINS,
    brier_parts,
    brier_score,
    expected_calibration_error,
    hits_within,
    log_score_bits,
    paired_difference,
    reliability_bins,
    wilson,
)
from triage.learning.values import LearningSettings

# [Wilks2011]_, table 7.3, 12-hour rain forecasts: forecast, how often it rained, share of all.
WILKS = np.array(
    [
        (0.00, 0.006, 0.4112),
        (0.05, 0.019, 0.0671),
        (0.10, 0.059, 0.1833),
        (0.20, 0.150, 0.0986),
        (0.30, 0.277, 0.0616),
        (0.40, 0.377, 0.0366),
        (0.50, 0.511, 0.0303),
        (0.60, 0.587, 0.0275),
        (0.70, 0.723, 0.0245),
        (0.80, 0.779, 0.0220),
        (0.90, 0.934, 0.0170),
        (1.00, 0.933, 0.0203),
    ]
)


def forecasts(rows: np.ndarray, scale: int) -> tuple[np.ndarray, np.ndarray]:
    """Single forecasts and outcomes that have these shares exactly."""
    probability, outcome = [], []
    for forecast, observed, share in rows:
        count = round(share * scale)
        hits = round(observed * count)
        probability += [forecast] * count
        outcome += [True] * hits + [False] * (count - hits)
    return np.array(probability), np.array(outcome)


def breast_cancer_forecasts() -> tuple[np.ndarray, np.ndarray]:
    """Forecasts of a plain classifier on a data set of scikit-learn [WolbergEtAl1995]_."""
    from sklearn.datasets import load_breast_cancer
    from sklearn.naive_bayes import GaussianNB

    data = load_breast_cancer()
    features, outcome = data.data[:, :4], data.target == 1
    fitted = GaussianNB().fit(features[::2], outcome[::2])
    return fitted.predict_proba(features[1::2])[:, 1], outcome[1::2]


def test_parts_of_the_brier_score_equal_the_published_rain_forecasts() -> None:
    # Published: BS 0.0735, reliability 0.0008, resolution 0.0628, uncertainty 0.1354.
    probability, outcome = forecasts(WILKS, 1_000_000)

    parts = brier_parts(probability, outcome, ())

    assert parts.reliability == pytest.approx(0.0008276164, abs=1e-6)
    assert parts.resolution == pytest.approx(0.0627866282, abs=1e-6)
    assert parts.uncertainty == pytest.approx(0.1354200518, abs=1e-6)
    assert parts.score == pytest.approx(0.0734610400, abs=1e-6)
    assert parts.within == pytest.approx(0.0, abs=1e-12)


def test_parts_and_calibration_error_of_a_small_case_worked_by_hand() -> None:
    # 0.1 ten times with one event, 0.5 six times with 4, 0.9 four times with 3.
    probability, outcome = forecasts(
        np.array([(0.1, 1 / 10, 0.5), (0.5, 4 / 6, 0.3), (0.9, 3 / 4, 0.2)]), 20
    )

    parts = brier_parts(probability, outcome)

    assert parts.score == pytest.approx(0.162)
    assert (parts.reliability, parts.resolution, parts.uncertainty) == pytest.approx(
        (0.0128333333, 0.0908333333, 0.24)
    )
    assert expected_calibration_error(reliability_bins(probability, outcome)) == pytest.approx(0.08)


def test_brier_and_log_score_equal_the_documentation_examples_of_scikit_learn() -> None:
    # From the documentation of brier_score_loss (0.037...) and log_loss (0.21616...).
    forecast = np.array([0.1, 0.9, 0.8, 0.3])
    happened = np.array([False, True, True, False])

    assert brier_score(forecast, happened) == pytest.approx(0.0375)
    bits = log_score_bits(np.array([0.9, 0.9, 0.8, 0.65]))
    assert bits.mean() * np.log(2.0) == pytest.approx(0.21616187, abs=1e-8)


def test_scores_on_a_published_data_set_equal_scikit_learn() -> None:
    from sklearn.calibration import calibration_curve
    from sklearn.metrics import brier_score_loss, log_loss

    probability, outcome = breast_cancer_forecasts()
    given = np.where(outcome, probability, 1.0 - probability)
    observed, forecast = calibration_curve(outcome, probability, n_bins=10)

    bins = reliability_bins(probability, outcome)

    assert len(outcome) == 284
    assert brier_score(probability, outcome) == pytest.approx(
        brier_score_loss(outcome, probability), abs=1e-12
    )
    assert log_score_bits(given).mean() * np.log(2.0) == pytest.approx(
        log_loss(outcome, probability), abs=1e-12
    )
    np.testing.assert_allclose([entry.observed.value for entry in bins], observed)
    np.testing.assert_allclose([entry.mean_probability for entry in bins], forecast)
    assert sum(entry.count for entry in bins) == 284


def test_parts_always_sum_to_the_brier_score() -> None:
    probability, outcome = breast_cancer_forecasts()

    for edges in (TEN_BINS, (0.0, 0.5, 1.0), ()):
        parts = brier_parts(probability, outcome, edges)
        assert parts.score == pytest.approx(brier_score(probability, outcome), abs=1e-12)


@pytest.mark.parametrize(("hits", "count"), [(0, 5), (3, 7), (50, 50), (12, 400)])
def test_wilson_intervals_equal_those_of_scipy(hits: int, count: int) -> None:
    from scipy.stats import binomtest

    expected = binomtest(hits, count).proportion_ci(method="wilson")

    found = wilson(hits, count)

    assert (found.low, found.high) == pytest.approx((expected.low, expected.high), abs=1e-12)


def test_nothing_is_known_of_no_cases() -> None:
    assert (wilson(0, 0).low, wilson(0, 0).high) == (0.0, 1.0)


def test_paired_interval_covers_the_mean_and_narrows_with_pairing(
    rng: np.random.Generator,
) -> None:
    from scipy.stats import bootstrap

    easy = rng.normal(3.0, 2.0, 400)
    ours, theirs = easy + rng.normal(-0.1, 0.3, 400), easy

    found = paired_difference(ours, theirs, np.random.default_rng(1), 4000)

    reference = bootstrap(
        (ours - theirs,), np.mean, method="percentile", n_resamples=4000, rng=2
    ).confidence_interval
    assert found.mean == pytest.approx(float((ours - theirs).mean()))
    assert (found.low, found.high) == pytest.approx((reference.low, reference.high), abs=5e-3)
    assert found.high < 0.0


def test_hits_count_ranks_up_to_the_given_one() -> None:
    ranks = np.array([1, 1, 2, 3, 4])

    assert hits_within(ranks, 1).value == pytest.approx(0.4)
    assert hits_within(ranks, 3).value == pytest.approx(0.8)


def test_excess_surprise_of_true_hypotheses_has_mean_zero(rng: np.random.Generator) -> None:
    given = random_network(1)
    layout = Layout(given)
    log_posterior = Model.of(given, layout).log_posterior(random_columns(layout, 4000, rng))
    level = rng.random(4000)[:, None] < np.cumsum(np.exp(log_posterior), axis=1)
    truth = level.argmax(axis=1)

    excess = standardised_excess(log_posterior, truth)

    assert abs(excess.mean()) < 4.0 * excess.std() / np.sqrt(4000)
    assert excess.std() < 1.1


def test_drift_alarm_is_rare_while_nothing_changes_and_soon_after_a_change(
    rng: np.random.Generator,
) -> None:
    quiet = [page_test(rng.exponential(1.0, 1000) - 1.0).alarm_at for _ in range(200)]
    shifted = [page_test(rng.exponential(1.0, 400) - 0.25).alarm_at for _ in range(200)]

    assert sum(alarm is not None for alarm in quiet) / 200 < 0.2
    assert np.median([alarm if alarm is not None else 400 for alarm in shifted]) < 60


def test_groups_split_the_scores_and_lose_none(rng: np.random.Generator) -> None:
    given = random_network(3)
    layout = Layout(given)
    columns = random_columns(layout, 60, rng)
    scored = prequential(columns, layout, LearningSettings(iterations_max=3), batch=20)
    keys = ["even" if place % 2 == 0 else "odd" for place in scored.jobs]

    groups = grouped(scored, keys)

    assert len(scored) == int((columns.label >= 0).sum())
    assert sum(len(group) for group in groups.values()) == len(scored)
    total = sum(group.learned_bits.sum() for group in groups.values())
    assert total == pytest.approx(scored.learned_bits.sum())


def test_first_batch_is_scored_by_the_starting_network(rng: np.random.Generator) -> None:
    given = random_network(3)
    layout = Layout(given)
    columns = random_columns(layout, 60, rng)

    scored = prequential(columns, layout, LearningSettings(iterations_max=3), batch=30)

    first = scored.jobs < 30
    np.testing.assert_allclose(scored.learned_bits[first], scored.frozen_bits[first])
    assert not np.allclose(scored.learned_bits[~first], scored.frozen_bits[~first])
