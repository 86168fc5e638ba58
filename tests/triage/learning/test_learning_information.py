"""What learned numbers are worth: exact where all is seen, right where something is hidden."""

import numpy as np
import pytest
from scipy.stats import beta

from tests.builders import component, network, observation, random_network, sign
from tests.closed_jobs import one_sign_network, random_columns
from triage.learning.columns import JobColumns
from triage.learning.estimation import Learned, learn
from triage.learning.information import worth_of
from triage.learning.intervals import beta_interval
from triage.learning.layout import Layout
from triage.learning.patterns import shard_of
from triage.learning.values import LearningSettings
from triage.network.values import FaultNetwork

SETTINGS = LearningSettings(
    stated_weight=1.0,
    careless_share=0.0,
    channel_jobs_min=0.0,
    tolerance_nats=1e-9,
    tolerance_per_job=1e-12,
)  # signs and channels of the builders state 10 jobs, where they say one half
ANSWER_JOBS = 10.0 / (4.0 * 0.8 * 0.2)  # what a channel is worth that is right in 8 of 10


def learned_from(
    given: FaultNetwork, answers: list[int], reliability: float = 1.0, label: int = 0
) -> Learned:
    """Learned from jobs of one cause with these answers: 0 for none, 1 for the first."""
    layout = Layout(given)
    count = len(answers)
    columns = JobColumns.of(
        layout,
        np.array([answers], dtype=np.int8),
        np.full(count, label),
        np.full(count, reliability),
    )
    return learn(layout, [shard_of(columns, layout)], SETTINGS)


def test_strength_is_worth_its_prior_and_its_jobs_where_cause_and_state_are_seen() -> None:
    learned = learned_from(one_sign_network(0.5), [2] * 6 + [1] * 2)

    # 10 jobs' worth at 0.5 and 6 of 8: Beta(11, 7), so 18 jobs.
    assert learned.parameters.links[0][1, 1] == pytest.approx(11 / 18)
    assert worth_of(learned).links[0][1] == pytest.approx(18.0, rel=1e-5)


def test_share_is_worth_its_prior_and_its_jobs_where_causes_are_confirmed() -> None:
    learned = learned_from(one_sign_network(), [0] * 30)

    # Shares are worth 100 jobs; with 30 confirmed ones Beta has a weight of 130.
    np.testing.assert_allclose(worth_of(learned).shares, 130.0, rtol=1e-6)


def test_share_is_worth_less_the_less_labels_are_trusted() -> None:
    worth = [
        float(worth_of(learned_from(one_sign_network(), [0] * 30, trust)).shares[0])
        for trust in (1.0, 0.9, 0.6, 0.5)
    ]

    assert worth == sorted(worth, reverse=True)
    assert worth[0] > 1.02 * worth[1]
    # A label right with 0.5 says nothing where there are two causes: the prior is left.
    assert worth[-1] == pytest.approx(100.0, rel=1e-6)


def exact_interval(hits: int, jobs: int, channel: float) -> tuple[float, float]:
    """90 % interval of a strength on a grid: one channel, right with a chance believed so.

    Strength Beta(5, 5); both rows of the channel Beta(s c, s (1 - c)); all as Beta densities
    over log odds, summed plainly.
    """
    grid = (np.arange(200) + 0.5) / 200
    rows = (np.arange(60) + 0.5) / 60
    strength = beta.pdf(grid, 5.0, 5.0)
    right = beta.pdf(rows, ANSWER_JOBS * channel, ANSWER_JOBS * (1.0 - channel))
    shown = grid[:, None, None] * rows[None, :, None]
    shown = shown + (1.0 - grid[:, None, None]) * (1.0 - rows[None, None, :])
    like = shown**hits * (1.0 - shown) ** (jobs - hits)
    mass = (like * right[None, :, None] * right[None, None, :]).sum(axis=(1, 2)) * strength
    level = np.cumsum(mass) / mass.sum()
    return float(grid[np.searchsorted(level, 0.05)]), float(grid[np.searchsorted(level, 0.95)])


