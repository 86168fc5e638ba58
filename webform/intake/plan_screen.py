"""Read model of the page with the first visit plan."""

from collections.abc import Mapping
from dataclasses import dataclass

from flask import url_for

from triage.services.call_log.events import CallOutcome
from triage.services.calls.board import CallPlan
from triage.services.plan.load import LoadList
from triage.services.plan.offer import VisitOffer
from triage.services.plan.visit import PlannedStep, VisitPlan
from webform.formatting import acceptance, minutes, money, money_range, nowrap, percent, told
from webform.forms import Ticket
from webform.intake import texts
from webform.intake.screens import CallHead, call_head

# The ending the plan advises, as the outcome that is proposed when the call is ended.
PROPOSED = {
    "solve_by_phone": CallOutcome.SOLVED_BY_PHONE,
    "visit": CallOutcome.VISIT,
    "visit_not_worth_repairing": CallOutcome.VISIT_NOT_WORTH_REPAIRING,
    "refer_out": CallOutcome.REFER_OUT,
    "say_no_fault": CallOutcome.NORMAL_EXPLAINED,
}


@dataclass(frozen=True, slots=True)
class EndingShown:
    """A way to end the call, what it is expected to cost shop and caller together, and why.

    ``difference`` is how much dearer it is than the cheapest; empty for that one.
    """

    title: str
    cost: str
    difference: str
    sentence: str


@dataclass(frozen=True, slots=True)
class FrontierShown:
    """A load that no other beats: share of jobs with all parts, cost of the parts, what it adds."""

    filled: str
    cost: str
    added: str


@dataclass(frozen=True, slots=True)
class LoadShown:
    """How often all parts of the job are aboard, and what more parts would bring."""

    filled: str
    filled_as_is: str
    asks: tuple[str, ...]
    frontier: tuple[FrontierShown, ...]


@dataclass(frozen=True, slots=True)
class AdviceShown:
    """Whether the machine is worth repairing."""

    title: str
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OfferShown:
    """What to say before booking, and what the caller prepares."""

    slot: str
    script: tuple[str, ...]
    preparation: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ResultShown:
    """A result of a test, and what it leads to; ``leads_on`` if to the next test of the plan."""

    label: str
    percent: str
    then: str
    leads_on: bool


@dataclass(frozen=True, slots=True)
class TestShown:
    """A test of the plan."""

    __test__ = False

    number: int
    title: str
    wording: str
    acceptance: str
    minutes: str
    preconditions: tuple[str, ...]
    cautions: tuple[str, ...]
    results: tuple[ResultShown, ...]


@dataclass(frozen=True, slots=True)
class PartShown:
    """A part to load."""

    title: str
    percent: str
    where: str
    reason: str


@dataclass(frozen=True, slots=True)
class CallerStepShown:
    """Something the caller can do, with the sentence to say."""

    title: str
    sentence: str
    percent: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanScreen:
    """Everything the page with the plan shows."""

    head: CallHead
    ticket: Ticket
    outcome: str
    reasons: tuple[str, ...]
    endings: tuple[EndingShown, ...]
    caller_steps: tuple[CallerStepShown, ...]
    tests: tuple[TestShown, ...]
    parts: tuple[PartShown, ...]
    load: LoadShown
    offer: OfferShown
    advice: AdviceShown | None
    cautions: tuple[str, ...]
    minutes_p50: str
    minutes_p80: str
    minutes_p95: str
    first_visit: str
    price: str
    declined: str
    end_url: str


def plan_screen(planned: CallPlan) -> PlanScreen:
    """Put the page with the plan together."""
    plan, state = planned.plan, planned.state
    numbers = {step.planned.observation.id: place for place, step in enumerate(plan.steps, start=1)}
    return PlanScreen(
        head=call_head(state, "intake.plan"),
        ticket=Ticket.for_page(state.version),
        outcome=plan.outcome_title,
        reasons=tuple(nowrap(reason) for reason in plan.reasons),
        endings=_endings(plan),
        caller_steps=tuple(
            CallerStepShown(step.title, told(step.sentence), percent(step.probability))
            for step in plan.caller_steps
        ),
        tests=tuple(_test(step, numbers) for step in plan.steps),
        parts=_parts(plan),
        load=_load(plan.load),
        offer=_offer(planned.offer),
        advice=_advice(plan),
        cautions=plan.cautions,
        minutes_p50=minutes(plan.minutes_p50),
        minutes_p80=minutes(plan.minutes_p80),
        minutes_p95=minutes(plan.minutes_p95),
        first_visit=percent(plan.first_visit_share),
        price=money_range(*plan.price_range_minor, plan.currency),
        declined=percent(plan.declined_share),
        end_url=url_for(
            "intake.end", call_id=state.call_id, outcome=PROPOSED[plan.outcome.value].value
        ),
    )


def _endings(plan: VisitPlan) -> tuple[EndingShown, ...]:
    return tuple(
        EndingShown(
            entry.title,
            money(entry.expected_cost_minor, plan.currency),
            money(entry.difference_minor, plan.currency) if entry.difference_minor else "",
            nowrap(entry.sentence),
        )
        for entry in plan.endings
    )


def _parts(plan: VisitPlan) -> tuple[PartShown, ...]:
    return tuple(
        PartShown(
            f"{entry.part.title}, {entry.number}" if entry.number else entry.part.title,
            percent(entry.probability),
            entry.where,
            nowrap(entry.reason),
        )
        for entry in plan.parts
    )


def _offer(offer: VisitOffer) -> OfferShown:
    script = tuple(told(sentence) for sentence in offer.script)
    return OfferShown(minutes(offer.slot_minutes), script, offer.preparation)


def _load(load: LoadList) -> LoadShown:
    visit = load.visits[0]
    return LoadShown(
        percent(visit.fill_rate),
        percent(visit.fill_rate_of_van),
        visit.asks,
        tuple(
            FrontierShown(
                percent(point.fill_rate),
                money(point.parts_cost_minor, load.currency),
                "; ".join(point.added) or texts.VAN_AS_IT_IS,
            )
            for point in load.frontier
        ),
    )


def _advice(plan: VisitPlan) -> AdviceShown | None:
    if plan.advice is None:
        return None
    reasons = tuple(nowrap(reason) for reason in plan.advice.reasons)
    return AdviceShown(plan.advice.title, reasons, tuple(map(nowrap, plan.advice.cautions)))


def _test(step: PlannedStep, numbers: Mapping[str, int]) -> TestShown:
    observation = step.planned.observation
    number = numbers[observation.id]
    return TestShown(
        number,
        observation.title,
        told(observation.wording),
        acceptance(observation),
        minutes(observation.minutes),
        step.preconditions,
        step.cautions,
        tuple(_result(step, place, numbers) for place in range(len(step.planned.results))),
    )


def _result(step: PlannedStep, place: int, numbers: Mapping[str, int]) -> ResultShown:
    """What a result leads to; a test that the plan holds is named with its number."""
    result = step.planned.results[place]
    chance = percent(result.probability)
    if result.next_test is not None:
        title, number = result.next_test.title, numbers.get(result.next_test.id)
        leads_on = number == numbers[step.planned.observation.id] + 1
        then = f"test {number}: {title}" if number else f"test: {title}"
        return ResultShown(told(result.label), chance, then, leads_on)
    if result.next_repair is not None:
        sure = percent(result.repair_probability)
        then = f"repair: {result.next_repair.title} ({sure} sure)"
        return ResultShown(told(result.label), chance, then, False)
    return ResultShown(told(result.label), chance, texts.DECIDE_ON_SITE, False)
