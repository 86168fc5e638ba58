"""Ways to end a call, and what each is expected to cost shop and customer.

Every way is valued on the same belief: what is done first changes the belief and costs something,
and then comes the visit, at its trip and at what its plan costs at most (``plan_value``): the steps
of the visit policy, the likeliest spelt out, with a simple plan from each end.

=======================  ======================================================================
visit                    trip, carrying of what is taken along, then the visit
visit, van as it is      the same without what would be taken along; for comparison only
solve by phone           minutes of the caller's steps, then the visit for what they left
say it is normal         a wrong "no fault", where something has failed, then the visit
refer out                another trade comes first, in vain where it is not theirs, then we do
not worth repairing      what leaving the machine unrepaired costs, without a visit
=======================  ======================================================================
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from triage.inference.engine import Engine
from triage.network.values import ComponentKind, NetworkIndex, Repair, RepairBy
from triage.planning.parts.van import with_van
from triage.planning.policy.site import Action
from triage.planning.problem.arrays import Belief, after_repair_done
from triage.planning.problem.site import SiteProblem
from triage.planning.shop.costs import CostModel
from triage.planning.visit.value import PlanValue

FloatArray = NDArray[np.float64]

SOLVED_SHARE_MIN = 0.5  # steps that solve it less often come first, but the ending is the visit
NO_FAULT_SHARE_MIN = 0.5  # nobody is told that a machine is sound that has probably failed
EXPLAIN_MINUTES = 3.0  # to tell a caller what the machine does by design (judged)


class OutcomeKind(StrEnum):
    """How a call ends; ``VISIT_VAN_AS_IS`` is for comparison only and never recommended."""

    SOLVE_BY_PHONE = "solve_by_phone"
    SAY_NO_FAULT = "say_no_fault"
    VISIT = "visit"
    VISIT_VAN_AS_IS = "visit_van_as_is"
    VISIT_NOT_WORTH_REPAIRING = "visit_not_worth_repairing"
    REFER_OUT = "refer_out"


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to end the call with its expected cost to shop and customer, minor units.

    ``share`` is the probability behind it: solved by the steps, nothing failed, work of another
    trade; 1 where there is none.
    """

    kind: OutcomeKind
    expected_cost_minor: int
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """Recommended ending; ``share`` is the probability behind it (solved, referred, too dear)."""

    kind: OutcomeKind
    share: float
    alternatives: tuple[Alternative, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitChoice:
    """What the endings are about: the visit with every part at hand, and the van.

    ``ready`` holds P(a piece that fits is aboard) by part, with what is taken along, and
    ``ready_as_is`` without; ``carrying_minor`` is what taking it along costs. ``first`` is the step
    with which the visit begins, None where nothing can be wrong.
    """

    engine: Engine
    site: SiteProblem
    costs: CostModel
    ready: Mapping[str, float]
    ready_as_is: Mapping[str, float]
    carrying_minor: float
    first: Action | None = None


def outcome_of_call(choice: VisitChoice, steps: Sequence[Repair], too_dear: float) -> Outcome:
    """Compare the endings by expected cost, cheapest first.

    Parameters
    ----------
    choice : VisitChoice
    steps : sequence of Repair
        What the caller can try, in this order.
    too_dear : float
        P(the repair is too dear) where the rules agree on a new machine, else 0. A visit is then
        recommended with the advice not to repair.
    """
    found = sorted(
        _Endings(choice).every(steps), key=lambda entry: (entry.expected_cost_minor, entry.kind)
    )
    best = next(entry for entry in found if _may_be_advised(entry))
    if best.kind is OutcomeKind.VISIT and too_dear > 0.0:
        return Outcome(OutcomeKind.VISIT_NOT_WORTH_REPAIRING, too_dear, tuple(found))
    return Outcome(best.kind, best.share, tuple(found))


def no_fault_rows(site: SiteProblem, index: NetworkIndex) -> FloatArray:
    """1 for the rows of a visit in which nothing has failed, else 0; shape ``(R,)``."""
    return np.array(
        [
            float(all(index.component_of[m].kind is ComponentKind.NOTHING_FAILED for m in modes))
            for modes in site.modes
        ]
    )


def _may_be_advised(entry: Alternative) -> bool:
    least = {
        OutcomeKind.SOLVE_BY_PHONE: SOLVED_SHARE_MIN,
        OutcomeKind.SAY_NO_FAULT: NO_FAULT_SHARE_MIN,
        OutcomeKind.VISIT_VAN_AS_IS: np.inf,
    }
    return entry.share >= least.get(entry.kind, 0.0)


class _Endings:
    """Values the endings of one call."""

    def __init__(self, choice: VisitChoice) -> None:
        self.choice, self.costs = choice, choice.costs
        self.wrong = 1.0 - choice.site.well_share
        return_trip = self.costs.return_trip_minor
        self.loaded = PlanValue(with_van(choice.site, choice.ready, return_trip).problem)
        self.as_is = PlanValue(with_van(choice.site, choice.ready_as_is, return_trip).problem)
        self.start = choice.site.problem.start()
        self.place = {repair.id: k for k, repair in enumerate(choice.site.repairs)}

    def every(self, steps: Sequence[Repair]) -> Iterator[Alternative]:
        """Every ending there is for this call."""
        costs, choice = self.costs, self.choice
        visit = costs.trip_minor + self.wrong * self.loaded.cost(self.start, choice.first)
        yield Alternative(OutcomeKind.VISIT, round(visit + choice.carrying_minor))
        if choice.ready != choice.ready_as_is:
            bare = costs.trip_minor + self.wrong * self.as_is.cost(self.start)
            yield Alternative(OutcomeKind.VISIT_VAN_AS_IS, round(bare))
        if steps:
            yield self._solved_by_phone(steps)
        yield from self._no_fault()
        yield from self._referred()
        unrepaired = round(costs.unrepaired_minor)
        yield Alternative(OutcomeKind.VISIT_NOT_WORTH_REPAIRING, unrepaired)

    def _visit(self, belief: Belief) -> float:
        """Cost of a visit for what is left, weighed by the probability that it has to be made."""
        going = self.costs.trip_minor + self.choice.carrying_minor
        return self.wrong * (belief.mass * going + self.loaded.cost(belief))

    def _solved_by_phone(self, steps: Sequence[Repair]) -> Alternative:
        belief, minutes = self.start, 0.0
        for step in steps:
            minutes += belief.mass * step.minutes
            belief = self._after(belief, step)
        cost = self.costs.on_phone_minor(minutes) + self._visit(belief)
        share = 1.0 - belief.mass / self.start.mass
        return Alternative(OutcomeKind.SOLVE_BY_PHONE, round(cost), share)

    def _no_fault(self) -> Iterator[Alternative]:
        """Telling the caller that nothing has failed; where it has, they call again."""
        site = self.choice.site
        sound = no_fault_rows(site, self.choice.engine.compiled.index)
        if not (site.problem.weights * sound).any():
            return
        failed = replace(self.start, weights=self.start.weights * (1.0 - sound))
        wrong = self.wrong * failed.mass * self.costs.wrong_no_fault_minor
        cost = self.costs.on_phone_minor(EXPLAIN_MINUTES) + wrong + self._visit(failed)
        share = 1.0 - self.wrong * failed.mass
        yield Alternative(OutcomeKind.SAY_NO_FAULT, round(cost), share)

    def _referred(self) -> Iterator[Alternative]:
        """Another trade goes first; its visit costs what a visit is sold for."""
        site, belief = self.choice.site, self.start
        theirs = [repair for repair in site.repairs if repair.by is RepairBy.LICENSED_TRADE]
        for repair in theirs:
            belief = self._after(belief, repair)
        share = self.start.mass - belief.mass
        if share > 0.0:
            in_vain = self.wrong * belief.mass * self.costs.service_fee_minor
            cost = in_vain + self._visit(belief)
            yield Alternative(OutcomeKind.REFER_OUT, round(cost), share)

    def _after(self, belief: Belief, repair: Repair) -> Belief:
        """Belief after a step that works with its success rate and is seen to work or not."""
        done = after_repair_done(self.choice.site.problem, belief, self.place[repair.id])
        kept = repair.success * done.weights + (1.0 - repair.success) * belief.weights
        return replace(belief, weights=kept)