def test_strength_behind_an_unsure_answer_has_the_width_of_the_plain_sum() -> None:
    channel = 0.8
    given = one_sign_network(0.5, ((channel, 1 - channel), (1 - channel, channel)))
    learned = learned_from(given, [2] * 60 + [1] * 40)

    strength = float(learned.parameters.links[0][1, 1])
    worth = float(worth_of(learned).links[0][1])
    low, high = beta_interval(worth * strength, worth * (1.0 - strength))

    exact_low, exact_high = exact_interval(60, 100, channel)
    as_seen = beta_interval(110 * strength, 110 * (1.0 - strength))
    assert high - low == pytest.approx(exact_high - exact_low, rel=0.15)
    assert as_seen[1] - as_seen[0] < 0.6 * (exact_high - exact_low)


def test_nothing_is_worth_more_than_prior_and_jobs_together() -> None:
    for seed in range(4):
        layout = Layout(random_network(seed))
        columns = random_columns(layout, 150, np.random.default_rng(seed))
        learned = learn(layout, [shard_of(columns, layout)], LearningSettings())

        worth = worth_of(learned)

        for jobs, counts, found in zip(
            learned.belief.links_jobs, learned.expected.links, worth.links, strict=True
        ):
            assert (found <= jobs + counts.sum(axis=1) + 1e-9).all()
            assert (found > 0.0).all()
        assert (worth.contexts <= learned.belief.context_jobs + learned.job_weight + 1e-9).all()
        assert (worth.shares > 0.0).all()


def test_two_shards_tell_as_much_as_one() -> None:
    layout = Layout(random_network(2))
    columns = random_columns(layout, 120, np.random.default_rng(2))
    settings = LearningSettings(tolerance_nats=1e-9, tolerance_per_job=1e-12)

    one = worth_of(learn(layout, [shard_of(columns, layout)], settings))
    two = worth_of(learn(layout, [shard_of(part, layout) for part in columns.split(2)], settings))

    np.testing.assert_allclose(two.shares, one.shares, rtol=1e-6)
    for ours, theirs in zip(two.links, one.links, strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-4)


def test_nine_truths_in_ten_lie_in_their_interval_behind_unsure_answers() -> None:
    rng = np.random.default_rng(7)
    given = many_signs(24)
    layout, held, seen = Layout(given), [], []
    for _ in range(10):
        truth = rng.beta(5.0, 5.0, 24)
        right = rng.beta(0.8 * ANSWER_JOBS, 0.2 * ANSWER_JOBS, (2, 24))
        shown = rng.random((200, 24)) < truth
        says = rng.random((200, 24)) < np.where(shown, right[0], 1.0 - right[1])
        columns = JobColumns.of(layout, (1 + says.T).astype(np.int8), np.zeros(200, dtype=np.int64))
        learned = learn(layout, [shard_of(columns, layout)], SETTINGS)
        worth = worth_of(learned)
        for place in range(24):
            after = float(learned.parameters.links[place][1, 1])
            for jobs, found in ((float(worth.links[place][1]), held), (210.0, seen)):
                low, high = beta_interval(jobs * after, jobs * (1.0 - after))
                found.append(low <= truth[place] <= high)

    # 240 numbers: a share of 0.9 has a standard error of 0.019.
    assert 0.85 <= np.mean(held) <= 0.96
    assert np.mean(seen) < 0.75


def many_signs(count: int) -> FaultNetwork:
    """One cause with many signs, each looked at by one question that is right in 8 of 10."""
    return network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign(f"s{k}", {"pump.burnt": 0.5}, leak=0.0) for k in range(count)],
        [observation(f"o{k}", f"s{k}", ((0.8, 0.2), (0.2, 0.8))) for k in range(count)],
        expected_failed_modes=1.0,
    )
