"""The branching visit plan as people read it: a checklist with exits.

The most probable result of a step leads on at the same depth; every other result is told first, one
level deeper, with all that follows it. So the plan reads from top to bottom like the visit that is
most likely, and a technician whom a result leads away finds what to do right below.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import Observation, Part, Repair
from triage.planning.bounds import CertifiedGap
from triage.planning.certificate import certified_gap
from triage.planning.costs import DEFAULT_COSTS, CostModel
from triage.planning.plan_tree import STILL_BROKEN, WORKS, PlanNode, PlanTree, plan_tree
from triage.planning.preparations import PANEL, Setup
from triage.planning.problem import Belief
from triage.planning.site_policy import ActionKind
from triage.planning.site_problem import SiteProblem, site_problem
from triage.planning.value import ValueTable
from triage.planning.visit_policy import PlanPolicy
from triage.services.next_step import gap_as_json, gap_sentence
from triage.services.wording import percent

LINE_PROBABILITY_MIN = 0.004  # of the whole visit; rarer branches are summarised


class LineKind(StrEnum):
    """What a line of the plan tells."""

    TEST = "test"
    REPAIR = "repair"
    STOP = "stop"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLine:
    """One step of the plan.

    ``number`` counts from 1; ``depth`` is 0 on the trunk; ``came_by`` is the result that leads
    here and ``came_from`` the line it is a result of. ``sure`` is P(this is what is needed) of a
    repair. ``price_minor`` is the range of the whole visit if it ends with this repair alone.
    ``minutes`` hold ``setup_minutes`` to bring about what the step needs (``preparations``).
    """

    number: int
    depth: int
    came_from: int | None
    came_by: str
    probability: float
    kind: LineKind
    title: str
    sentence: str
    minutes: float
    test: Observation | None = None
    repair: Repair | None = None
    preconditions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    sure: float = 0.0
    price_minor: tuple[int, int] | None = None
    setup_minutes: float = 0.0
    preparations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BranchingPlan:
    """Lines in reading order; ``beyond`` is the probability not spelt out.

    ``gap`` says how far the plan is from the best possible at most.
    """

    lines: tuple[PlanLine, ...]
    beyond: float
    currency: str
    gap: CertifiedGap

    @property
    def gap_sentence(self) -> str:
        """How far the plan is from the best possible at most."""
        return gap_sentence(self.gap, self.currency)

    @property
    def beyond_sentence(self) -> str:
        """What the plan leaves open."""
        return (
            f"Spelt out for {percent(1.0 - self.beyond)} of such visits; "
            "beyond that enter each result and take the next step shown."
        )


def branching_plan(
    engine: Engine,
    evidence: Evidence,
    costs: CostModel = DEFAULT_COSTS,
    *,
    covered_share: float = 0.95,
    nodes_max: int = 150,
) -> BranchingPlan:
    """Plan of the visit, spelt out to at least ``covered_share`` of the probability.

    Parameters
    ----------
    engine, evidence, costs
        What is known and what things cost.
    covered_share : float
        Share of visits the lines should cover.
    nodes_max : int
        Most steps spelt out; the plan says what is left.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    site = site_problem(engine, evidence, costs)
    values = ValueTable(site.problem)
    tree = plan_tree(
        PlanPolicy(site.problem, values), covered_share=covered_share, nodes_max=nodes_max
    )
    lines = tuple(_Reader(engine, site, costs).lines(tree))
    gap = certified_gap(site.problem, tree, values)
    return BranchingPlan(lines, tree.beyond, engine.network.currency, gap)


