"""Distributions of minutes and price over the ways a visit may go."""

import pytest

from tests.builders import component, network, observation, repair, sign
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import Channel
from triage.planning.policy.site import BasePolicy
from triage.planning.problem.site import SiteProblem, site_problem
from triage.planning.shop.costs import CostModel
from triage.planning.visit.outcomes import VisitEnding, VisitForecast, visit_forecast
from triage.planning.visit.tree import plan_tree

COSTS = CostModel(
    service_fee_minor=9000,
    labour_price_minor_per_hour=6000,
    part_mark_up=2.0,
    verification_minutes=10,
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
    tree = plan_tree(BasePolicy(site.problem), covered_share=covered_share)
    return site, visit_forecast(site, tree, dict(engine.network.parts), COSTS, declined_share)


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


def test_plan_cut_short_goes_on_with_repairs_in_order_until_it_is_put_right() -> None:
    _, forecast = _forecast(0.0)

    # Most probable per cost first: the short repair, then the long one for those who need it.
    by_parts = {ending.parts: ending for ending in forecast.endings if ending.probability > 0.0}
    assert by_parts[frozenset({"fix_a_part"})].probability == pytest.approx(0.7)
    assert by_parts[frozenset({"fix_a_part"})].minutes == 20 + 10
    assert by_parts[frozenset({"fix_a_part", "fix_b_part"})].probability == pytest.approx(0.3)
    assert by_parts[frozenset({"fix_a_part", "fix_b_part"})].minutes == 20 + 10 + 60 + 10


def test_repair_that_does_not_hold_is_made_once_more() -> None:
    engine = _engine(success=0.9)
    site = site_problem(engine, Evidence(), COSTS)
    tree = plan_tree(BasePolicy(site.problem), covered_share=1.0)

    forecast = visit_forecast(site, tree, dict(engine.network.parts), COSTS, 0.0)

    again = [ending for ending in forecast.endings if ending.minutes == 5 + 2 * (20 + 10)]
    assert sum(ending.probability for ending in again) == pytest.approx(0.1 * 0.7, abs=0.01)


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
