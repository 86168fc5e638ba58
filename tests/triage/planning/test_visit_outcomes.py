"""Distributions of minutes and price over the ways a visit may go."""

from dataclasses import replace

import numpy as np
import pytest

from tests.builders import component, network, observation, repair, sign
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import Channel
from triage.planning.policy.site import BasePolicy
from triage.planning.problem.arrays import after_repair_done, after_repair_tried, after_test
from triage.planning.problem.site import SiteProblem, site_problem
from triage.planning.shop.costs import CostModel
from triage.planning.visit.outcomes import (
    VisitEnding,
    VisitForecast,
    log_normal_steps,
    visit_forecast,
)
from triage.planning.visit.playing import played_on
from triage.planning.visit.tree import plan_tree

COSTS = CostModel(
    service_fee_minor=9000,
    labour_price_minor_per_hour=6000,
    part_mark_up=2.0,
    verification_minutes=10,
    minutes_spread=0.0,
)


def _engine(success: float = 1.0) -> Engine:
    """Two exclusive causes, a sharp test of 5 minutes, repairs of 20 and 60 minutes."""
    return Engine(
        network(
            [component("a", {"x": 0.7}), component("b", {"y": 0.3})],
            [sign("s", {"a.x": 0.999, "b.y": 0.001}, leak=0.0)],
            [
                observation(
                    "test",
                    "s",
                    [[0.999, 0.001], [0.001, 0.999]],
                    channel=Channel.ON_SITE_TEST,
                    minutes=5,
                )
            ],
            repairs=[
                repair("fix_a", ["a.x"], success, minutes=20),
                repair("fix_b", ["b.y"], success, minutes=60),
            ],
            expected_failed_modes=1.0,
        )
    )


def _forecast(
    covered_share: float, declined_share: float = 0.0
) -> tuple[SiteProblem, VisitForecast]:
    engine = _engine()
    site = site_problem(engine, Evidence(), COSTS)
    return site, forecast_of(engine, site, covered_share, declined_share=declined_share)


def forecast_of(
    engine: Engine,
    site: SiteProblem,
    covered_share: float,
    costs: CostModel = COSTS,
    declined_share: float = 0.0,
) -> VisitForecast:
    """Forecast by the base policy, spelt out as far as wanted and played on beyond."""
    policy = BasePolicy(site.problem)
    tree = plan_tree(policy, covered_share=covered_share, holds=site.holds)
    return visit_forecast(site, tree, policy, dict(engine.network.parts), costs, declined_share)


def test_probabilities_of_all_endings_sum_to_one() -> None:
    _, forecast = _forecast(1.0)

    assert sum(ending.probability for ending in forecast.endings) == pytest.approx(1.0)


def test_minutes_are_those_of_the_tests_repairs_and_check_runs() -> None:
    _, forecast = _forecast(1.0)

    assert forecast.minutes(0.5) == pytest.approx(5 + 20 + 10)
    assert forecast.minutes(0.9) == pytest.approx(5 + 60 + 10)
    assert forecast.minutes_expected == pytest.approx(0.7 * 35 + 0.3 * 75, abs=0.5)


def test_price_is_fee_labour_and_parts_with_mark_up() -> None:
    _, forecast = _forecast(1.0)

    # Fee 90, 20 minutes at 60 an hour, one part of 10 to 20 with mark-up 2: 130 to 150 for 70 %
    # of the visits, so a tenth of all pay less than 130 + 20 / 7, and half less than 130 + 100 / 7.
    low, middle = forecast.price_minor(0.1, 0.5)
    assert low == pytest.approx(13000 + 2000 * 0.1 / 0.7, abs=60)
    assert middle == pytest.approx(13000 + 2000 * 0.5 / 0.7, abs=60)


def test_first_visit_share_counts_jobs_whose_parts_are_all_aboard() -> None:
    _, forecast = _forecast(1.0)

    assert forecast.first_visit_share({"fix_a_part": 1.0, "fix_b_part": 1.0}) == pytest.approx(1.0)
    only_a = forecast.first_visit_share({"fix_a_part": 1.0})
    assert only_a == pytest.approx(0.7, abs=0.01)
    assert forecast.first_visit_share({}) == pytest.approx(0.0, abs=1e-9)


def test_piece_that_may_not_fit_counts_in_the_share_in_which_it_fits() -> None:
    _, forecast = _forecast(1.0)
    share_of_a = forecast.first_visit_share({"fix_a_part": 1.0})

    assert forecast.first_visit_share({"fix_a_part": 0.5}) == pytest.approx(0.5 * share_of_a)


def test_plan_cut_short_is_played_on_by_the_policy() -> None:
    _, spelt_out = _forecast(1.0)
    _, played = _forecast(0.0)

    # Nothing is spelt out: a visit stands for every fiftieth of them, and 70 % are short.
    short = sum(ending.probability for ending in played.endings if ending.minutes == 5 + 20 + 10)
    assert {ending.minutes for ending in played.endings} <= {
        ending.minutes for ending in spelt_out.endings
    }
    assert sum(ending.probability for ending in played.endings) == pytest.approx(1.0)
    assert short == pytest.approx(0.7, abs=0.03)


