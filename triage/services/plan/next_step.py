"""The next step of a visit: what to do now, what else could be done, and what that costs more.

Computed afresh from whatever is known, so that it works just the same when the technician has left
the plan. The step is the policy's (``triage.planning.policy.visit``); the other steps stand beside
it with their extra cost, so that overruling it is an informed choice.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import FaultNetwork, Part
from triage.planning.parts.van import Van, visit_problem
from triage.planning.policy.bounds import CertifiedGap
from triage.planning.policy.next_steps import OPTIONS_MAX, StepOption, next_steps
from triage.planning.policy.site import ActionKind
from triage.planning.policy.value import ValueTable
from triage.planning.policy.visit import (
    NODES_OF_ROLLOUT,
    NODES_PER_SECOND,
    Basis,
    VisitPolicy,
)
from triage.planning.problem.arrays import answer_probabilities
from triage.planning.problem.site import SiteProblem
from triage.planning.shop.costs import DEFAULT_COSTS, CostModel
from triage.planning.visit.value import PlanValue
from triage.services.wording import money, percent

STEPS_KEPT = 128  # pages ask for the step from the same evidence again and again
BASIS_SENTENCES = {
    Basis.PROVED: "Proved: no other plan is cheaper, causes under 0.1 % left out.",
    Basis.ROLLOUT: "The best of the likeliest steps, each followed some way into the visit.",
    Basis.TWO_STEPS: "The best of the likeliest steps, looking two steps ahead.",
}


@dataclass(frozen=True, slots=True)
class AnswerChance:
    """An answer a test may give, in words, and how probable it is."""

    answer: str
    label: str
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StepCard:
    """A step that can be taken now.

    ``kind`` is ``test``, ``repair`` or ``stop``; ``id`` that of the observation or repair.
    ``minutes`` are all of it, ``setup_minutes`` of them to prepare (``preparations``).
    ``preconditions`` is what must be so. ``needed_share`` is P(a repair is what is needed),
    ``gain_bits`` what a test tells. ``extra_minor`` is what taking it costs above the recommended
    step, going on as the program would.
    """

    kind: str
    id: str
    title: str
    sentence: str
    minutes: float
    setup_minutes: float = 0.0
    preparations: tuple[str, ...] = ()
    preconditions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    acceptance: str = ""
    parts: tuple[Part, ...] = ()
    answers: tuple[AnswerChance, ...] = ()
    needed_share: float = 0.0
    gain_bits: float = 0.0
    extra_minor: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """What to do now; ``recommended`` is None when nothing can be wrong any more.

    ``expected_minor`` is the cost at most from here, begun by the recommended step. ``gap`` says
    how far the plan is from the best possible at most, ``well_share`` is P(nothing is wrong any
    more).
    """

    recommended: StepCard | None
    alternatives: tuple[StepCard, ...]
    expected_minor: float
    gap: CertifiedGap
    gap_sentence: str
    basis: str
    basis_sentence: str
    well_share: float
    currency: str


def next_step(
    engine: Engine,
    evidence: Evidence,
    costs: CostModel = DEFAULT_COSTS,
    *,
    van: Van | None = None,
    options_max: int = OPTIONS_MAX,
    budget_ms: float | None = None,
) -> NextStep:
    """Recommended step from what is known, and the steps that could be taken instead.

    Parameters
    ----------
    engine, evidence, costs
        What is known and what things cost.
    van : Van, optional
        What is aboard; every part for None.
    options_max : int
        Most steps, the recommended one among them.
    budget_ms : float, optional
        Time the search may take; it is turned into a number of nodes
        (``visit_policy.NODES_PER_SECOND``), so that the answer does not hang on the machine.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    return _next_step(engine, evidence, costs, van, options_max, rollout_nodes(budget_ms))


@lru_cache(maxsize=STEPS_KEPT)
def _next_step(
    engine: Engine,
    evidence: Evidence,
    costs: CostModel,
    van: Van | None,
    options_max: int,
    rollout: int,
) -> NextStep:
    site = visit_problem(engine, evidence, costs, van)
    currency = engine.network.currency
    start = site.problem.start()
    if start.mass == 0.0:
        return _nothing_wrong(site, currency)
    values = ValueTable(site.problem)
    policy = VisitPolicy(site.problem, nodes_of_rollout=rollout, values=values)
    found = next_steps(policy, start, options_max)
    gap = PlanValue(site.problem, values).gap(start, found.options[0].action)
    cards = list(_Cards(engine.network, site, costs).cards(found.options))
    return NextStep(
        recommended=cards[0],
        alternatives=tuple(cards[1:]),
        expected_minor=gap.upper_minor,
        gap=gap,
        gap_sentence=gap_sentence(gap, currency),
        basis=found.basis.value,
        basis_sentence=BASIS_SENTENCES[found.basis],
        well_share=site.well_share,
        currency=currency,
    )


