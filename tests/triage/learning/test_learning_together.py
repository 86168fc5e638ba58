"""Learning over kinds of appliances, and over processes."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from tests.builders import component, network, observation, random_network, sign
from tests.closed_jobs import NOW, job, random_columns
from triage.learning.changes import Change
from triage.learning.columns import JobColumns
from triage.learning.estimation import Learned, learn_columns, learn_from
from triage.learning.layout import Layout
from triage.learning.pooling import (
    learn_among,
    learn_together,
    pooled_rates,
)
from triage.learning.proposal import propose
from triage.learning.spread import local_processes, spread
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork

SETTINGS = LearningSettings(stated_weight=1.0, careless_share=0.0)  # every sign states 10 jobs


def kind(name: str, links: int = 12) -> FaultNetwork:
    """One cause with many signs, each seen without error; shared by all kinds."""
    return network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign(f"s{k}", {"pump.burnt": 0.5}, leak=0.0) for k in range(links)],
        [observation(f"o{k}", f"s{k}", ((1.0, 0.0), (0.0, 1.0))) for k in range(links)],
        expected_failed_modes=1.0,
        name=name,
    )


def jobs_of(
    given: FaultNetwork, strengths: np.ndarray, jobs: int, rng: np.random.Generator
) -> tuple[Layout, JobColumns]:
    layout = Layout(given)
    shown = rng.random((len(strengths), jobs)) < strengths[:, None]
    columns = JobColumns.of(layout, (1 + shown).astype(np.int8), np.zeros(jobs, dtype=np.int64))
    return layout, columns


def strengths_of(learned: object) -> np.ndarray:
    return np.array([rows[1, 1] for rows in learned.parameters.links])  # type: ignore[attr-defined]


def test_kind_with_few_jobs_learns_from_the_others(rng: np.random.Generator) -> None:
    truth = rng.uniform(0.1, 0.9, 12)
    kinds = {
        "rich": jobs_of(kind("rich"), truth, 400, rng),
        "also": jobs_of(kind("also"), truth, 400, rng),
        "poor": jobs_of(kind("poor"), truth, 4, rng),
    }

    together = learn_together(kinds, SETTINGS)

    alone = strengths_of(learn_columns(*kinds["poor"], SETTINGS))
    pooled = strengths_of(together.learned["poor"])
    assert together.kappa["poor"] is not None
    assert together.kappa["poor"] >= 30.0
    assert np.abs(pooled - truth).mean() < 0.4 * np.abs(alone - truth).mean()


def test_kinds_that_differ_are_not_pulled_together(rng: np.random.Generator) -> None:
    kinds = {
        name: jobs_of(kind(name), rng.uniform(0.05, 0.95, 12), 400, rng) for name in ("a", "b")
    }

    together = learn_together(kinds, SETTINGS)

    for name, (layout, columns) in kinds.items():
        kappa = together.kappa[name]
        assert kappa is not None
        assert kappa <= 10.0
        alone = strengths_of(learn_columns(layout, columns, SETTINGS))
        np.testing.assert_allclose(strengths_of(together.learned[name]), alone, atol=0.02)


def test_networks_that_share_nothing_are_learned_alone(rng: np.random.Generator) -> None:
    kinds = {"only": jobs_of(kind("only"), np.full(12, 0.3), 50, rng)}

    together = learn_together(kinds, SETTINGS)

    assert together.kappa == {"only": None}
    expected = strengths_of(learn_columns(*kinds["only"], SETTINGS))
    np.testing.assert_array_equal(strengths_of(together.learned["only"]), expected)


def test_scatter_between_kinds_is_found_back_where_their_jobs_tell_it(
    rng: np.random.Generator,
) -> None:
    common = rng.uniform(0.2, 0.8, 60)
    rates = rng.beta(30.0 * common, 30.0 * (1.0 - common), (4, 60))
    kinds = {
        f"kind_{place}": jobs_of(kind(f"kind_{place}", 60), strengths, 200, rng)
        for place, strengths in enumerate(rates)
    }

    kappa = learn_together(kinds, SETTINGS, only=["kind_0"]).kappa["kind_0"]

    assert kappa in (10.0, 30.0, 100.0)


def test_kind_without_jobs_borrows_as_much_as_is_guessed(rng: np.random.Generator) -> None:
    kinds = {
        "rich": jobs_of(kind("rich"), np.full(12, 0.8), 400, rng),
        "none": jobs_of(kind("none"), np.full(12, 0.8), 0, rng),
    }

    together = learn_together(kinds, SETTINGS, only=["none"])

    # 400 counts, damped by 30, against the network's half, worth 10 jobs.
    damped = 400 * 30 / 430
    assert together.kappa == {"none": 30.0}
    expected = (10 * 0.5 + damped * 0.8) / (10 + damped)
    assert strengths_of(together.learned["none"]).mean() == pytest.approx(expected, abs=0.02)


def test_rates_of_small_groups_are_pulled_to_the_common_rate_and_come_closer_to_the_truth(
    rng: np.random.Generator,
) -> None:
    truth = rng.beta(6.0, 14.0, 200)
    trials = rng.integers(5, 40, 200).astype(float)
    hits = rng.binomial(trials.astype(int), truth).astype(float)

    pooled = pooled_rates(hits, trials)

    raw_error = np.abs(hits / trials - truth).mean()
    assert np.abs(pooled - truth).mean() < 0.85 * raw_error


def test_groups_that_differ_by_chance_only_have_one_rate() -> None:
    np.testing.assert_allclose(pooled_rates(np.array([2.0, 3.0, 2.0]), np.full(3, 10.0)), 7 / 30)


def test_objective_of_pooled_networks_never_falls(rng: np.random.Generator) -> None:
    kinds = {name: jobs_of(kind(name), np.full(12, 0.3), 30, rng) for name in ("a", "b", "c")}

    for learned in learn_together(kinds, SETTINGS).learned.values():
        assert np.diff(learned.objectives).min() >= -1e-9


def test_two_processes_learn_the_same_numbers_to_the_last_bit() -> None:
    given = random_network(4)
    layout = Layout(given)
    columns = random_columns(layout, 200, np.random.default_rng(4))
    settings = LearningSettings(iterations_max=4)

    here = learn_columns(layout, columns, settings, parts=4)
    with local_processes(2) as client:
        workers = client.nthreads()
        there = learn_columns(layout, columns, settings, parts=4, over=partial(spread, client))

    assert len(there.shards) == 4
    assert sorted(workers.values()) == [1, 1]
    assert there.objectives == here.objectives
    np.testing.assert_array_equal(there.parameters.shares, here.parameters.shares)
    for ours, theirs in zip(there.parameters.links, here.parameters.links, strict=True):
        np.testing.assert_array_equal(ours, theirs)


def closed(name: str, jobs: int, rng: np.random.Generator) -> tuple[FaultNetwork, list[ClosedJob]]:
    """A kind whose burnt pumps show each sign in 70 of 100 cases, and its closed jobs."""
    given = kind(name)
    found = [
        job(
            number,
            "pump.burnt",
            *(f"{one}={'yes' if rng.random() < 0.7 else 'no'}" for one in given.observations),
            network=name,
        )
        for number in range(jobs)
    ]
    return given, found


def rows_of(own: tuple[FaultNetwork, list[ClosedJob]], learned: Learned) -> list[Change]:
    days = (NOW.date(), NOW.date())
    assert own[0] is learned.layout.network
    return [change for change in propose(learned, (), days).changes if change.kind == "link"]


def test_kinds_that_share_a_failure_mode_borrow_and_say_how_much(
    rng: np.random.Generator,
) -> None:
    poor, rich = closed("poor", 3, rng), closed("rich", 200, rng)

    rows = rows_of(poor, learn_among(poor, [rich], SETTINGS, NOW))

    assert len(rows) == 12
    for row in rows:
        assert row.jobs == pytest.approx(3.0)
        assert row.before == 0.5
        assert row.borrowed > 10.0
        assert f"of {row.borrowed:.1f} borrowed" in row.why
    assert np.mean([row.after for row in rows]) == pytest.approx(0.7, abs=0.08)


def test_own_borrowed_and_stated_jobs_add_up_to_the_proposed_number(
    rng: np.random.Generator,
) -> None:
    poor, rich = closed("poor", 3, rng), closed("rich", 200, rng)
    learned = learn_among(poor, [rich], SETTINGS, NOW)

    for place, row in enumerate(rows_of(poor, learned)):
        hits = learned.expected.links[place][1, 1] + learned.belief.lent[place][1, 1]
        total = row.prior_jobs + row.borrowed + row.jobs
        assert row.after == pytest.approx((row.prior_jobs * row.before + hits) / total, abs=1e-6)


def test_proposal_with_kinds_apart_is_the_one_from_its_own_jobs_alone(
    rng: np.random.Generator,
) -> None:
    poor, rich = closed("poor", 3, rng), closed("rich", 200, rng)
    apart = replace(SETTINGS, learns_together=False)

    found = rows_of(poor, learn_among(poor, [rich], apart, NOW))

    assert found == rows_of(poor, learn_from(*poor, SETTINGS, NOW))
    assert {row.borrowed for row in found} == {0.0}


def test_number_that_only_others_speak_about_is_a_row(rng: np.random.Generator) -> None:
    poor, rich = closed("poor", 3, rng), closed("rich", 200, rng)
    blind = [replace(one, findings=one.findings[:1]) for one in poor[1]]

    rows = rows_of(poor, learn_among((poor[0], blind), [rich], SETTINGS, NOW))

    assert len(rows) == 12
    assert [row.jobs for row in rows] == pytest.approx([3.0] + [0.0] * 11)
