"""Loads of one visit and of a day against published forms, hand sums and brute force."""

import math
from collections.abc import Mapping
from itertools import combinations, pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.planning.parts.load import JobType, best_load, efficient_loads, load_of
from triage.planning.parts.tour import best_tour, newsvendor, worth_taking
from triage.planning.parts.tour_bound import upper_bound
from triage.planning.parts.tour_value import Day, Supply, Visits

RETURN_TRIP = 100.0


def _independent(needs: dict[str, float]) -> tuple[JobType, ...]:
    """Job types of parts that are needed independently of each other."""
    return tuple(
        JobType(
            math.prod(p if part in needed else 1.0 - p for part, p in needs.items()),
            frozenset(needed),
        )
        for size in range(len(needs) + 1)
        for needed in combinations(needs, size)
    )


# Form of [SmithChambersShlifer1980]_, own instance: prefixes of the order of holding cost per need
# cost 50.14495, 43.347, 24.21, 20.8, 20.0 and 23, worked out by hand and by brute force.
KIT = _independent({"1": 0.30, "2": 0.15, "3": 0.10, "4": 0.05, "5": 0.02})
KIT_HOLDING = {"1": 6.0, "2": 2.0, "3": 9.0, "4": 1.0, "5": 5.0}


@pytest.mark.parametrize(
    ("parts", "cost"),
    [("", 50.14495), ("2", 43.347), ("12", 24.21), ("124", 20.8), ("1234", 20.0), ("12345", 23.0)],
)
def test_kit_of_independent_needs_costs_what_the_formula_says(parts: str, cost: float) -> None:
    load = load_of(list(parts), KIT, KIT_HOLDING, RETURN_TRIP)

    held = sum(KIT_HOLDING[part] for part in parts)
    assert held + RETURN_TRIP * (1.0 - load.fill_rate) == pytest.approx(cost, abs=1e-9)


def test_best_kit_of_independent_needs_is_the_best_prefix() -> None:
    load = best_load(KIT, KIT_HOLDING, RETURN_TRIP)

    assert set(load.parts) == set("1234")
    assert load.fill_rate == pytest.approx(0.98)


def test_frontier_has_every_load_that_is_best_for_some_return_trip() -> None:
    trips = [*np.arange(0.0, 60.0, 0.5), *np.arange(60.0, 600.0, 10.0)]
    swept = {best_load(KIT, KIT_HOLDING, trip).parts for trip in trips}

    corners = efficient_loads(KIT, KIT_HOLDING)

    assert {corner.parts for corner in corners} == swept
    fill_rates = [corner.fill_rate for corner in corners]
    slopes = [
        (high.fill_rate - low.fill_rate) / (low.value - high.value)
        for low, high in pairwise(corners)
    ]
    assert fill_rates == sorted(fill_rates)
    assert slopes == sorted(slopes, reverse=True)  # every further piece brings less for its cost


def test_frontier_of_jobs_that_no_part_can_finish_is_the_van_as_it_is() -> None:
    corners = efficient_loads((JobType(1.0, frozenset({"x"})),), {"y": 1.0})

    assert [corner.fill_rate for corner in corners] == [0.0]


def test_newsvendor_finds_the_published_quantity() -> None:
    # [SnyderShen2019]_ example 4.3: holding 0.18, shortage 0.70, demand N(50, 8): 56.6040, cost
    # 1.99761. Here in steps of a hundredth.
    step = 0.01
    grid = np.arange(0.0, 100.0 + step / 2, step)
    density = np.exp(-(((grid - 50.0) / 8.0) ** 2) / 2.0)
    demand = density / density.sum()

    quantity = newsvendor(demand.tolist(), 0.18, 0.70) * step

    over, under = np.maximum(quantity - grid, 0.0), np.maximum(grid - quantity, 0.0)
    assert quantity == pytest.approx(56.60395592743389, abs=step)
    assert demand @ (0.18 * over + 0.70 * under) == pytest.approx(1.9976051931766445, abs=1e-4)


@pytest.mark.parametrize("holding", [5.0, 15.0, 45.0, 80.0])
def test_day_with_one_item_is_the_newsvendor(holding: float) -> None:
    needs = (0.3, 0.5, 0.2, 0.4)
    demand = np.ones(1)
    for p in needs:
        demand = np.convolve(demand, [1.0 - p, p])
    visits = [[JobType(p, frozenset({"a"}))] for p in needs]

    found = best_tour(visits, {"a": Supply(0, holding, 4)}, RETURN_TRIP)

    expected = newsvendor(demand.tolist(), holding, RETURN_TRIP - holding)
    assert found.take.get("a", 0) == expected
    assert found.is_proved


def test_piece_used_at_one_visit_is_gone_for_the_next() -> None:
    visits = [[JobType(0.5, frozenset({"a"}))], [JobType(0.4, frozenset({"a"}))]]

    found = Day(visits, {"a": Supply(1, 5.0)}, RETURN_TRIP).valued({})

    # By hand: the second visit finds the piece unless the first used it.
    assert found.fill_rates == pytest.approx((0.5, 0.4 * 0.5))
    assert found.standard_error == 0.0


