"""With exactly one failed row per machine, the engine gives the posteriors of the trade tables.

The tables (``tests/golden/trade_tables.json``) hold shares and strengths of four appliances: a
working table of trade judgement, common practice, no published source. The posteriors in it were
computed from the tables by plain arithmetic, apart from this program: they test the program, not
the trade. The networks built here are flat: one component a row, signs seen without error.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests import builders
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.network.values import FaultNetwork

TABLES = json.loads(
    (Path(__file__).parent.parent / "golden" / "trade_tables.json").read_text(encoding="utf-8")
)
STRENGTHS = TABLES["strengths"]
CASES = TABLES["single_fault_posteriors"]
FOUR_DIGITS, THREE_DIGITS = 0.5e-4 + 1e-9, 0.5e-3 + 1e-9  # half a unit of the last printed digit
SEEN_WITHOUT_ERROR = ((1.0, 0.0), (0.0, 1.0))


def flat_network(appliance: str) -> FaultNetwork:
    """One component a row of the table, one sign a complaint, exactly one failed mode."""
    shares = TABLES["shares_percent"][appliance]
    signs = {
        sign: {
            row: STRENGTHS[word]
            for word, rows in strengths.items()
            for row in rows.split()
            if row in shares
        }
        for sign, strengths in TABLES["signs"].items()
    }
    leak = STRENGTHS["leak"]
    return builders.network(
        [builders.component(row, {"failed": share / 100.0}) for row, share in shares.items()],
        [
            builders.sign(
                sign, {f"{row}.failed": beside_leak(s, leak) for row, s in causes.items()}, leak
            )
            for sign, causes in signs.items()
        ],
        [builders.observation(f"says_{sign}", sign, SEEN_WITHOUT_ERROR) for sign in signs],
        expected_failed_modes=1.0,
        name=appliance,
    )


def beside_leak(strength: float, leak: float) -> float:
    """Link that gives P(sign | row) = strength when the leak is a cause of its own."""
    return 1.0 - (1.0 - strength) / (1.0 - leak)


@pytest.fixture(scope="module")
def engines() -> dict[str, Engine]:
    return {appliance: Engine(flat_network(appliance)) for appliance in TABLES["shares_percent"]}


def case_name(case: dict[str, Any]) -> str:
    said = [sign if answer == "yes" else f"not {sign}" for sign, answer in case["evidence"].items()]
    return f"{case['appliance']}: {', '.join(said)}"


@pytest.mark.parametrize("appliance", TABLES["shares_percent"])
def test_shares_of_an_appliance_are_all_of_its_calls(appliance: str) -> None:
    shares = TABLES["shares_percent"][appliance]

    assert sum(shares.values()) == pytest.approx(100.0, abs=1e-9)


@pytest.mark.parametrize("case", CASES, ids=case_name)
def test_single_fault_posterior_agrees_with_the_trade_tables(
    engines: dict[str, Engine], case: dict[str, Any]
) -> None:
    engine = engines[case["appliance"]]
    evidence = Evidence(
        tuple(Finding(f"says_{sign}", answer) for sign, answer in case["evidence"].items())
    )

    assessment = engine.assess(evidence)

    found = {cause.mode.removesuffix(".failed"): cause.probability for cause in assessment.causes}
    first_five = [cause.probability for cause in assessment.causes[:5]]
    assert np.exp(assessment.posterior.log_evidence) == pytest.approx(
        case["probability_of_evidence"], abs=FOUR_DIGITS
    )
    assert {row: found[row] for row in case["first_five"]} == pytest.approx(
        case["first_five"], abs=THREE_DIGITS
    )
    assert first_five == pytest.approx(list(case["first_five"].values()), abs=THREE_DIGITS)


def test_evidence_of_a_flat_network_misses_nothing_beyond_one_failed_row(
    engines: dict[str, Engine],
) -> None:
    said = Evidence.of(Finding("says_D05", "yes"))

    missing = engines["gas_dryer"].assess(said).missing

    assert missing.share == pytest.approx(0.0, abs=1e-12)
