"""Probabilities of the causes under findings written as ``OBSERVATION=ANSWER``."""

from triage.inference.engine import Engine
from triage.inference.evidence import parse_findings

# Every forced test of the top-load washer, with the answer of a machine that works.
FORCED_TESTS_PASS = (
    "tests_lid_lock=locks",
    "tests_lid_release=works",
    "tests_cold_valve=steady",
    "tests_hot_valve=steady",
    "tests_drain_pump=strong",
    "tests_mode_shift=shifts",
    "tests_low_spin=works",
    "tests_high_spin=smooth",
    "tests_agitation=both_ways",
    "tests_level=works",
)


def probabilities(engine: Engine, *findings: str) -> dict[str, float]:
    """P(mode has failed | findings) by mode."""
    evidence = parse_findings(engine.compiled.index, findings)
    values = engine.posterior(evidence).mode_probabilities
    return dict(zip(engine.compiled.mode_ids, values.tolist(), strict=True))


def odds(probability: float) -> float:
    return probability / (1.0 - probability)
