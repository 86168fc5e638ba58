"""What to do next on site: value of information per cost, compared with repairing first.

    saving(t) = ECR(b) - sum over answers ECR(b, a)
    t*        = test of the largest saving per cost among those that save more than they cost
    r*        = first repair of the order by P(needed alone) per cost

The **base policy** looks one step further on just these two: with ``V1`` the best of repairing
without tests, and one test first,

    Q(t*) = cost(t*) + sum over answers V1(b, a)        Q(r*) = cost(r*) + V1(b after r*)

and takes the cheaper; giving up, where the problem allows it, is the third. **Rollout** takes the
action whose cost, followed by the base policy, is least: one exact step of policy improvement.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import (
    Belief,
    TroubleshootingProblem,
    after_repair_done,
    after_test,
    focus,
    repair_cost_from,
    test_costs_from,
)

FloatArray = NDArray[np.float64]

GAIN_TOLERANCE = 1e-9  # minor units; below this two actions cost the same


class ActionKind(StrEnum):
    """Kinds of steps of a plan."""

    TEST = "test"
    REPAIR = "repair"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Action:
    """A step: ``place`` is the test's or repair's position in the problem."""

    kind: ActionKind
    place: int = -1


STOP = Action(ActionKind.STOP)


class BasePolicy:
    """Value of information per cost with the repair-aware two-step check.

    Rows lighter than ``ignored_share`` of a belief are left out of its decision; 0 leaves out none.
    """

    def __init__(
        self,
        problem: TroubleshootingProblem,
        ignored_share: float = 0.0,
        values: ValueTable | None = None,
    ) -> None:
        self.problem = problem
        self.ignored_share = ignored_share
        self.values = values or ValueTable(problem)

    def action(self, belief: Belief) -> Action:
        """Best step from a belief with some mass; ties go to repairing."""
        if self.ignored_share == 0.0:
            return self._action(belief)
        near = focus(self.problem, belief, self.ignored_share)
        action = BasePolicy(near.problem, values=self.values.within(near))._action(
            near.belief(belief)
        )
        if action.kind is ActionKind.REPAIR:
            return Action(ActionKind.REPAIR, int(near.repairs[action.place]))
        return action

    def _action(self, belief: Belief) -> Action:
        expected = self.values.cost_of(belief)
        test = self.best_test(belief, expected)
        repair = self.values.best_repair(belief)
        options = [Action(ActionKind.REPAIR, repair)]
        options += [Action(ActionKind.TEST, test)] if test is not None else []
        options += [STOP] if np.isfinite(self.problem.stop_cost) else []
        return options[int(np.argmin(self.step_values(belief, options)))]

    def best_test(self, belief: Belief, expected: float) -> int | None:
        """Test that saves most per cost among those worth their cost; None if there is none."""
        tests = belief.open_tests(self.problem)
        if len(tests) == 0:
            return None
        cost = test_costs_from(self.problem, belief, tests) * belief.mass
        net = expected - self.values.test_costs(belief, tests)
        worth = net > GAIN_TOLERANCE * belief.mass
        if not worth.any():
            return None
        ratio = np.where(worth, (net + cost) / cost, -np.inf)
        return int(tests[np.argmax(ratio)])

    def one_test_value(self, belief: Belief) -> float:
        """Cost with at most one more test, weighed by the mass of the belief."""
        return float(self.one_test_values([belief])[0])

    def one_test_values(self, beliefs: Sequence[Belief]) -> FloatArray:
        """The same of several beliefs at once, shape ``(B,)``."""
        found = np.zeros(len(beliefs))
        groups: dict[frozenset[int], list[int]] = {}
        for place, belief in enumerate(beliefs):
            if belief.mass > 0.0:
                groups.setdefault(belief.opened, []).append(place)
        for opened, places in groups.items():
            weights = np.stack([beliefs[place].weights for place in places])
            bare = self.values.expected_cost(weights, opened)
            asked = [(beliefs[place], beliefs[place].open_tests(self.problem)) for place in places]
            tested = self.values.test_costs_of(asked)
            least = [costs.min(initial=np.inf) for costs in tested]
            found[places] = np.minimum(bare, least)
        return found

    def step_values(self, belief: Belief, actions: Sequence[Action]) -> FloatArray:
        """Cost of each action, then at most one more test; weighed by the mass, shape ``(N,)``."""
        steps = [outcome(self.problem, belief, action) for action in actions]
        onward = self.one_test_values([then for _, branches in steps for then in branches])
        ends = np.cumsum([len(branches) for _, branches in steps])
        sums = [float(part.sum()) for part in np.split(onward, ends[:-1])]
        return np.array([cost for cost, _ in steps]) + sums


class Rollout:
    """One step of policy improvement over the base policy, evaluated exactly.

    Branches less probable than ``ignored_mass`` are valued by one test ahead; 0 ignores none.
    """

    def __init__(self, base: BasePolicy, ignored_mass: float = 0.0) -> None:
        self.base = base
        self.problem = base.problem
        self.ignored_mass = ignored_mass

    def action(self, belief: Belief) -> Action:
        """Action whose cost, followed by the base policy, is least; ties go to the base policy."""
        favourite = self.base.action(belief)
        best, best_cost = favourite, self.cost_of(belief, favourite)
        for action in self._candidates(belief):
            if action != favourite:
                cost = self.cost_of(belief, action)
                if cost < best_cost - GAIN_TOLERANCE * belief.mass:
                    best, best_cost = action, cost
        return best

    def cost_of(self, belief: Belief, action: Action) -> float:
        """Cost of an action followed by the base policy, weighed by the mass of the belief."""
        return step_cost(self.problem, belief, action, self.base_cost)

    def base_cost(self, belief: Belief) -> float:
        """Cost of following the base policy from a belief."""
        return policy_cost(self.base, belief, self.ignored_mass)

    def _candidates(self, belief: Belief) -> list[Action]:
        tests = [Action(ActionKind.TEST, int(test)) for test in belief.open_tests(self.problem)]
        needed = belief.weights @ self.base.values.is_needed
        repairs = [Action(ActionKind.REPAIR, int(place)) for place in np.flatnonzero(needed)]
        stop = [STOP] if np.isfinite(self.problem.stop_cost) else []
        return [*repairs, *tests, *stop]


class Policy(Protocol):
    """Anything that names the next step from a belief."""

    problem: TroubleshootingProblem

    def action(self, belief: Belief) -> Action:
        """Next step."""
        ...


def outcome(
    problem: TroubleshootingProblem, belief: Belief, action: Action
) -> tuple[float, tuple[Belief, ...]]:
    """Cost of an action, weighed by the mass of the belief, and the beliefs it may lead to."""
    if action.kind is ActionKind.STOP:
        return belief.mass * problem.stop_cost, ()
    if action.kind is ActionKind.TEST:
        cost = belief.mass * float(test_costs_from(problem, belief, [action.place])[0])
        return cost, tuple(then for _, then in after_test(problem, belief, action.place))
    cost = belief.mass * repair_cost_from(problem, belief, action.place)
    then = after_repair_done(problem, belief, action.place)
    return cost, (then,) if then.mass > 0.0 else ()


def step_cost(
    problem: TroubleshootingProblem,
    belief: Belief,
    action: Action,
    onward: Callable[[Belief], float],
) -> float:
    """Cost of one action and of what follows, weighed by the mass of the belief."""
    cost, branches = outcome(problem, belief, action)
    return cost + sum(onward(branch) for branch in branches)


def policy_cost(policy: Policy, belief: Belief, ignored_mass: float = 0.0) -> float:
    """Expected cost of following a policy to the end, by expanding its whole tree.

    Branches less probable than ``ignored_mass`` count as repairs without further tests.
    """
    if belief.mass == 0.0:
        return 0.0
    if belief.mass < ignored_mass:
        return ValueTable(policy.problem).cost_of(belief)
    action = policy.action(belief)
    return step_cost(
        policy.problem, belief, action, lambda then: policy_cost(policy, then, ignored_mass)
    )
