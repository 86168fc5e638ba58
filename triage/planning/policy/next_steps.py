"""The steps a technician may take now, and what each costs when the policy goes on from there.

The program names one step; the technician decides. So that overruling it is an informed choice,
the best other tests and repairs are valued the same way: the step, then the base policy for a set
number of beliefs, then at most one more test.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.inference.information import plogp
from triage.planning.policy.lookahead import TwoStep
from triage.planning.policy.site import Action, ActionKind
from triage.planning.policy.visit import (
    ROLLED,
    Basis,
    VisitPolicy,
    in_part,
    in_whole,
    rollout_cost,
)
from triage.planning.problem.arrays import (
    Belief,
    TroubleshootingProblem,
    answer_probabilities,
    focus,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

OPTIONS_MAX = 8


@dataclass(frozen=True, slots=True)
class StepOption:
    """A step; its cost from here on, per visit that comes here, and what that is above the best.

    ``gain_bits`` is what a test tells about the row; ``needed_share`` P(some need of the row is met
    by the repair). Both are 0 where they mean nothing.
    """

    action: Action
    cost_minor: float
    extra_minor: float
    gain_bits: float
    needed_share: float


@dataclass(frozen=True, slots=True)
class NextSteps:
    """Steps, the recommended one first, the others by cost; and how the first was found."""

    options: tuple[StepOption, ...]
    basis: Basis


def next_steps(policy: VisitPolicy, belief: Belief, options_max: int = OPTIONS_MAX) -> NextSteps:
    """Steps worth considering from a belief with some mass.

    Parameters
    ----------
    policy : VisitPolicy
    belief : Belief
        Of the policy's problem.
    options_max : int
        Most steps, the recommended one among them.
    """
    decision = policy.decision(belief)
    near = focus(policy.problem, belief, policy.ignored_share)
    here = near.belief(belief)
    ahead = TwoStep(near.problem, max(1, options_max // 2), values=policy.values.within(near))
    actions = list(ahead.candidates(here))
    wholes = [in_whole(near, action) for action in actions]
    if decision.action not in wholes:
        actions.append(in_part(near, decision.action))
        wholes.append(decision.action)
    nodes = max(1, policy.nodes_of_rollout // ROLLED)
    known = dict(decision.rolled)
    costs = [
        known[whole] if whole in known else rollout_cost(ahead, here, action, nodes) / here.mass
        for action, whole in zip(actions, wholes, strict=True)
    ]
    best = costs[wholes.index(decision.action)]
    order = sorted(
        range(len(wholes)), key=lambda k: (wholes[k] != decision.action, costs[k])
    )  # stable
    options = tuple(
        _option(policy, belief, wholes[place], costs[place], best) for place in order[:options_max]
    )
    return NextSteps(options, decision.basis)


def _option(
    policy: VisitPolicy, belief: Belief, action: Action, cost: float, best: float
) -> StepOption:
    gain, share = 0.0, 0.0
    if action.kind is ActionKind.TEST:
        tests = np.array([action.place], dtype=np.int64)
        gain = float(gains_bits(policy.problem, belief, tests)[0])
    elif action.kind is ActionKind.REPAIR:
        share = float(belief.weights @ policy.values.is_needed[:, action.place]) / belief.mass
    return StepOption(action, cost, max(0.0, cost - best), gain, share)


def gains_bits(problem: TroubleshootingProblem, belief: Belief, tests: IntArray) -> FloatArray:
    """Expected information gain of tests about the row, in bits, shape ``(T',)``."""
    weights = belief.weights / belief.mass
    answers = answer_probabilities(problem, belief, tests)  # (T', R, A)
    mean = np.einsum("r,tra->ta", weights, answers)
    noise = np.einsum("r,tra->t", weights, plogp(answers))
    return np.asarray(np.maximum(noise - plogp(mean).sum(axis=1), 0.0))
