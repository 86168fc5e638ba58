"""The visit plan as a branching tree: what to do, what each result means, where it leads.

The policy is expanded from the belief before the visit, the most probable open node first, until
the nodes not spelt out hold less than a set share of the probability. What is left open can end in
lists (``with_lists``): then the plan says what to do whatever is found.
"""

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import count

import numpy as np
from numpy.typing import NDArray

from triage.planning.policy.screening import Screening
from triage.planning.policy.site import STOP, Action, ActionKind, Policy
from triage.planning.problem.arrays import (
    Belief,
    TroubleshootingProblem,
    after_repair_done,
    after_repair_tried,
    after_test,
)
from triage.planning.visit.repair_lists import RepairList, repair_lists

FloatArray = NDArray[np.float64]

COVERED_SHARE = 0.95
NODES_MAX = 150

WORKS = -1  # branch of a repair after which the machine works
STILL_BROKEN = -2


@dataclass(eq=False)
class PlanNode:
    """A step of the plan.

    ``probability`` of coming here; ``action`` None where the plan is not spelt out or the machine
    works. ``branches`` maps an answer of the test, or ``WORKS`` and ``STILL_BROKEN`` of a repair,
    to the node it leads to. ``ending`` is the list that ends the plan here. Where several answers
    lead to the same list, the first of them stands in ``branches`` and all in ``answers``.
    """

    belief: Belief
    probability: float
    action: Action | None = None
    branches: dict[int, "PlanNode"] = field(default_factory=dict)
    ending: RepairList | None = None
    answers: tuple[int, ...] = ()

    @property
    def is_solved(self) -> bool:
        """Whether the machine works here."""
        return self.action is None and self.belief.mass == 0.0

    @property
    def is_open(self) -> bool:
        """Whether the plan does not say what to do here."""
        return self.action is None and self.ending is None and self.belief.mass > 0.0


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
    policy: Policy,
    *,
    covered_share: float = COVERED_SHARE,
    nodes_max: int = NODES_MAX,
    step_share: float = 0.0,
    start: Belief | None = None,
    holds: FloatArray | None = None,
) -> PlanTree:
    """Spell a policy out until at most ``1 - covered_share`` of the probability is left open.

    Parameters
    ----------
    policy : Policy
    covered_share : float
        Share of the probability that must end in nodes spelt out.
    nodes_max : int
        Most steps; the plan says what it leaves out.
    step_share : float
        Nodes less probable than this are not spelt out.
    start : Belief, optional
        Where the plan begins; else at the start of the problem.
    holds : FloatArray, optional
        P(it holds) of each repair, shape ``(Q,)``; every repair holds for None.

    Returns
    -------
    PlanTree
        Deterministic; ties go to the node found first.
    """
    problem = policy.problem
    start = problem.start() if start is None else start
    root = PlanNode(start, start.mass)
    order = count()
    open_nodes = [(-root.probability, next(order), root)] if root.probability > 0.0 else []
    beyond, steps = root.probability, 0
    while open_nodes and beyond > 1.0 - covered_share and steps < nodes_max:
        _, _, node = heapq.heappop(open_nodes)
        if node.probability < step_share:
            break
        node.action = policy.action(node.belief)
        node.branches = _branches(problem, node, holds)
        beyond -= node.probability
        steps += 1
        for branch in node.branches.values():
            if branch.belief.mass > 0.0:
                beyond += branch.probability
                heapq.heappush(open_nodes, (-branch.probability, next(order), branch))
    return PlanTree(root, max(0.0, beyond))


def with_lists(tree: PlanTree, screening: Screening, rare_share: float) -> PlanTree:
    """The same tree, every open end of it ended by a list.

    Answers of a test that lead to the same list become one. Answers less probable than
    ``rare_share`` get one list together, whichever of them is found.

    Parameters
    ----------
    tree : PlanTree
        Changed in place.
    screening : Screening
        Of the problem, from the root of the tree.
    rare_share : float
    """
    every = [
        tree.root,
        *(branch for node in _nodes(tree.root) for branch in _pooled(node, rare_share)),
    ]
    ends = [node for node in every if node.is_open]
    for node, ending in zip(ends, repair_lists(screening, [e.belief for e in ends]), strict=True):
        if ending.entries:
            node.ending = ending
        else:
            node.action = STOP
    for node in _nodes(tree.root):
        _merge(node)
    return PlanTree(tree.root, 0.0)


def _nodes(root: PlanNode) -> list[PlanNode]:
    found, place = [root], 0
    while place < len(found):
        found += found[place].branches.values()
        place += 1
    return found


def _pooled(node: PlanNode, rare_share: float) -> list[PlanNode]:
    """Branches of a node, its rare open ends put together."""
    rare = {a: b for a, b in node.branches.items() if b.is_open and b.probability < rare_share}
    if len(rare) > 1:
        _put_together(node, tuple(rare))
    return list(node.branches.values())


def _merge(node: PlanNode) -> None:
    """Put the branches of a node together that end in the same list, or in giving up."""
    groups: dict[object, list[int]] = {}
    for answer, branch in node.branches.items():
        if branch.ending is not None or branch.action == STOP:
            groups.setdefault(branch.ending and branch.ending.steps, []).append(answer)
    for answers in groups.values():
        if len(answers) > 1:
            _put_together(node, tuple(answers))


def _put_together(node: PlanNode, answers: tuple[int, ...]) -> None:
    """One branch in place of several; its list costs what theirs cost together."""
    parts = [node.branches[answer] for answer in answers]
    weights = sum((part.belief.weights for part in parts), start=0.0 * parts[0].belief.weights)
    whole = PlanNode(
        replace(parts[0].belief, weights=weights),
        sum(part.probability for part in parts),
        parts[0].action,
        ending=_sum_of([part.ending for part in parts if part.ending is not None]),
        answers=tuple(
            a for answer, p in zip(answers, parts, strict=True) for a in p.answers or (answer,)
        ),
    )
    node.branches = {
        answer: whole if answer == answers[0] else branch
        for answer, branch in node.branches.items()
        if answer not in answers[1:]
    }


def _sum_of(lists: list[RepairList]) -> RepairList | None:
    """Lists of the same steps as one."""
    if not lists:
        return None
    entries = tuple(
        replace(
            same[0],
            reached=tuple(sum(shares) for shares in zip(*(e.reached for e in same), strict=True)),
        )
        for same in zip(*(one.entries for one in lists), strict=True)
    )
    return RepairList(entries, lists[0].gives_up, sum(one.cost for one in lists))


def _branches(
    problem: TroubleshootingProblem, node: PlanNode, holds: FloatArray | None
) -> dict[int, PlanNode]:
    action, belief = node.action, node.belief
    if action is None or action.kind is ActionKind.STOP:
        return {}
    if action.kind is ActionKind.TEST:
        found = after_test(problem, belief, action.place)
        return {answer: PlanNode(then, then.mass) for answer, then in found}
    broken = after_repair_done(problem, belief, action.place)
    if holds is not None:
        broken = after_repair_tried(problem, belief, action.place, float(holds[action.place]))
    solved = Belief(0.0 * broken.weights, repaired=broken.repaired)
    branches = {WORKS: PlanNode(solved, node.probability - broken.mass)}
    if broken.mass > 0.0:
        branches[STILL_BROKEN] = PlanNode(broken, broken.mass)
    return branches
