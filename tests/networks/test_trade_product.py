"""Strength times channel gives the trade's figures, for every row of every complaint and test.

``tests.networks.trade_tables`` holds the figures as typed, a table for each appliance kind: how
often a caller whose machine has the fault reports the complaint, how often a test finds the fault,
and how often it passes a machine without it. What only one kind has stands in
``test_trade_facts``.
"""

from functools import cache

import numpy as np
import pytest

from tests.networks.trade_tables.dryers import ELECTRIC_DRYER, GAS_DRYER
from tests.networks.trade_tables.front_load_washer import FRONT_LOAD_WASHER
from tests.networks.trade_tables.top_load_washer import TOP_LOAD_WASHER
from tests.networks.trade_tables.values import LEAK, RANGES, RARE_LEAK, Row, TradeTable, TradeTest
from triage.inference.noisy import noisy_max
from triage.network.catalogue import load_network
from triage.network.values import (
    COULD_NOT_BE_RUN,
    FailureMode,
    FaultNetwork,
    NetworkIndex,
    Observation,
)

TABLES = (TOP_LOAD_WASHER, FRONT_LOAD_WASHER, ELECTRIC_DRYER, GAS_DRYER)
COMPLAINTS = [(table, complaint) for table in TABLES for complaint in table.complaints]
TESTS = [(table, test) for table in TABLES for test in table.tests]
REPAIRS = [(table, *repair) for table in TABLES for repair in table.repairs]


def name(value: TradeTable | TradeTest | str | int) -> str:
    """Name of a case in the output of the tests."""
    if isinstance(value, TradeTable):
        return value.kind
    return value.id if isinstance(value, TradeTest) else str(value)


@cache
def network_of(table: TradeTable) -> FaultNetwork:
    return load_network(table.kind)


def answers_given(
    network: FaultNetwork, observation: Observation, mode: str | None
) -> dict[str, float]:
    """P(answer | only this mode failed, nothing masks the sign)."""
    sign = network.signs[observation.sign or ""]
    links = [] if mode is None else [sign.causes.get(mode, (1.0,) + (0.0,) * len(sign.leak[1:]))]
    states = noisy_max(np.array(sign.leak), np.array(links).reshape(-1, len(sign.leak)))
    chances = states @ np.array(observation.likelihood)
    return dict(zip(observation.answers, chances.tolist(), strict=True))


def reported(table: TradeTable, complaint: str, row: Row) -> float:
    """P(yes | one of the modes of a row failed), by share; nothing failed for an empty row."""
    network = network_of(table)
    observation = network.observations[complaint]
    if not row:
        return answers_given(network, observation, None)["yes"]
    shares = np.array([NetworkIndex(network).mode(mode).share for mode in row])
    said = [answers_given(network, observation, mode)["yes"] for mode in row]
    return float(shares @ np.array(said) / shares.sum())


def bad_answer_given(table: TradeTable, test: TradeTest, mode: str | None) -> float:
    """P(an answer other than the good one | only this mode failed, and the test could be run)."""
    network = network_of(table)
    chances = answers_given(network, network.observations[test.id], mode)
    return 1 - chances[test.good] / (1 - chances.get(COULD_NOT_BE_RUN, 0.0))


def modes_of(table: TradeTable) -> dict[str, FailureMode]:
    parts = network_of(table).components.values()
    return {mode.id: mode for part in parts for mode in part.modes}


@pytest.mark.parametrize(("table", "complaint"), COMPLAINTS, ids=name)
def test_complaint_is_reported_as_often_as_the_trade_says(
    table: TradeTable, complaint: str
) -> None:
    wanted = {row: figure for row, figure in table.complaints[complaint].items() if len(row) == 1}

    found = {row: reported(table, complaint, row) for row in wanted}

    assert found == pytest.approx(wanted, abs=0.01)


@pytest.mark.parametrize(("table", "complaint"), COMPLAINTS, ids=name)
def test_complaint_of_a_row_of_several_modes_lies_in_the_range_of_its_word(
    table: TradeTable, complaint: str
) -> None:
    ranges = {
        row: RANGES[figure] for row, figure in table.complaints[complaint].items() if len(row) > 1
    }

    found = {row: reported(table, complaint, row) for row in ranges}

    outside = {row: said for row, said in found.items() if not _is_in(said, ranges[row])}
    assert outside == {}


def _is_in(value: float, limits: tuple[float, float]) -> bool:
    return limits[0] <= value <= limits[1]


@pytest.mark.parametrize(("table", "complaint"), COMPLAINTS, ids=name)
def test_complaint_is_seldom_reported_without_a_cause(table: TradeTable, complaint: str) -> None:
    wanted = RARE_LEAK if complaint in table.rarely_imagined else LEAK

    found = reported(table, complaint, ())

    assert found == pytest.approx(wanted, rel=0.05)


@pytest.mark.parametrize(("table", "complaint"), COMPLAINTS, ids=name)
def test_complaint_has_the_causes_that_the_trade_lists_and_no_other(
    table: TradeTable, complaint: str
) -> None:
    network = network_of(table)
    sign = network.signs[network.observations[complaint].sign or ""]
    unexplained = reported(table, complaint, ())
    rows = table.complaints[complaint]

    causes = {
        mode for mode in sign.causes if reported(table, complaint, (mode,)) > unexplained + 0.001
    }

    assert causes - table.untied <= {mode for row in rows for mode in row}
    assert causes >= {row[0] for row in rows if len(row) == 1}


@pytest.mark.parametrize(("table", "test"), TESTS, ids=name)
def test_test_finds_and_passes_as_often_as_the_trade_says(
    table: TradeTable, test: TradeTest
) -> None:
    wanted = dict.fromkeys(test.modes, test.sensitivity)

    found = {mode: bad_answer_given(table, test, mode) for mode in wanted}
    passed = 1 - bad_answer_given(table, test, None)

    assert found == pytest.approx(wanted, abs=0.01)
    assert passed == pytest.approx(test.specificity, abs=0.01)


@pytest.mark.parametrize("table", [table for table in TABLES if table.shares_percent], ids=name)
def test_failure_modes_have_the_shares_of_the_trade_table(table: TradeTable) -> None:
    modes = modes_of(table)

    shares = {row: 100 * sum(modes[mode].share for mode in row) for row in table.shares_percent}

    assert {mode for row in shares for mode in row} == set(modes)
    assert shares == pytest.approx(table.shares_percent, abs=1e-9)


@pytest.mark.parametrize("table", TABLES, ids=name)
def test_shares_of_the_causes_no_part_cures_are_those_of_the_trade(table: TradeTable) -> None:
    kinds = ("use", "installation", "nothing_failed")

    share = sum(
        mode.share
        for component in network_of(table).components.values()
        if component.kind.value in kinds
        for mode in component.modes
    )

    assert 100 * share == pytest.approx(table.no_part_percent)


@pytest.mark.parametrize(("table", "repair_id", "low", "high", "minutes"), REPAIRS, ids=name)
def test_repair_costs_and_takes_what_the_trade_says(
    table: TradeTable, repair_id: str, low: int, high: int, minutes: int
) -> None:
    network = network_of(table)
    repair = network.repairs[repair_id]

    (part,) = (network.parts[name] for name in repair.parts)

    assert part.cost == (100 * low, 100 * high)
    assert repair.minutes == minutes