class _Reader:
    """Turns a tree into lines."""

    def __init__(self, engine: Engine, site: SiteProblem, costs: CostModel) -> None:
        self.network = engine.network
        self.site = site
        self.costs = costs
        self.count = 0

    def lines(self, tree: PlanTree) -> Iterator[PlanLine]:
        """Lines of a whole tree."""
        return self._walk(tree.root, 0, None, "")

    def _walk(
        self, node: PlanNode, depth: int, came_from: int | None, came_by: str
    ) -> Iterator[PlanLine]:
        if node.is_solved or node.probability < LINE_PROBABILITY_MIN:
            return
        self.count += 1
        line = self._line(node, depth, came_from, came_by)
        yield line
        onward = sorted(node.branches.items(), key=lambda entry: entry[1].probability)
        onward = [(answer, then) for answer, then in onward if not then.is_solved]
        for place, (answer, then) in enumerate(onward, start=1):
            deeper = depth if place == len(onward) else depth + 1
            yield from self._walk(then, deeper, line.number, self._label(node, answer))

    def _line(self, node: PlanNode, depth: int, came_from: int | None, came_by: str) -> PlanLine:
        bare = PlanLine(
            number=self.count,
            depth=depth,
            came_from=came_from,
            came_by=came_by,
            probability=node.probability,
            kind=LineKind.OPEN,
            title="Decide on site",
            sentence="Not spelt out: enter the results so far and take the step shown.",
            minutes=0.0,
        )
        if node.action is None:
            return bare
        if node.action.kind is ActionKind.STOP:
            return replace(
                bare,
                kind=LineKind.STOP,
                title="Stop and talk to the customer",
                sentence="Going on would cost more than the machine is worth, or needs the owner.",
            )
        if node.action.kind is ActionKind.TEST:
            return self._test_line(node.belief, self.site.tests[node.action.place], bare)
        return self._repair_line(node, node.action.place, bare)

    def _test_line(self, belief: Belief, test: Observation, bare: PlanLine) -> PlanLine:
        setup = Setup(self.site.setup.facets, belief.setup, PANEL in belief.opened)
        preparation = setup.preparation(test)
        return replace(
            bare,
            kind=LineKind.TEST,
            title=test.title,
            sentence=test.wording,
            minutes=setup.minutes(test),
            setup_minutes=preparation.minutes,
            preparations=preparation.steps,
            test=test,
            preconditions=tuple(self.network.preconditions[name] for name in test.preconditions),
            cautions=tuple(self.network.cautions[name] for name in test.cautions),
        )

    def _repair_line(self, node: PlanNode, place: int, bare: PlanLine) -> PlanLine:
        repair = self.site.repairs[place]
        parts = tuple(self.network.parts[part] for part in repair.parts)
        helps = (self.site.problem.needs == place).any(axis=(1, 2))
        sure = float(node.belief.weights[helps].sum() / node.belief.mass)
        low, high = (self.costs.price_minor(repair, parts, high=end) for end in (False, True))
        return replace(
            bare,
            kind=LineKind.REPAIR,
            title=repair.title,
            sentence="Then run the machine through and check that the complaint is gone.",
            minutes=repair.minutes + self.costs.verification_minutes,
            repair=repair,
            cautions=tuple(self.network.cautions[name] for name in repair.cautions),
            parts=parts,
            sure=sure,
            price_minor=(low, high),
        )

    def _label(self, node: PlanNode, answer: int) -> str:
        if answer == STILL_BROKEN:
            return "still not right"
        if answer == WORKS or node.action is None:
            return "works"
        return list(self.site.tests[node.action.place].answers.values())[answer]


def branching_plan_as_json(plan: BranchingPlan) -> dict[str, object]:
    """Plan as plain values; keys are stable (docs/json.md)."""
    return {
        "beyond": plan.beyond,
        "currency": plan.currency,
        "gap": gap_as_json(plan.gap),
        "steps": [
            {
                "number": line.number,
                "depth": line.depth,
                "came_from": line.came_from,
                "came_by": line.came_by,
                "probability": line.probability,
                "kind": line.kind.value,
                "title": line.title,
                "observation": line.test.id if line.test else None,
                "repair": line.repair.id if line.repair else None,
                "parts": [part.id for part in line.parts],
                "minutes": line.minutes,
                "setup_minutes": line.setup_minutes,
                "preparations": list(line.preparations),
                "sure": line.sure,
                "price_minor": list(line.price_minor) if line.price_minor else None,
            }
            for line in plan.lines
        ],
    }
