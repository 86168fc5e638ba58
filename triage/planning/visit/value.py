"""What a visit is expected to cost from a belief: the one number that pages and endings share.

A plan is spelt out for a few steps, the likeliest first: its first step as given, then the visit
policy two steps ahead; its open ends count as the best simple plan (``certificate``). So the number
is what a plan costs at most, and the same wherever the same visit is asked about.
"""

from dataclasses import dataclass

from triage.planning.policy.bounds import CertifiedGap
from triage.planning.policy.site import Action
from triage.planning.policy.value import ValueTable
from triage.planning.policy.visit import VisitPolicy
from triage.planning.problem.arrays import Belief, TroubleshootingProblem
from triage.planning.visit.certificate import lower_bound, plan_cost_at_most
from triage.planning.visit.tree import plan_tree

NODES_MAX = 10  # steps spelt out


class PlanValue:
    """Values beliefs of one problem."""

    def __init__(
        self,
        problem: TroubleshootingProblem,
        values: ValueTable | None = None,
        *,
        nodes_max: int = NODES_MAX,
    ) -> None:
        self.nodes_max = nodes_max
        self.problem = problem
        self.values = values or ValueTable(problem)
        self.policy = VisitPolicy(problem, nodes_of_proof=0, nodes_of_rollout=0, values=self.values)

    def cost(self, start: Belief, first: Action | None = None) -> float:
        """Cost of a plan at most, begun by ``first``; weighed by the mass of the belief."""
        if start.mass == 0.0:
            return 0.0
        begun = _Begun(self.problem, self.policy, start, first)
        tree = plan_tree(begun, nodes_max=self.nodes_max, start=start)
        return plan_cost_at_most(self.problem, tree, self.values)

    def gap(self, start: Belief, first: Action) -> CertifiedGap:
        """Cost of a plan at most that begins with a step, and of every plan at least."""
        upper = self.cost(start, first)
        lower = lower_bound(self.problem, start, self.values)
        return CertifiedGap(upper_minor=upper, lower_minor=min(lower, upper))


@dataclass(eq=False)
class _Begun:
    """A policy with its first step given."""

    problem: TroubleshootingProblem
    then: VisitPolicy
    start: Belief
    first: Action | None

    def action(self, belief: Belief) -> Action:
        """Next step."""
        if self.first is not None and belief is self.start:
            return self.first
        return self.then.action(belief)
