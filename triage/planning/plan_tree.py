"""The visit plan as a branching tree: what to do, what each result means, where it leads.

The policy is expanded from the belief before the visit, the most probable open node first, until
the nodes not spelt out hold less than a set share of the probability. The rest is summarised:
"beyond here decide on site".
"""

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count

from triage.planning.problem import Belief, TroubleshootingProblem, after_repair_done, after_test
from triage.planning.site_policy import Action, ActionKind, Policy

COVERED_SHARE = 0.95
NODES_MAX = 150

WORKS = -1  # branch of a repair after which the machine works
STILL_BROKEN = -2


@dataclass(eq=False)
class PlanNode:
    """A step of the plan.

    ``probability`` of coming here; ``action`` None where the plan is not spelt out or the machine
    works. ``branches`` maps an answer of the test, or ``WORKS`` and ``STILL_BROKEN`` of a repair,
    to the node it leads to.
    """

    belief: Belief
    probability: float
    action: Action | None = None
    branches: dict[int, "PlanNode"] = field(default_factory=dict)

    @property
    def is_solved(self) -> bool:
        """Whether the machine works here."""
        return self.action is None and self.belief.mass == 0.0


@dataclass(frozen=True)
class PlanTree:
    """A policy spelt out: the ``root``, and the probability ``beyond`` the nodes spelt out."""

    root: PlanNode
    beyond: float

    def paths(self) -> Iterator[tuple[tuple[PlanNode, ...], PlanNode]]:
        """Every way through the plan: the steps taken, and the node where it ends."""
        stack: list[tuple[tuple[PlanNode, ...], PlanNode]] = [((), self.root)]
        while stack:
            steps, node = stack.pop()
            if node.action is None or not node.branches:
                yield steps, node
            else:
                onward = (*steps, node)
                stack.extend((onward, branch) for branch in reversed(node.branches.values()))


def plan_tree(
    policy: Policy, *, covered_share: float = COVERED_SHARE, nodes_max: int = NODES_MAX
) -> PlanTree:
    """Spell a policy out until at most ``1 - covered_share`` of the probability is left open.

    Parameters
    ----------
    policy : Policy
    covered_share : float
        Share of the probability that must end in nodes spelt out.
    nodes_max : int
        Most steps; the plan says what it leaves out.

    Returns
    -------
    PlanTree
        Deterministic; ties go to the node found first.
    """
    problem = policy.problem
    root = PlanNode(problem.start(), problem.start().mass)
    order = count()
    open_nodes = [(-root.probability, next(order), root)] if root.probability > 0.0 else []
    beyond, steps = root.probability, 0
    while open_nodes and beyond > 1.0 - covered_share and steps < nodes_max:
        _, _, node = heapq.heappop(open_nodes)
        node.action = policy.action(node.belief)
        node.branches = _branches(problem, node)
        beyond -= node.probability
        steps += 1
        for branch in node.branches.values():
            if branch.belief.mass > 0.0:
                beyond += branch.probability
                heapq.heappush(open_nodes, (-branch.probability, next(order), branch))
    return PlanTree(root, max(0.0, beyond))


def _branches(problem: TroubleshootingProblem, node: PlanNode) -> dict[int, PlanNode]:
    action, belief = node.action, node.belief
    if action is None or action.kind is ActionKind.STOP:
        return {}
    if action.kind is ActionKind.TEST:
        found = after_test(problem, belief, action.place)
        return {answer: PlanNode(then, then.mass) for answer, then in found}
    broken = after_repair_done(problem, belief, action.place)
    solved = Belief(0.0 * broken.weights, repaired=broken.repaired)
    branches = {WORKS: PlanNode(solved, node.probability - broken.mass)}
    if broken.mass > 0.0:
        branches[STILL_BROKEN] = PlanNode(broken, broken.mass)
    return branches