def test_visits_played_on_are_the_same_every_time() -> None:
    assert _forecast(0.0)[1] == _forecast(0.0)[1]


def test_visits_played_on_share_the_probability_of_the_open_ends() -> None:
    site = site_problem(_engine(success=0.9), Evidence(), COSTS)
    start = site.problem.start()
    halves = [replace(start, weights=start.weights * share) for share in (0.15, 0.05)]

    played = list(played_on(BasePolicy(site.problem), site.holds, halves, 20))

    assert [one.probability for one in played] == [pytest.approx(0.2 / 20)] * 20
    assert sum(one.end == 0 for one in played) == 15
    assert all(one.actions for one in played)


def test_repair_that_did_not_hold_is_made_again_at_the_same_price() -> None:
    engine = _engine(success=0.9)
    site = site_problem(engine, Evidence(), COSTS)

    forecast = forecast_of(engine, site, 1.0)

    once = [ending for ending in forecast.endings if ending.minutes == 5 + 20 + 10]
    again = [ending for ending in forecast.endings if ending.minutes == 5 + 2 * (20 + 10)]
    assert sum(ending.probability for ending in again) == pytest.approx(0.7 * 0.1 * 0.9, abs=0.01)
    assert {ending.price_minor for ending in again} == {ending.price_minor for ending in once}


def test_belief_after_a_repair_that_may_not_hold_keeps_what_it_did_not_cure() -> None:
    site = site_problem(_engine(), Evidence(), COSTS)
    fix_a = [repair.id for repair in site.repairs].index("fix_a")
    tested = after_test(site.problem, site.problem.start(), 0)[0][1]

    held = after_repair_tried(site.problem, tested, fix_a, 1.0)
    tried = after_repair_tried(site.problem, tested, fix_a, 0.9)

    cured = after_repair_done(site.problem, tested, fix_a)
    assert held.weights == pytest.approx(cured.weights)
    assert tried.weights == pytest.approx(0.9 * cured.weights + 0.1 * tested.weights)
    assert (tested.made, tried.made) == (frozenset({0}), frozenset())


def test_minutes_of_steps_that_vary_spread_around_the_same_mean() -> None:
    engine = _engine()
    site = site_problem(engine, Evidence(), COSTS)

    exact = forecast_of(engine, site, 1.0)
    varied = forecast_of(engine, site, 1.0, replace(COSTS, minutes_spread=0.3))

    short = next(ending for ending in varied.endings if ending.minutes == 5 + 20 + 10)
    assert varied.minutes_expected == pytest.approx(exact.minutes_expected)
    assert short.minutes_sd == pytest.approx(0.3 * (5**2 + 20**2 + 10**2) ** 0.5)
    assert exact.minutes(0.95) < varied.minutes(0.95)


def test_log_normal_steps_have_the_mean_and_spread_asked_for() -> None:
    mean, sd = np.array([30.0, 80.0, 0.0]), np.array([0.0, 20.0, 0.0])

    steps = log_normal_steps(mean, sd)

    assert steps.mean(axis=1) == pytest.approx(mean, rel=0.005)
    assert steps.std(axis=1) == pytest.approx(sd, rel=0.06)


def test_hypotheses_left_out_count_as_the_longest_visit_and_in_vain() -> None:
    engine = _engine()
    site = site_problem(engine, Evidence(), COSTS)
    whole = forecast_of(engine, site, 1.0)

    cut = forecast_of(engine, replace(site, kept_mass=site.kept_mass - 0.04), 1.0)

    in_vain = [ending for ending in cut.endings if not ending.is_solved]
    assert sum(ending.probability for ending in cut.endings) == pytest.approx(1.0)
    assert sum(ending.probability for ending in in_vain) == pytest.approx(0.04, abs=1e-3)
    assert {e.minutes for e in in_vain} == {max(e.minutes for e in whole.endings)}


def test_quantile_is_the_first_value_reached() -> None:
    endings = tuple(
        VisitEnding(probability, minutes, (0, 0), frozenset(), True)
        for probability, minutes in ((0.5, 10.0), (0.3, 30.0), (0.2, 90.0))
    )

    forecast = VisitForecast(endings)

    assert [forecast.minutes(level) for level in (0.5, 0.8, 0.95)] == [10.0, 30.0, 90.0]


def test_declined_quote_ends_the_visit_with_the_fee() -> None:
    _, forecast = _forecast(1.0, declined_share=0.25)

    declined = [ending for ending in forecast.endings if ending.is_declined]

    assert sum(ending.probability for ending in declined) == pytest.approx(0.25)
    assert {ending.price_minor for ending in declined} == {(9000, 9000)}
    assert {ending.minutes for ending in declined} == {5.0}
    assert not any(ending.parts for ending in declined)


def test_first_visit_share_is_among_the_quotes_accepted() -> None:
    both = {"fix_a_part": 1.0, "fix_b_part": 1.0}

    assert _forecast(1.0, 0.25)[1].first_visit_share(both) == pytest.approx(1.0)
    assert _forecast(1.0, 0.0)[1].first_visit_share(both) == pytest.approx(1.0)