def rollout_nodes(budget_ms: float | None) -> int:
    """Nodes of rollout for a time, by a fixed rate; the usual number for None."""
    if budget_ms is None:
        return NODES_OF_ROLLOUT
    return max(0, round(budget_ms * NODES_PER_SECOND / 1000.0))


def gap_sentence(gap: CertifiedGap, currency: str) -> str:
    """How far a plan is from the best possible at most, as the numbers are."""
    upper = money(gap.upper_minor, currency)
    if gap.is_proved_best:
        return f"This plan costs {upper} on average; proved: no other is cheaper."
    return (
        f"From here this plan costs {upper} on average at most; no plan costs less than "
        f"{money(gap.lower_minor, currency)}. So it is at most "
        f"{100.0 * gap.excess_share:.0f} % above the best possible; the bound is cautious, "
        "the true distance is smaller."
    )


def _nothing_wrong(site: SiteProblem, currency: str) -> NextStep:
    gap = CertifiedGap(0.0, 0.0)
    return NextStep(
        recommended=None,
        alternatives=(),
        expected_minor=0.0,
        gap=gap,
        gap_sentence="Nothing is left to find: no step is needed.",
        basis=Basis.PROVED.value,
        basis_sentence=BASIS_SENTENCES[Basis.PROVED],
        well_share=site.well_share,
        currency=currency,
    )


@dataclass(frozen=True, slots=True)
class _Cards:
    """Turns options into cards."""

    network: FaultNetwork
    site: SiteProblem
    costs: CostModel

    def cards(self, options: tuple[StepOption, ...]) -> Iterator[StepCard]:
        """Cards in the order of the options."""
        for option in options:
            if option.action.kind is ActionKind.TEST:
                yield self._test(option)
            elif option.action.kind is ActionKind.REPAIR:
                yield self._repair(option)
            else:
                yield StepCard(
                    kind="stop",
                    id="",
                    title="Stop and talk to the customer",
                    sentence="Going on would cost more than the machine is worth, "
                    "or needs the owner.",
                    minutes=0.0,
                    extra_minor=option.extra_minor,
                )

    def _test(self, option: StepOption) -> StepCard:
        site, place = self.site, option.action.place
        test = site.tests[place]
        start = site.problem.start()
        given_row = answer_probabilities(site.problem, start, [place])[0]  # (R, A)
        chances = start.weights @ given_row / start.mass
        preparation = site.setup.preparation(test)
        return StepCard(
            kind="test",
            id=test.id,
            title=test.title,
            sentence=test.wording,
            minutes=site.setup.minutes(test),
            setup_minutes=preparation.minutes,
            preparations=preparation.steps,
            preconditions=tuple(self.network.preconditions[name] for name in test.preconditions),
            cautions=tuple(self.network.cautions[name] for name in test.cautions),
            acceptance=test.acceptance,
            answers=tuple(
                AnswerChance(answer, label, float(chance))
                for (answer, label), chance in zip(test.answers.items(), chances, strict=False)
            ),
            gain_bits=option.gain_bits,
            extra_minor=option.extra_minor,
        )

    def _repair(self, option: StepOption) -> StepCard:
        repair = self.site.repairs[option.action.place]
        return StepCard(
            kind="repair",
            id=repair.id,
            title=repair.title,
            sentence=f"{percent(option.needed_share)} sure that this is needed. Then run the "
            "machine through and check that the complaint is gone.",
            minutes=repair.minutes + self.costs.verification_minutes,
            cautions=tuple(self.network.cautions[name] for name in repair.cautions),
            parts=tuple(self.network.parts[part] for part in repair.parts),
            needed_share=option.needed_share,
            extra_minor=option.extra_minor,
        )


def next_step_as_json(found: NextStep) -> dict[str, object]:
    """Next step as plain values; keys are stable (docs/json.md)."""
    steps = [card for card in (found.recommended, *found.alternatives) if card is not None]
    return {
        "steps": [_card_as_json(card) for card in steps],
        "expected_minor": found.expected_minor,
        "gap": gap_as_json(found.gap),
        "basis": found.basis,
        "well_share": found.well_share,
        "currency": found.currency,
    }


def gap_as_json(gap: CertifiedGap) -> dict[str, object]:
    """Certified gap as plain values."""
    return {
        "cost_at_most_minor": gap.upper_minor,
        "cost_at_least_minor": gap.lower_minor,
        "excess_share": gap.excess_share if np.isfinite(gap.excess_share) else None,
        "is_proved_best": gap.is_proved_best,
    }


def _card_as_json(card: StepCard) -> dict[str, object]:
    return {
        "kind": card.kind,
        "id": card.id or None,
        "title": card.title,
        "minutes": card.minutes,
        "setup_minutes": card.setup_minutes,
        "preparations": list(card.preparations),
        "preconditions": list(card.preconditions),
        "cautions": list(card.cautions),
        "acceptance": card.acceptance,
        "parts": [part.id for part in card.parts],
        "answers": {chance.answer: chance.probability for chance in card.answers},
        "needed_share": card.needed_share,
        "gain_bits": card.gain_bits,
        "extra_minor": card.extra_minor,
    }
