"""Answers given without looking: one share for all questions of a channel."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from tests.builders import component, network, observation, sign
from triage.errors import LearningSettingsError
from triage.learning.belief import row_jobs
from triage.learning.careless import Mixture, mixed, unmixed
from triage.learning.changes import changes_of
from triage.learning.columns import JobColumns
from triage.learning.estimation import learn_columns
from triage.learning.layout import Layout
from triage.learning.pooling import learn_together
from triage.learning.values import LearningSettings
from triage.network.values import Channel, FaultNetwork

SURE = ((0.96, 0.04), (0.08, 0.92))
QUESTIONS = 10
SETTINGS = LearningSettings(stated_weight=5.0)  # every question and sign states 10 jobs
SIGNS = {f"s{k}": (0.9 if k % 2 else 0.1) for k in range(QUESTIONS)}  # strengths, leak 0.05


def asked_and_tested(name: str = "test_network") -> FaultNetwork:
    """Signs that callers are asked about and that are tested on site, without error, as well."""
    looks = [
        look
        for one in SIGNS
        for look in (
            observation(f"asks_{one}", one, SURE),
            observation(
                f"tests_{one}", one, ((1.0, 0.0), (0.0, 1.0)), channel=Channel.ON_SITE_TEST
            ),
        )
    ]
    return network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign(one, {"pump.burnt": strength}, leak=0.05) for one, strength in SIGNS.items()],
        looks,
        expected_failed_modes=1.0,
        name=name,
    )


def jobs_with(
    layout: Layout, careless: float, jobs: int, rng: np.random.Generator, *, tested: bool
) -> JobColumns:
    """Jobs of burnt pumps in which every question was asked, some without looking."""
    answers = np.zeros((len(layout.compiled.observations), jobs), dtype=np.int8)
    blind = rng.random((QUESTIONS, jobs)) < careless
    for place, strength in enumerate(SIGNS.values()):
        shown = rng.random(jobs) < 1.0 - (1.0 - strength) * 0.95
        chance = np.where(blind[place], np.mean(SURE, axis=0)[1], np.array(SURE)[shown * 1, 1])
        answers[2 * place] = 1 + (rng.random(jobs) < chance)
        answers[2 * place + 1] = (1 + shown) * tested
    return JobColumns.of(layout, answers, np.zeros(jobs, dtype=np.int64))


def share_of(learned: object) -> float:
    (found,) = learned.careless  # type: ignore[attr-defined]
    return float(found.after)


def test_tables_with_careless_answers_can_be_taken_apart_again() -> None:
    table = np.array([[0.7, 0.2, 0.1], [0.1, 0.3, 0.6]])
    stated = np.array([[0.8, 0.1, 0.1], [0.2, 0.2, 0.6]])

    np.testing.assert_allclose(unmixed(mixed(table, stated, 0.3), stated, 0.3), table, atol=1e-15)
    np.testing.assert_allclose(mixed(stated, stated, 1.0), [[0.5, 0.15, 0.35]] * 2)


def test_share_and_tables_are_those_that_a_general_optimiser_finds() -> None:
    rng = np.random.default_rng(3)
    stated = [np.array(SURE), np.array([[0.7, 0.2, 0.1], [0.1, 0.3, 0.6]])]
    counts = [rng.uniform(5.0, 80.0, rows.shape) for rows in stated]
    jobs = [np.array([30.0, 60.0]), np.array([20.0, 40.0])]
    pseudo = np.array([5.0, 95.0])
    mixture = Mixture(stated=stated, looked=stated, jobs=jobs, pseudo=pseudo, share=0.05)

    mixture.climb(counts)

    def loss(point: np.ndarray) -> float:
        """Minus the penalised log likelihood, of scores of the share and of every row."""
        share = 1.0 / (1.0 + np.exp(-point[0]))
        result, at = -float(pseudo @ np.log([share, 1.0 - share])), 1
        for rows, count, weight in zip(stated, counts, jobs, strict=True):
            scores = np.column_stack([point[at : at + rows.size - 2].reshape(2, -1), np.zeros(2)])
            at += rows.size - 2
            looked = np.exp(scores) / np.exp(scores).sum(axis=1, keepdims=True)
            result -= float((count * np.log(mixed(looked, rows, share))).sum())
            result -= float((weight[:, None] * rows * np.log(looked)).sum())
        return result

    best = minimize(loss, np.zeros(7), method="BFGS", options={"gtol": 1e-9})

    assert mixture.share == pytest.approx(1.0 / (1.0 + np.exp(-best.x[0])), abs=1e-5)
    np.testing.assert_allclose(mixture.looked[0][:, 0], 1 / (1 + np.exp(-best.x[1:3])), atol=1e-5)


def test_what_answers_tell_of_the_share_is_the_curvature_of_their_likelihood() -> None:
    stated = [np.array(SURE), np.array([[0.7, 0.2, 0.1], [0.1, 0.3, 0.6]])]
    share, pseudo, step = 0.2, np.array([5.0, 95.0]), 1e-4
    mixture = Mixture(stated=stated, looked=stated, jobs=[], pseudo=pseudo, share=share)
    # Answers as the mixture expects them, so that expected and observed information agree.
    counts = [500.0 * table for table in mixture.tables]

    def log_likelihood(value: float) -> float:
        return sum(
            float((count * np.log(mixed(rows, rows, value))).sum())
            for count, rows in zip(counts, stated, strict=True)
        )

    values = [log_likelihood(share + move) for move in (-step, 0.0, step)]
    curvature = -(values[0] - 2.0 * values[1] + values[2]) / step**2

    told = mixture.told(Channel.CALLER, counts, 0.05)

    assert told.answers == pytest.approx(2000.0)
    assert told.worth - 100.0 == pytest.approx(curvature * share * (1.0 - share), rel=1e-5)
    assert told.worth - 100.0 < 0.7 * told.answers


@pytest.mark.parametrize("truth", [0.0, 0.1, 0.2])
def test_share_of_careless_callers_is_found_back_where_tests_check_them(truth: float) -> None:
    layout = Layout(asked_and_tested())
    columns = jobs_with(layout, truth, 600, np.random.default_rng(8), tested=True)

    learned = learn_columns(layout, columns, SETTINGS)

    assert share_of(learned) == pytest.approx(truth, abs=0.04)


def test_share_grows_with_that_of_careless_callers_whom_nothing_checks() -> None:
    layout, rng = Layout(asked_and_tested()), np.random.default_rng(8)

    found = [
        share_of(learn_columns(layout, jobs_with(layout, truth, 600, rng, tested=False), SETTINGS))
        for truth in (0.0, 0.1, 0.2)
    ]

    assert found[0] < 0.05
    assert found[0] + 0.02 < found[1] < found[2] < 0.25


def test_strengths_are_not_blamed_for_callers_who_do_not_look() -> None:
    layout = Layout(asked_and_tested())
    columns = jobs_with(layout, 0.3, 600, np.random.default_rng(9), tested=False)

    def error(settings: LearningSettings) -> float:
        found = learn_columns(layout, columns, settings).parameters.links
        return float(
            np.mean([abs(rows[1, 1] - k) for rows, k in zip(found, SIGNS.values(), strict=True)])
        )

    assert error(SETTINGS) < 0.75 * error(replace(SETTINGS, careless_share=0.0))


def test_no_share_is_learned_where_none_is_thought_careless() -> None:
    layout = Layout(asked_and_tested())
    columns = jobs_with(layout, 0.3, 50, np.random.default_rng(9), tested=True)

    learned = learn_columns(layout, columns, LearningSettings(careless_share=0.0))

    assert learned.careless == ()


@pytest.mark.parametrize("share", [-0.1, 1.0])
def test_share_that_is_none_is_refused_by_name(share: float) -> None:
    with pytest.raises(LearningSettingsError, match="careless_share"):
        LearningSettings(careless_share=share)


def test_kinds_lend_each_other_what_they_know_of_the_people_who_call() -> None:
    rng = np.random.default_rng(10)
    poor, rich = (Layout(asked_and_tested(name)) for name in ("poor", "rich"))
    kinds = {
        "poor": (poor, jobs_with(poor, 0.3, 4, rng, tested=False)),
        "rich": (rich, jobs_with(rich, 0.3, 500, rng, tested=True)),
    }

    together = learn_together(kinds, SETTINGS, only=["poor"]).learned["poor"]

    alone = share_of(learn_columns(*kinds["poor"], SETTINGS))
    assert abs(share_of(together) - 0.3) < 0.06
    assert abs(alone - 0.3) > 0.1
    assert together.careless[0].before == SETTINGS.careless_share  # what lenders say comes after


def test_row_is_worth_more_the_nearer_it_is_to_certain() -> None:
    # 10 / (4 p (1 - p)): 10 at one half, 15.625 at 0.8, 52.63 at 0.95; certain counts as 0.99.
    rows = np.array([[0.5, 0.5], [0.2, 0.8], [0.95, 0.05], [1.0, 0.0]])

    worth = row_jobs(rows, 10.0)

    np.testing.assert_allclose(worth[:3], [10.0, 15.625, 52.6315789])
    assert worth[3] == pytest.approx(10.0 / (4.0 * 0.99 * 0.01))


def test_numbers_stated_alike_are_equally_sure_in_log_odds() -> None:
    rows = np.array([[0.5, 0.5], [0.2, 0.8], [0.95, 0.05], [0.99, 0.01]])
    worth = row_jobs(rows, 10.0)
    drawn = np.random.default_rng(1).beta(
        (worth * rows[:, 0] + 1.0)[:, None], (worth * rows[:, 1] + 1.0)[:, None], (4, 20_000)
    )

    spread = np.log(drawn / (1.0 - drawn)).std(axis=1)

    np.testing.assert_allclose(spread, 0.6, atol=0.06)


def test_what_is_learned_of_a_question_counts_against_those_who_looked() -> None:
    layout = Layout(asked_and_tested())
    columns = jobs_with(layout, 0.3, 600, np.random.default_rng(11), tested=True)
    learned = learn_columns(layout, columns, SETTINGS)
    share = share_of(learned)

    for table, stated in zip(learned.parameters.channels[::2], [np.array(SURE)] * 10, strict=True):
        looked = unmixed(table, stated, share)
        np.testing.assert_allclose(mixed(looked, stated, share), table, atol=1e-12)
        np.testing.assert_allclose(looked, stated, atol=0.06)


def test_start_of_learning_has_the_believed_share_mixed_in() -> None:
    layout = Layout(asked_and_tested())
    settings = LearningSettings(careless_share=0.2)
    silent = JobColumns.of(layout, np.zeros((20, 1), dtype=np.int8), np.zeros(1, dtype=np.int64))

    learned = learn_columns(layout, silent, settings)

    asked = learned.parameters.channels[0]
    np.testing.assert_allclose(asked, mixed(np.array(SURE), np.array(SURE), 0.2), atol=1e-9)
    assert replace(learned.careless[0], answers=0.0).after == pytest.approx(0.2)


def test_question_that_nothing_else_checks_is_moved_by_the_share_alone_and_says_so() -> None:
    layout = Layout(asked_and_tested())
    columns = jobs_with(layout, 0.3, 600, np.random.default_rng(12), tested=False)

    learned = learn_columns(layout, columns, SETTINGS)

    share, asked = share_of(learned), np.array(SURE)
    for table in learned.parameters.channels[::2]:
        np.testing.assert_allclose(table, mixed(asked, asked, share), atol=1e-9)
    reasons = {one.key: one.reason for one in learned.held}
    assert reasons["channel:asks_s0"].endswith("only the share of careless answers moves it")
    row = next(one for one in changes_of(learned, ()) if one.key == "channel:asks_s0:absent")
    assert row.after == pytest.approx(mixed(asked, asked, share)[0, 0])
    assert row.why.endswith(
        f"{share:.0%} of all are given without looking, and nothing else checks it"
    )
    assert row.low < row.after < row.high
    assert row.is_common
    assert not any(one.is_common for one in changes_of(learned, ()) if one.kind != "channel")
