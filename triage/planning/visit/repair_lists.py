"""Lists that end a plan: what to check and repair in which order, and where to give up.

A plan cannot spell out thousands of rare results. A list says in a line what is done there
instead: repairs in the order of P(needed alone) per cost without tests (``value``), or each repair
only after its own check speaks for it (``screening``), whichever is cheaper. So a plan whose open
ends are lists is stated to its last step, and what it costs is known exactly.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.planning.policy.screening import Screening, Walk
from triage.planning.policy.site import GAIN_TOLERANCE
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import Belief, after_repair_done

FloatArray = NDArray[np.float64]

BLOCK = 64  # beliefs valued at once
CHECKED_MAX = 8  # entries with checks in a list: more nobody reads


@dataclass(frozen=True, slots=True)
class ListEntry:
    """A repair of a list, after the tests ``looks`` if they speak for it; untested without any.

    ``reached`` is the probability of coming to each of the tests, and last to the repair.
    """

    repair: int
    looks: tuple[int, ...]
    reached: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RepairList:
    """Entries in their order; what they leave is given up, or nothing is left.

    ``cost`` is weighed by the probability of coming to the list.
    """

    entries: tuple[ListEntry, ...]
    gives_up: bool
    cost: float

    @property
    def steps(self) -> tuple[tuple[tuple[int, tuple[int, ...]], ...], bool]:
        """What is done, without how probable it is: lists that tell the same are equal in it."""
        return tuple((entry.repair, entry.looks) for entry in self.entries), self.gives_up


def repair_lists(screening: Screening, beliefs: Sequence[Belief]) -> list[RepairList]:
    """Cheapest list of each belief; all are the belief of the screening or follow from it."""
    found: list[RepairList] = []
    for first in range(0, len(beliefs), BLOCK):
        block = beliefs[first : first + BLOCK]
        walk = screening.walk(block, CHECKED_MAX)
        for place, belief in enumerate(block):
            bare = untested_list(screening.values, belief)
            checked = _checked_cost(walk, place)
            is_cheaper = checked < bare.cost - GAIN_TOLERANCE * belief.mass
            found.append(_checked_list(screening, walk, place, belief) if is_cheaper else bare)
    return found


def untested_list(values: ValueTable, belief: Belief) -> RepairList:
    """Repairs without tests, up to the point where giving up is cheaper."""
    problem = values.problem
    order, gives_up = values.repairs_until(belief)
    cost = values.cost_of(belief)
    entries = []
    for repair in order.tolist():
        if belief.mass == 0.0:
            break
        entries.append(ListEntry(repair, (), (belief.mass,)))
        belief = after_repair_done(problem, belief, repair)
    return RepairList(tuple(entries), gives_up and belief.mass > 0.0, cost)


def _checked_cost(walk: Walk, place: int) -> float:
    return float(min(walk.given_up[place].min(initial=np.inf), walk.to_the_end[place]))


def _checked_list(screening: Screening, walk: Walk, place: int, belief: Belief) -> RepairList:
    """The list of a walk, cut where giving up is cheapest."""
    cost = _checked_cost(walk, place)
    gives_up = bool(walk.given_up[place].min(initial=np.inf) <= walk.to_the_end[place])
    length = int(np.argmin(walk.given_up[place])) if gives_up else walk.order.shape[1]
    entries = [_entry(screening, walk, place, number) for number in range(length)]
    if gives_up:
        return RepairList(tuple(entries), gives_up, cost)
    left = replace(belief, weights=walk.left[place], opened=screening.belief.opened)
    rest = untested_list(screening.values, left)
    return RepairList((*entries, *rest.entries), rest.gives_up, cost)


def _entry(screening: Screening, walk: Walk, place: int, number: int) -> ListEntry:
    repair = int(walk.order[place, number])
    made = walk.made[place, number]
    looks = zip(screening.looks, made, strict=True)
    reached = walk.reached[place, number][np.append(made, True)]
    return ListEntry(
        repair,
        tuple(int(look.test[repair]) for look, is_made in looks if is_made),
        tuple(reached.tolist()),
    )
