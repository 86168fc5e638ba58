"""Claims about readings that cannot be: refused when made, counted where an old job holds them."""

import math

import pytest

from triage.errors import ReadingError, ReadingOutOfSpanError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, finding_likelihood, parse_finding
from triage.network.catalogue import load_network, network_names
from triage.network.values import NetworkIndex, Observation

DRYER = NetworkIndex(load_network("electric_dryer"))
METERS = {
    (one.id, one.reading.span): (name, one)
    for name in network_names()
    for one in load_network(name).observations.values()
    if one.reading is not None
}


def span_of(observation: Observation) -> tuple[float, float]:
    assert observation.reading is not None
    return observation.reading.span


def meter(unit: str) -> Observation:
    """A meter of the electric dryer in a unit."""
    return next(
        one
        for one in DRYER.network.observations.values()
        if one.reading is not None and one.reading.unit == unit
    )


@pytest.mark.parametrize(("name", "observation"), METERS.values(), ids=[one for one, _ in METERS])
def test_every_meter_takes_both_ends_of_its_span_and_nothing_beyond(
    name: str, observation: Observation
) -> None:
    index = NetworkIndex(load_network(name))
    low, high = span_of(observation)
    beyond = [math.nextafter(low, -math.inf), math.nextafter(high, math.inf)]

    taken = [parse_finding(index, f"{observation.id}={end!r}") for end in (low, high)]
    refused = 0
    for value in beyond:
        with pytest.raises(ReadingOutOfSpanError):
            parse_finding(index, f"{observation.id}={value!r}")
        refused += 1

    assert [one.answer for one in taken] == [low, high]
    assert refused == 2


def test_message_says_where_what_what_can_be_and_what_to_do() -> None:
    volts = meter("V")

    with pytest.raises(ReadingError) as caught:
        parse_finding(DRYER, f"{volts.id}=2400")

    low, high = span_of(volts)
    assert str(caught.value) == (
        f'Reading "2400" for observation "{volts.id}"; expected {low:g} to {high:g} V. '
        "Check the number, its sign and its unit; if the meter does show that, or an overload, "
        'answer "outside".'
    )


def test_reading_below_nothing_is_to_be_measured_again() -> None:
    ohms = meter("ohm")

    with pytest.raises(ReadingOutOfSpanError, match="its unit, and measure again") as caught:
        parse_finding(DRYER, f"{ohms.id}=-5")

    assert (caught.value.instead, caught.value.label) == ("", "")


def test_meter_that_shows_more_than_a_good_end_of_its_span_is_answered_as_good() -> None:
    insulation = meter("Mohm")
    assert insulation.reading is not None
    assert insulation.reading.accept[1] == insulation.reading.span[1]

    with pytest.raises(ReadingOutOfSpanError) as caught:
        parse_finding(DRYER, f"{insulation.id}=2000")

    assert caught.value.instead == "inside"
    assert caught.value.label == insulation.answers["inside"]


def test_reading_beyond_the_span_in_an_old_job_counts_as_the_end_of_the_span() -> None:
    volts = meter("V")
    end = span_of(volts)[1]

    kept = finding_likelihood(volts, 2400.0)

    assert kept == pytest.approx(finding_likelihood(volts, end))
    engine = Engine(DRYER.network)
    old, now = (
        engine.assess(Evidence.of(Finding(volts.id, value))).causes for value in (2400.0, end)
    )
    assert [one.probability for one in old] == [one.probability for one in now]
