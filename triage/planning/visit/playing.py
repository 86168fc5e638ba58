"""Visits played on from where a plan is not spelt out, by the policy that is followed on site.

A plan spells out what is likely; what is rare has thousands of ways to go on. So some visits stand
for all of them: drawn evenly from the hypotheses left, in proportion to their weight, each with its
own answers and its own luck with repairs. Those to whom the same has happened share one decision.

Answers and repairs go as in ``after_test`` and ``after_repair_tried``. The same plan gives the same
visits.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.planning.policy.site import Action, ActionKind, Policy
from triage.planning.problem.arrays import (
    SOLVED,
    Belief,
    TroubleshootingProblem,
    after_repair_tried,
    after_test,
    answer_probabilities,
)

FloatArray = NDArray[np.float64]

SEED = 7
STEPS_MAX = 40  # of a visit beyond its plan; whoever has not found it by then gives up


@dataclass(frozen=True, slots=True)
class PlayedVisit:
    """What was done from an open end on; ``end`` is its place among the open ends."""

    end: int
    probability: float
    actions: tuple[Action, ...]
    is_solved: bool


@dataclass(frozen=True, slots=True)
class _Visit:
    """A visit under way: its random numbers, and the row that is true."""

    chance: np.random.Generator
    row: int


@dataclass(frozen=True, slots=True)
class _Place:
    """Visits to whom the same has happened."""

    end: int
    belief: Belief
    actions: tuple[Action, ...]
    visits: tuple[_Visit, ...]


def played_on(
    policy: Policy, holds: FloatArray, ends: Sequence[Belief], visits: int
) -> Iterator[PlayedVisit]:
    """Play visits on from open ends of a plan.

    Parameters
    ----------
    policy : Policy
        What is followed on site.
    holds : FloatArray
        P(it holds) of each repair, shape ``(Q,)``.
    ends : sequence of Belief
        Unnormalised, as the plan comes to them.
    visits : int
        How many visits stand for all; each for the same probability.
    """
    total = sum(end.mass for end in ends)
    open_places = list(_places(ends, visits))
    while open_places:
        place = open_places.pop()
        action = policy.action(place.belief)
        if action.kind is ActionKind.STOP or len(place.actions) >= STEPS_MAX:
            for _ in place.visits:
                yield PlayedVisit(place.end, total / visits, place.actions, is_solved=False)
            continue
        done = replace(place, actions=(*place.actions, action))
        if action.kind is ActionKind.TEST:
            open_places += _after_test(policy.problem, done, action.place)
            continue
        broken, works = _after_repair(
            policy.problem, done, action.place, float(holds[action.place])
        )
        for _ in range(works):
            yield PlayedVisit(place.end, total / visits, done.actions, is_solved=True)
        open_places += [broken] if broken.visits else []


def _places(ends: Sequence[Belief], visits: int) -> Iterator[_Place]:
    """Open ends with the visits that begin there, drawn evenly over the weights of all."""
    cumulative = np.cumsum(np.concatenate([end.weights for end in ends]))
    levels = (np.arange(visits) + 0.5) / visits * cumulative[-1]
    cells = np.searchsorted(cumulative, levels, side="right")
    width = len(ends[0].weights)
    for place, end in enumerate(ends):
        drawn = tuple(
            _Visit(np.random.default_rng([SEED, number]), int(cell) - place * width)
            for number, cell in enumerate(cells)
            if cell // width == place
        )
        if drawn:
            yield _Place(place, end, (), drawn)


def _after_test(problem: TroubleshootingProblem, done: _Place, test: int) -> list[_Place]:
    """Where the visits are after a test, by its answer."""
    answers = answer_probabilities(problem, done.belief, [test])[0]  # (R, A)
    upto = np.cumsum(answers, axis=1)
    found: dict[int, list[_Visit]] = {}
    for visit in done.visits:
        level = visit.chance.random() * upto[visit.row, -1]
        answer = int(np.searchsorted(upto[visit.row], level, side="right"))
        found.setdefault(answer, []).append(visit)
    beliefs = dict(after_test(problem, done.belief, test))
    return [
        replace(done, belief=beliefs[answer], visits=tuple(visits))
        for answer, visits in sorted(found.items())
    ]


def _after_repair(
    problem: TroubleshootingProblem, done: _Place, repair: int, holds: float
) -> tuple[_Place, int]:
    """Where the visits are whose machine still fails, and how many work."""
    left: list[_Visit] = []
    for visit in done.visits:
        then = int(problem.after[repair, visit.row])
        row = then if visit.chance.random() < holds else visit.row
        if row != SOLVED:
            left.append(replace(visit, row=row))
    belief = after_repair_tried(problem, done.belief, repair, holds)
    return replace(done, belief=belief, visits=tuple(left)), len(done.visits) - len(left)
