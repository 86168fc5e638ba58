"""The branching visit plan as people read it: a checklist with exits.

The most probable result of a step leads on at the same depth; every other result is told first, one
level deeper, with all that follows it. So the plan reads from top to bottom like the visit that is
most likely, and a technician whom a result leads away finds what to do right below.

What is too rare to be spelt out step by step ends in a list: what to check and repair in which
order. So the plan says what to do whatever is found.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import Observation, Part, Repair
from triage.planning.parts.van import Van, visit_problem
from triage.planning.policy.bounds import CertifiedGap
from triage.planning.policy.screening import Screening
from triage.planning.policy.site import ActionKind
from triage.planning.policy.value import ValueTable
from triage.planning.policy.visit import PlanPolicy
from triage.planning.problem.arrays import Belief, after_repair_tried
from triage.planning.problem.preparations import PANEL, Setup
from triage.planning.problem.site import SiteProblem
from triage.planning.shop.costs import DEFAULT_COSTS, CostModel
from triage.planning.visit.certificate import certified_gap
from triage.planning.visit.tree import (
    STILL_BROKEN,
    WORKS,
    PlanNode,
    PlanTree,
    plan_tree,
    with_lists,
)
from triage.services.plan.lists import ListedRepair, ListTeller, ListTold, RepairCheck
from triage.services.plan.next_step import gap_as_json, gap_sentence
from triage.services.wording import percent

STEPS_MAX = 60  # spelt out: what one reads, prints and keeps on a phone
STEP_PROBABILITY_MIN = 0.005  # of the whole visit; what is rarer ends in a list
OTHER_RESULT = "any other result"
LINE_PROBABILITY_MIN = 0.002  # of the whole visit; rarer lines are left out
PLANS_KEPT = 128  # pages ask for the plan from the same evidence again and again


class LineKind(StrEnum):
    """What a line of the plan tells."""

    TEST = "test"
    REPAIR = "repair"
    STOP = "stop"
    LIST = "list"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLine:
    """One step of the plan.

    ``number`` counts from 1; ``depth`` is 0 on the trunk; ``came_by`` is the result that leads
    here and ``came_from`` the line it is a result of. ``sure`` is P(this is what is needed) of a
    repair, ``unheld_share`` P(it did not hold) if the machine is still not right after it; the
    lines below take it to have held. ``price_minor`` is the range of the visit if it ends with this
    repair alone.
    ``minutes`` hold ``setup_minutes`` to bring about what the step needs (``preparations``); those
    of a list are expected. ``results`` are all the results that lead here, in words. ``in_order``
    are the repairs of a list; its ``parts`` are those of any of them, its price that of a visit
    that ends with one of them.
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
    unheld_share: float = 0.0
    price_minor: tuple[int, int] | None = None
    setup_minutes: float = 0.0
    preparations: tuple[str, ...] = ()
    results: tuple[str, ...] = ()
    in_order: tuple[ListedRepair, ...] = ()


@dataclass(frozen=True, slots=True)
class BranchingPlan:
    """Lines in reading order; ``beyond`` is the probability of the lines left out.

    ``gap`` says how far the plan is from the best possible at most. ``listed`` is the probability
    that a list ends the visit, ``checks`` says how the lists check a repair.
    """

    lines: tuple[PlanLine, ...]
    beyond: float
    currency: str
    gap: CertifiedGap
    listed: float = 0.0
    checks: tuple[RepairCheck, ...] = ()

    @property
    def has_repairs(self) -> bool:
        """Whether a repair is among the lines, by itself or in a list."""
        return any(line.kind in (LineKind.REPAIR, LineKind.LIST) for line in self.lines)

    @property
    def gap_sentence(self) -> str:
        """How far the plan is from the best possible at most."""
        return gap_sentence(self.gap, self.currency)

    @property
    def beyond_sentence(self) -> str:
        """What the plan leaves open."""
        stepwise = max(0.0, 1.0 - self.listed - self.beyond)
        sentence = f"Step by step for {percent(stepwise)} of such visits"
        if self.listed:
            sentence += f"; for {percent(self.listed)} a list says the order"
        if self.beyond:
            sentence += f"; {percent(self.beyond)} are too rare to tell"
        return f"{sentence}. Enter each result: the next step shown knows all of them."


