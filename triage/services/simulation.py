"""Simulate jobs of a network: the read model behind `triage simulate`."""

from collections.abc import Sequence

from triage.inference.engine import Engine
from triage.planning.shop.costs import DEFAULT_COSTS, CostModel
from triage.simulation.disturbance import Disturbance
from triage.simulation.site_policies import SitePolicyName
from triage.simulation.study import Estimate, Plan, PolicyResult, Study, study

POLICY_WORDS = {
    SitePolicyName.FIXED: "Fixed sequence of tests",
    SitePolicyName.MOST_PROBABLE: "Most probable repair first, no tests",
    SitePolicyName.PROBABILITY_PER_COST: "Repairs by probability per cost, no tests",
    SitePolicyName.GAIN: "Gain per minute until one repair is probable enough",
    SitePolicyName.BASE: "Saving per cost, checked against repairing first",
    SitePolicyName.TWO_STEPS: "Two steps ahead, three tests and three repairs",
    SitePolicyName.PROGRAM: "As the program plans",
}
POLICY_NAMES = tuple(name.value for name in SitePolicyName)
QUESTIONS = 8


def simulate(
    engine: Engine,
    *,
    jobs: int,
    seed: int,
    policies: Sequence[str] = POLICY_NAMES,
    is_disturbed: bool = False,
    questions: int = QUESTIONS,
    costs: CostModel = DEFAULT_COSTS,
) -> Study:
    """Play jobs drawn from a network by several policies.

    Parameters
    ----------
    engine : Engine
        Its network is what the policies know.
    jobs : int
        At least 2.
    seed : int
        Same seed, same jobs.
    policies : sequence of str
        Names out of ``POLICY_NAMES``; the fixed sequence is always played.
    is_disturbed : bool
        Whether the machines come from wrong copies of the network, a new one for each job.
    questions : int
        Most questions on the phone.
    costs : CostModel
    """
    plan = Plan(
        jobs=jobs,
        seed=seed,
        policies=tuple(SitePolicyName(name) for name in policies),
        questions=questions,
        disturbance=Disturbance() if is_disturbed else None,
    )
    return study(engine.network, costs, plan)


def study_as_json(found: Study) -> dict[str, object]:
    """Study as plain values; keys are stable (docs/json.md)."""
    return {
        "solved_by_phone": _estimate_as_json(found.solved_by_phone),
        "policies": [_result_as_json(result) for result in found.results],
    }


def _result_as_json(result: PolicyResult) -> dict[str, object]:
    return {
        "policy": result.policy.value,
        "title": POLICY_WORDS[result.policy],
        "cost_minor": _estimate_as_json(result.cost_minor),
        "saved_minor": _estimate_as_json(result.saved_minor),
        "saved_share": _estimate_as_json(result.saved_share),
        "minutes_on_site": _estimate_as_json(result.minutes_on_site),
        "tests": _estimate_as_json(result.tests),
        "repairs": _estimate_as_json(result.repairs),
        "wrong_parts": _estimate_as_json(result.wrong_parts),
        "visits": _estimate_as_json(result.visits),
        "first_visit": _estimate_as_json(result.first_visit),
        "solved": _estimate_as_json(result.solved),
    }


def _estimate_as_json(estimate: Estimate) -> dict[str, float]:
    return {"value": estimate.value, "low": estimate.low, "high": estimate.high}
