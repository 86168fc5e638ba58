"""A meter reading against numerical integration (scipy), which knows nothing of the closed form."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from triage.network.reading import answer_likelihood, reading_likelihood
from triage.network.values import Reading


def winding(accept=(5.0, 25.0), span=(0.0, 60.0), sd=2.0):
    """Reading of a winding; the numbers are invented and make the error matter."""
    return Reading(unit="ohm", accept=accept, span=span, sd=sd, inside={"good": 0.98, "bad": 0.1})


def shown_within(reading, low, high):
    """P(y in accept | x uniform in [low, high]) by integration over the true value x."""
    first, last = reading.accept

    def shown(x):
        return norm.cdf(last, x, reading.sd) - norm.cdf(first, x, reading.sd)

    return quad(shown, low, high, points=[first, last], limit=200)[0] / (high - low)


def test_answer_likelihood_equals_integration_over_the_true_value():
    reading = winding()
    below, above = shown_within(reading, 0, 5), shown_within(reading, 25, 60)
    if_inside, if_outside = shown_within(reading, 5, 25), (5 * below + 35 * above) / 40
    expected = [p * if_inside + (1 - p) * if_outside for p in (0.98, 0.1)]

    actual = answer_likelihood(reading)

    assert [row[0] for row in actual] == pytest.approx(expected, rel=1e-7)
    assert [sum(row) for row in actual] == [1, 1]


def test_answer_likelihood_works_with_the_range_to_accept_at_one_end_of_the_span():
    reading = winding(accept=(0.0, 25.0))
    if_inside, if_outside = shown_within(reading, 0, 25), shown_within(reading, 25, 60)

    actual = answer_likelihood(reading)[1][0]

    assert actual == pytest.approx(0.1 * if_inside + 0.9 * if_outside, rel=1e-7)


@pytest.mark.parametrize("value", [0.0, 4.0, 5.0, 15.0, 26.5, 60.0])
def test_reading_likelihood_equals_integration_over_the_true_value(value):
    reading = winding()

    def density(low, high):
        return quad(lambda x: norm.pdf(value, x, 2.0), low, high, points=[value], limit=200)[0]

    if_inside, if_outside = density(5, 25) / 20, (density(0, 5) + density(25, 60)) / 40

    actual = reading_likelihood(reading, value)

    expected = (0.98 * if_inside + 0.02 * if_outside, 0.1 * if_inside + 0.9 * if_outside)
    assert actual == pytest.approx(expected, rel=1e-7)


def test_reading_likelihood_integrates_to_one_over_every_value_shown():
    """The meter can show a little more than its span; without the clamp that has density too."""
    reading = winding(span=(-1000.0, 1000.0))

    total = quad(
        lambda y: reading_likelihood(reading, y)[0], -1000, 1000, points=[5, 25], limit=400
    )[0]

    # What lies beyond the ends of the span: 2 sd phi-integral(0) / width of the rest, times 0.02.
    beyond = 0.02 * 2 * 2.0 / math.sqrt(2 * math.pi) / 1980
    assert total == pytest.approx(1 - beyond, abs=1e-8)


def test_reading_beyond_the_span_counts_as_the_end_of_the_span():
    reading = winding()

    overload = reading_likelihood(reading, 1e6)

    assert overload == reading_likelihood(reading, 60.0)


@given(value=st.floats(allow_nan=False), sd=st.floats(min_value=1e-3, max_value=1e3))
def test_reading_likelihood_is_positive_and_finite_for_every_value(value, sd):
    actual = reading_likelihood(winding(sd=sd), value)

    assert all(0 < density < math.inf for density in actual)
