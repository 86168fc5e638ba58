"""Ratios side by side in one run, by pytest-benchmark; each timed answer is checked as well.

    pytest tests/benchmarks/test_speed.py --benchmark-enable --benchmark-group-by=group

The packages answer what they can answer in a moment: a small random network. What they do with the
shipped networks, with memory and time limits, is measured by ``bench_refresh``.
"""

import itertools
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.benchmarks.calls import draw_machine, lead_call
from tests.builders import random_network
from tests.references import (
    PgmpyModel,
    PyagrumModel,
    Question,
    component_variables,
    mode_probabilities,
)
from tests.triage.inference.test_references import engine_of, findings_for
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.inference.export import export_network
from triage.network.catalogue import load_network, network_names
from triage.planning.policy.visit import VisitPolicy
from triage.planning.problem.site import site_problem
from triage.planning.shop.costs import DEFAULT_COSTS
from triage.services.plan.branching import BranchingPlan, branching_plan

SMALL = random_network(1)
ANSWERERS: dict[str, Callable[[Question], PyagrumModel | PgmpyModel]] = {
    "pyagrum": PyagrumModel,
    "pgmpy": PgmpyModel,
}


def call_of(name: str, findings: int) -> tuple[Engine, Evidence]:
    """A drawn call of a shipped network, led by gain per minute."""
    engine, rng = Engine(load_network(name)), np.random.default_rng(1)
    return engine, lead_call(engine, draw_machine(engine, rng), findings, rng)


@pytest.mark.benchmark(group="modes of a small network")
def test_engine_on_a_small_network(benchmark: BenchmarkFixture) -> None:
    engine, evidence = engine_of(SMALL, 2), Evidence(findings_for(SMALL))

    found = benchmark(engine.posterior, evidence)

    assert found.mode_probabilities.max() <= 1.0


@pytest.mark.benchmark(group="modes of a small network")
@pytest.mark.parametrize("package", ANSWERERS)
def test_package_on_a_small_network(package: str, benchmark: BenchmarkFixture) -> None:
    engine, findings = engine_of(SMALL, 2), findings_for(SMALL)
    exported = export_network(engine)
    components = component_variables(exported)
    question = Question.of(exported, findings, components)

    marginals = benchmark(lambda: ANSWERERS[package](question).marginals(components))

    expected = engine.posterior(Evidence(findings)).mode_probabilities
    assert mode_probabilities(exported, marginals) == pytest.approx(expected, abs=1e-9)


@pytest.mark.benchmark(group="refresh after 10 findings")
@pytest.mark.parametrize("is_checked", [False, True], ids=["unchecked", "checked"])
@pytest.mark.parametrize("name", network_names())
def test_refresh(name: str, is_checked: bool, benchmark: BenchmarkFixture) -> None:
    engine, evidence = call_of(name, 10)

    found = benchmark(engine.assess, evidence, check_missing_mass=is_checked)

    assert (found.gains.bits >= -1e-12).all()


@pytest.mark.benchmark(group="decision on site after 3 findings")
@pytest.mark.parametrize("name", network_names())
def test_decision(name: str, benchmark: BenchmarkFixture) -> None:
    engine, evidence = call_of(name, 3)
    problem = site_problem(engine, evidence, DEFAULT_COSTS).problem

    action = benchmark(lambda: VisitPolicy(problem).action(problem.start()))

    assert action is not None


@pytest.mark.benchmark(group="whole branching plan after 3 findings")
@pytest.mark.parametrize("name", network_names())
def test_plan(name: str, benchmark: BenchmarkFixture) -> None:
    engine, evidence = call_of(name, 3)
    minutes = itertools.count(1)  # plans are kept: each time another shop asks

    def plan() -> BranchingPlan:
        costs = replace(DEFAULT_COSTS, trip_minutes=float(next(minutes)))
        return branching_plan(engine, evidence, costs)

    assert benchmark(plan).beyond < 0.05
