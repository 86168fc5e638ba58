"""Where a job stands in its printed plan: at a step of it, or off it.

The plan is printed in the morning, from what the phone brought. On site its steps may be taken in
any order that the tree allows; a result that it does not spell out, or a step that it does not
have here, leads off it. Nothing is lost by that: the next step is computed from all that is known.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from triage.inference.evidence import DONT_KNOW
from triage.network.values import COULD_NOT_BE_RUN, FaultNetwork, Observation
from triage.services.call_log.events import FindingMade
from triage.services.job.events import RepairDone, Verified
from triage.services.plan.branching import BranchingPlan, PlanLine
from triage.services.wording import answer_label

STILL_BROKEN = "still not right"  # label of that branch in a branching plan


@dataclass(frozen=True, slots=True)
class PlanPlace:
    """Place in a plan: the ``line`` to do now, or None with what led off it in ``left_by``."""

    line: PlanLine | None
    left_by: str = ""

    @property
    def is_off(self) -> bool:
        """Whether the job has left the plan."""
        return bool(self.left_by)


def place_in_plan(
    plan: BranchingPlan, done: Sequence[FindingMade | RepairDone], network: FaultNetwork
) -> PlanPlace:
    """Follow what was done on site through the plan.

    Parameters
    ----------
    plan : BranchingPlan
        As it was printed.
    done : sequence of FindingMade or RepairDone
        What was found and repaired since, in order.
    network : FaultNetwork
    """
    if not plan.lines:
        return PlanPlace(None)
    place = plan.lines[0]
    for event in done:
        step, title, label = _told(event, network)
        if label is None:
            continue  # it says nothing of the machine, so the step is still open
        line = next((one for one in _from(plan, place) if _step_of(one) == step), None)
        if line is None:
            return PlanPlace(None, title)
        if label == "":
            return PlanPlace(None)  # the repair worked
        onward = next(
            (o for o in plan.lines if o.came_from == line.number and label in o.results), None
        )
        if onward is None:
            return PlanPlace(None, title)
        place = onward
    return PlanPlace(place)


def result_label(observation: Observation, answer: str | float) -> str:
    """Answer as a plan names it; a reading is inside or outside of its range."""
    if isinstance(answer, str) or observation.reading is None:
        return answer_label(observation, answer)
    low, high = observation.reading.accept
    inside, outside = list(observation.answers.values())[:2]
    return inside if low <= answer <= high else outside


def _told(event: FindingMade | RepairDone, network: FaultNetwork) -> tuple[str, str, str | None]:
    """Step, its title with the result, and the label of the result; None if it tells nothing."""
    if isinstance(event, RepairDone):
        title = network.repairs[event.repair].title if event.repair in network.repairs else ""
        label = "" if event.verified is Verified.WORKS else STILL_BROKEN
        return event.repair, title, None if event.verified is Verified.NOT_RUN else label
    observation = network.observations.get(event.observation)
    if observation is None:
        return event.observation, event.observation, None
    label = result_label(observation, event.answer)
    title = f"{observation.title}: {answer_label(observation, event.answer)}"
    is_nothing = event.answer in (DONT_KNOW, COULD_NOT_BE_RUN)
    tells = not is_nothing or event.answer in observation.answers
    return observation.id, title, label if tells else None


def _step_of(line: PlanLine) -> str:
    if line.test is not None:
        return line.test.id
    return line.repair.id if line.repair is not None else ""


def _from(plan: BranchingPlan, place: PlanLine) -> Iterator[PlanLine]:
    """Line itself, then the lines below it, in reading order."""
    below = {place.number}
    for line in plan.lines:
        if line.number == place.number or line.came_from in below:
            below.add(line.number)
            yield line