def test_job_that_lacks_a_piece_uses_none() -> None:
    visits = [[JobType(1.0, frozenset({"a", "b"}))], [JobType(1.0, frozenset({"a"}))]]

    found = Day(visits, {"a": Supply(1, 5.0)}, RETURN_TRIP).valued({})

    assert found.fill_rates == (0.0, 1.0)


def test_one_visit_is_the_minimum_cut() -> None:
    supplies = {part: Supply(0, holding, 1) for part, holding in KIT_HOLDING.items()}

    found = best_tour([KIT], supplies, RETURN_TRIP)

    load = best_load(KIT, KIT_HOLDING, RETURN_TRIP)
    assert tuple(found.take) == load.parts
    assert found.valuation.value == pytest.approx(load.value)
    assert found.gap == 0.0


def _random_day(seed: int) -> tuple[Visits, dict[str, Supply]]:
    rng = np.random.default_rng(seed)
    visits = []
    for _ in range(int(rng.integers(1, 4))):
        shares = rng.dirichlet(np.ones(5))[1:]
        sizes = rng.integers(0, 4, size=4)
        chosen = [rng.choice(list("abcd"), size=int(size), replace=False) for size in sizes]
        visits.append(
            [JobType(float(p), frozenset(c.tolist())) for p, c in zip(shares, chosen, strict=True)]
        )
    supplies = {
        item: Supply(int(rng.integers(0, 2)), float(rng.uniform(1, 30)), int(rng.integers(0, 3)))
        for item in "abcd"
    }
    return visits, supplies


def _best_by_brute_force(visits: Visits, supplies: Mapping[str, Supply]) -> float:
    day = Day(visits, supplies, RETURN_TRIP)
    counts = product(*(range(supply.more_max + 1) for supply in supplies.values()))
    return max(day.valued(dict(zip(supplies, count, strict=True))).value for count in counts)


@given(seed=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_load_of_a_day_lies_between_its_value_and_its_bound(seed: int) -> None:
    visits, supplies = _random_day(seed)

    found = best_tour(visits, supplies, RETURN_TRIP)

    best = _best_by_brute_force(visits, supplies)
    assert found.valuation.value <= best + 1e-9
    assert best <= found.bound + 1e-4
    if found.is_proved:
        assert found.valuation.value == pytest.approx(best, abs=1e-3)


def test_most_small_days_are_proved_best() -> None:
    days = [_random_day(seed) for seed in range(60)]

    proved = [best_tour(*day, RETURN_TRIP).is_proved for day in days]

    assert sum(proved) >= 50  # 54 when this was written


@pytest.mark.parametrize("scenarios_max", [0, 10_000])
def test_no_load_is_worth_more_than_either_bound(scenarios_max: int) -> None:
    days = [Day(*_random_day(seed), RETURN_TRIP) for seed in range(40)]
    open_days = [day for day in days if day.open_items]

    bounds = [upper_bound(day, scenarios_max=scenarios_max).bound for day in open_days]

    best = [_best_by_brute_force(day.visits, day.supplies) for day in open_days]
    assert len(open_days) > 20
    assert all(bound >= value - 1e-4 for bound, value in zip(bounds, best, strict=True))


def test_drawn_days_agree_with_the_exact_walk() -> None:
    visits = [[JobType(p, frozenset(s)) for p, s in ((0.4, "a"), (0.3, "ab"), (0.2, "c"))]] * 3
    day = Day(visits, {item: Supply(1, 5.0, 2) for item in "abc"}, RETURN_TRIP)
    exact = day.valued({"a": 1})

    drawn = day.valued({"a": 1}, steps_max=0)

    assert exact.standard_error == 0.0
    assert 0.0 < drawn.standard_error < 1.0
    assert abs(drawn.value - exact.value) < 4.0 * drawn.standard_error
    assert drawn == day.valued({"a": 1}, steps_max=0)  # the same days are drawn each time


def test_pieces_that_cannot_pay_are_left_out_with_all_that_needs_them() -> None:
    # "b" alone would pay, but its only job needs "a" too, which costs more than it brings.
    visits = [[JobType(0.2, frozenset({"a", "b"}))]] * 2
    supplies = {"a": Supply(0, 40.0, 2), "b": Supply(0, 1.0, 2)}

    useful = worth_taking(visits, supplies, RETURN_TRIP)

    assert [supply.more_max for supply in useful.values()] == [0, 0]


def test_visits_that_share_no_scarce_item_are_loaded_each_by_itself() -> None:
    visits = [[JobType(0.5, frozenset({"a"}))], [JobType(0.5, frozenset({"b"}))]]
    supplies = {"a": Supply(0, 5.0, 2), "b": Supply(0, 5.0, 2)}

    found = best_tour(visits, supplies, RETURN_TRIP)

    assert found.take == {"a": 1, "b": 1}
    assert found.is_proved
    assert found.valuation.value == pytest.approx(2 * (50.0 - 5.0))