def branching_plan(
    engine: Engine,
    evidence: Evidence,
    costs: CostModel = DEFAULT_COSTS,
    *,
    van: Van | None = None,
    nodes_max: int = STEPS_MAX,
) -> BranchingPlan:
    """Plan of the visit: the likeliest steps spelt out, lists for the rest.

    Parameters
    ----------
    engine, evidence, costs
        What is known and what things cost.
    van : Van, optional
        What is aboard; every part for None.
    nodes_max : int
        Most steps spelt out.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    return _branching_plan(engine, evidence, costs, van, nodes_max)


@lru_cache(maxsize=PLANS_KEPT)
def _branching_plan(
    engine: Engine, evidence: Evidence, costs: CostModel, van: Van | None, nodes_max: int
) -> BranchingPlan:
    site = visit_problem(engine, evidence, costs, van)
    values = ValueTable(site.problem)
    spelt_out = plan_tree(
        PlanPolicy(site.problem, values),
        covered_share=1.0,
        nodes_max=nodes_max,
        step_share=STEP_PROBABILITY_MIN,
    )
    screening = Screening(values, site.problem.start())
    tree = with_lists(spelt_out, screening, STEP_PROBABILITY_MIN)
    teller = ListTeller(site, screening, costs)
    reader = _Reader(engine, site, costs, teller)
    lines = tuple(reader.lines(tree))
    return BranchingPlan(
        lines=lines,
        beyond=reader.left_out,
        currency=engine.network.currency,
        gap=certified_gap(site.problem, tree, values),
        listed=sum(line.probability for line in lines if line.kind is LineKind.LIST),
        checks=teller.checks(reader.told),
    )


_Results = tuple[str, tuple[str, ...]]  # what leads to a line, in words, and each result of it


class _Reader:
    """Turns a tree into lines."""

    def __init__(
        self, engine: Engine, site: SiteProblem, costs: CostModel, teller: ListTeller
    ) -> None:
        self.network = engine.network
        self.site = site
        self.costs = costs
        self.teller = teller
        self.count = 0
        self.left_out = 0.0
        self.told: list[ListTold] = []

    def lines(self, tree: PlanTree) -> Iterator[PlanLine]:
        """Lines of a whole tree."""
        return self._walk(tree.root, 0, None, ("", ()))

    def _walk(
        self, node: PlanNode, depth: int, came_from: int | None, by: _Results
    ) -> Iterator[PlanLine]:
        if node.is_solved:
            return
        if node.probability < LINE_PROBABILITY_MIN:
            self.left_out += node.probability
            return
        self.count += 1
        line = self._line(node, depth, came_from, by)
        yield line
        onward = sorted(node.branches.items(), key=lambda entry: entry[1].probability)
        onward = [(answer, then) for answer, then in onward if not then.is_solved]
        for place, (answer, then) in enumerate(onward, start=1):
            deeper = depth if place == len(onward) else depth + 1
            labels = tuple(self._label(node, one) for one in then.answers or (answer,))
            is_rest = len(labels) > 1 and len(onward) > 1
            came_by = OTHER_RESULT if is_rest and self._is_only(node) else " or ".join(labels)
            yield from self._walk(then, deeper, line.number, (came_by, labels))

    @staticmethod
    def _is_only(node: PlanNode) -> bool:
        """Whether no other branch of a node stands for several results."""
        return sum(len(branch.answers) > 1 for branch in node.branches.values()) == 1

    def _line(self, node: PlanNode, depth: int, came_from: int | None, by: _Results) -> PlanLine:
        bare = PlanLine(
            number=self.count,
            depth=depth,
            came_from=came_from,
            came_by=by[0],
            probability=node.probability,
            kind=LineKind.LIST,
            title="",
            sentence="",
            minutes=0.0,
            results=by[1],
        )
        if node.action is None:
            return self._list_line(node, bare)
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
        helped = float(node.belief.weights[helps].sum())
        return replace(
            bare,
            kind=LineKind.REPAIR,
            title=repair.title,
            sentence="Then run the machine through and check that the complaint is gone.",
            minutes=repair.minutes + self.costs.verification_minutes,
            repair=repair,
            cautions=tuple(self.network.cautions[name] for name in repair.cautions),
            parts=parts,
            sure=helped / node.belief.mass,
            unheld_share=self._unheld(node.belief, place, helped),
            price_minor=self._price(repair),
        )

    def _list_line(self, node: PlanNode, bare: PlanLine) -> PlanLine:
        assert node.ending is not None, "every open end of the plan has its list"
        told = self.teller.told(node.ending, node.probability)
        self.told.append(told)
        repairs = [one.repair for one in told.repairs]
        ids = dict.fromkeys(part for repair in repairs for part in repair.parts)
        prices = [self._price(repair) for repair in repairs]
        cautions = [*(c for one in told.repairs for test in one.checks for c in test.cautions)]
        cautions += [c for repair in repairs for c in repair.cautions]
        return replace(
            bare,
            title=told.title,
            sentence=told.sentence,
            minutes=told.minutes,
            parts=tuple(self.network.parts[part] for part in ids),
            price_minor=(min(low for low, _ in prices), max(high for _, high in prices)),
            cautions=tuple(self.network.cautions[name] for name in dict.fromkeys(cautions)),
            in_order=told.repairs,
        )

    def _unheld(self, belief: Belief, place: int, helped: float) -> float:
        """P(the repair did not hold | the machine is still not right after it)."""
        holds = float(self.site.holds[place])
        broken = after_repair_tried(self.site.problem, belief, place, holds).mass
        return (1.0 - holds) * helped / broken if broken > 0.0 else 0.0

    def _price(self, repair: Repair) -> tuple[int, int]:
        parts = tuple(self.network.parts[part] for part in repair.parts)
        low, high = (self.costs.price_minor(repair, parts, high=end) for end in (False, True))
        return low, high

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
                "unheld_share": line.unheld_share,
                "price_minor": list(line.price_minor) if line.price_minor else None,
                "in_order": [
                    {"repair": one.repair.id, "checks": [test.id for test in one.checks]}
                    for one in line.in_order
                ],
            }
            for line in plan.lines
        ],
        "listed": plan.listed,
        "checks": [
            {
                "repair": check.repair.id,
                "tests": [test.id for test in check.tests],
                "sentence": check.sentence,
            }
            for check in plan.checks
        ],
    }
