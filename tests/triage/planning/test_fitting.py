"""From the plate to the number of a part, and its chance to fit in the fill rate."""

import pytest

from triage.planning.parts.load import JobType, best_load, load_of, none_fits, with_fit
from triage.planning.shop.fitting import MISREAD_SHARE, FitState, Variant, fitting, plate_matches

# Invented numbers and plates.
PUMPS = (
    Variant(number="P-1", plates=("AB 4*", "AB-450?"), share=0.5),
    Variant(number="P-2", plates=("CD*",), share=0.3),
)


@pytest.mark.parametrize(
    ("pattern", "plate", "matches"),
    [
        ("AB4*", "ab 450-k", True),
        ("AB 4?0", "AB450", True),
        ("AB 4?0", "AB4510", False),
        ("AB4", "AB45", False),
        ("*4*", "ab 450", True),
        ("A.B", "AXB", False),  # a full stop is punctuation, not a wild card
    ],
)
def test_plate_matches_whatever_its_capitals_blanks_and_punctuation(
    pattern: str, plate: str, matches: bool
) -> None:
    assert plate_matches(pattern, plate) is matches


def test_plate_of_one_pattern_settles_the_number() -> None:
    found = fitting(PUMPS, "cd-17")

    assert found.state is FitState.ONE_NUMBER
    assert found.candidates == (("P-2", 1.0),)
    assert not found.state.asks_for_photo


@pytest.mark.parametrize("plate", ["", "  - "])
def test_unknown_plate_leaves_the_shares_and_asks_for_a_photo(plate: str) -> None:
    found = fitting(PUMPS, plate)

    assert found.state is FitState.NO_PLATE
    assert found.candidates == (("P-1", 0.5), ("P-2", 0.3))
    assert found.state.asks_for_photo


def test_plate_of_several_patterns_shares_out_among_them() -> None:
    wide = Variant(number="P-3", plates=("AB*",), share=0.1)

    found = fitting((*PUMPS, wide), "AB 47")

    assert found.state is FitState.SEVERAL_NUMBERS
    assert dict(found.candidates) == pytest.approx({"P-1": 5 / 6, "P-3": 1 / 6})


def test_plate_of_no_pattern_is_probably_a_machine_that_is_not_listed() -> None:
    found = fitting(PUMPS, "XY 9")

    # Bayes: listed machines (0.8) come out like this if misread, the others (0.2) always.
    listed = 0.8 * MISREAD_SHARE / (0.8 * MISREAD_SHARE + 0.2)
    assert found.state is FitState.NOT_LISTED
    assert sum(fits for _, fits in found.candidates) == pytest.approx(listed)


def test_plate_of_no_pattern_was_misread_if_the_list_is_complete() -> None:
    complete = (Variant(number="P-1", plates=("AB*",), share=1.0),)

    assert dict(fitting(complete, "XY 9").candidates) == pytest.approx({"P-1": 1.0})


def test_part_without_a_list_fits_as_often_as_the_shop_says() -> None:
    found = fitting((), "AB 45", 0.8)

    assert found.state is FitState.NO_LIST
    assert found.candidates == (("", 0.8),)
    assert not found.state.asks_for_photo


def test_job_types_in_numbers_keep_the_total_probability() -> None:
    jobs = (JobType(0.6, frozenset({"pump"})), JobType(0.4, frozenset({"pump", "belt"})))

    spelt_out = with_fit(jobs, {"pump": fitting(PUMPS, "").candidates})

    assert sum(job.probability for job in spelt_out) == pytest.approx(1.0)
    by_items = {job.parts: job.probability for job in spelt_out}
    assert by_items[frozenset({"P-1"})] == pytest.approx(0.6 * 0.5)
    assert by_items[frozenset({"P-2", "belt"})] == pytest.approx(0.4 * 0.3)
    assert by_items[frozenset({none_fits("pump")})] == pytest.approx(0.6 * 0.2)


def test_piece_that_may_not_fit_counts_by_its_chance_in_the_fill_rate() -> None:
    jobs = with_fit((JobType(1.0, frozenset({"pump"})),), {"pump": (("pump", 0.7),)})

    assert load_of(["pump"], jobs, {"pump": 5.0}, 100.0).fill_rate == pytest.approx(0.7)


@pytest.mark.parametrize(("fits", "taken"), [(0.6, True), (0.4, False)])
def test_part_is_left_behind_when_it_hardly_fits(fits: float, taken: bool) -> None:
    # Break-even by hand: carrying costs 5, a return trip 100, need 0.1: 0.1 * fits * 100 = 5.
    jobs = with_fit((JobType(0.1, frozenset({"pump"})),), {"pump": (("pump", fits),)})

    load = best_load(jobs, {"pump": 5.0}, 100.0)

    assert ("pump" in load.parts) is taken
