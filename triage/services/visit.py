"""Plan the first visit: the read model behind `triage plan` and the plan page."""

from dataclasses import dataclass

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import OnVan, Part
from triage.planning import visit_plan as planning
from triage.planning.costs import DEFAULT_COSTS, CostModel
from triage.planning.visit_plan import OutcomeKind, PlannedTest, TestResult
from triage.services.wording import percent

OUTCOME_WORDS = {
    OutcomeKind.SOLVE_BY_PHONE: "Try to solve it on the phone",
    OutcomeKind.VISIT: "Book a visit",
    OutcomeKind.VISIT_NOT_WORTH_REPAIRING: "May not be worth repairing: say so before booking",
    OutcomeKind.REFER_OUT: "Refer to another trade",
}
WELL_WORTH_SAYING = 0.01
ENDING_WORDS = {
    **OUTCOME_WORDS,
    OutcomeKind.SOLVE_BY_PHONE: "Steps on the phone first, a visit if they fail",
    OutcomeKind.VISIT: "A visit at once",
    OutcomeKind.REFER_OUT: "Another trade first, a visit if it was not that",
}
ON_VAN_WORDS = {
    OnVan.USUALLY: "on the van; check it is there",
    OnVan.SOMETIMES: "take along; check that it fits",
    OnVan.ORDERED: "order before the visit",
}


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """A test of the plan as the technician reads it."""

    planned: PlannedTest
    preconditions: tuple[str, ...]
    cautions: tuple[str, ...]
    results: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartToLoad:
    """A part with the reason to take it."""

    part: Part
    probability: float
    where: str
    reason: str


@dataclass(frozen=True, slots=True)
class StepForCaller:
    """Something the caller can do, with the sentence to say."""

    title: str
    sentence: str
    probability: float


@dataclass(frozen=True, slots=True)
class EndingCost:
    """An ending of the call and what it is expected to cost shop and customer."""

    kind: OutcomeKind
    title: str
    expected_cost_minor: int


@dataclass(frozen=True, slots=True)
class VisitPlan:
    """First visit plan as people read it; money in minor units of ``currency``."""

    outcome: OutcomeKind
    outcome_title: str
    reasons: tuple[str, ...]
    endings: tuple[EndingCost, ...]
    steps: tuple[PlannedStep, ...]
    parts: tuple[PartToLoad, ...]
    caller_steps: tuple[StepForCaller, ...]
    cautions: tuple[str, ...]
    minutes_expected: float
    minutes_p50: float
    minutes_p80: float
    first_visit_share: float
    price_range_minor: tuple[int, int]
    currency: str


def first_visit_plan(
    engine: Engine, evidence: Evidence, costs: CostModel = DEFAULT_COSTS
) -> VisitPlan:
    """Plan of the first visit from what is known so far.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    plan = planning.first_visit_plan(engine, evidence, costs)
    steps = tuple(_step(engine, test) for test in plan.tests)
    cautions = dict.fromkeys(text for step in steps for text in step.cautions)
    if plan.first_repair is not None:
        texts = (engine.network.cautions[name] for name in plan.first_repair.cautions)
        cautions.update(dict.fromkeys(texts))
    return VisitPlan(
        outcome=plan.outcome.kind,
        outcome_title=_title(plan),
        reasons=_reasons(plan),
        endings=tuple(
            EndingCost(entry.kind, ENDING_WORDS[entry.kind], entry.expected_cost_minor)
            for entry in plan.outcome.alternatives
        ),
        steps=steps,
        parts=tuple(_part(entry) for entry in plan.parts),
        caller_steps=tuple(
            StepForCaller(step.repair.title, step.repair.caller_steps, step.probability)
            for step in plan.caller_steps
        ),
        cautions=tuple(cautions),
        minutes_expected=plan.minutes_expected,
        minutes_p50=plan.minutes_p50,
        minutes_p80=plan.minutes_p80,
        first_visit_share=plan.first_visit_share,
        price_range_minor=plan.price_range_minor,
        currency=plan.currency,
    )


def _title(plan: planning.VisitPlan) -> str:
    """How the call should end; after a repair that probably cured it, how the visit should."""
    if plan.well_share >= 0.5:
        return "Run it through and finish"
    return OUTCOME_WORDS[plan.outcome.kind]


def _step(engine: Engine, planned: PlannedTest) -> PlannedStep:
    network = engine.network
    return PlannedStep(
        planned=planned,
        preconditions=tuple(
            network.preconditions[name] for name in planned.observation.preconditions
        ),
        cautions=tuple(network.cautions[name] for name in planned.observation.cautions),
        results=tuple(_result_sentence(result) for result in planned.results),
    )


def _result_sentence(result: TestResult) -> str:
    head = f"{result.label} ({percent(result.probability)})"
    if result.next_test is not None:
        return f"{head}: next {result.next_test.title}"
    if result.next_repair is not None:
        return f"{head}: {result.next_repair.title} ({percent(result.repair_probability)} sure)"
    return f"{head}: decide on site"


def _part(entry: planning.LoadedPart) -> PartToLoad:
    repairs = " or ".join(repair.title for repair in entry.repairs)
    reason = f"needed with {percent(entry.probability)} probability: {repairs}"
    return PartToLoad(entry.part, entry.probability, ON_VAN_WORDS[entry.part.on_van], reason)


def _reasons(plan: planning.VisitPlan) -> tuple[str, ...]:
    reasons = []
    share = percent(plan.outcome.share)
    if plan.outcome.kind is OutcomeKind.SOLVE_BY_PHONE:
        reasons.append(f"The steps below cure it with {share} probability; book only if they fail.")
    if plan.outcome.kind is OutcomeKind.REFER_OUT:
        reasons.append(f"With {share} probability it is work for a licensed trade, not ours.")
    if plan.outcome.kind is OutcomeKind.VISIT_NOT_WORTH_REPAIRING:
        reasons.append(f"With {share} probability the repair costs over half of a new machine.")
    if plan.well_share > WELL_WORTH_SAYING:
        reasons.append(
            f"After the repair nothing is wrong any more with {percent(plan.well_share)} "
            "probability; the tests are for the case that something still is."
        )
    if plan.first_repair is not None:
        certainty = percent(plan.first_repair_probability)
        reasons.append(f"Most probable repair: {plan.first_repair.title} ({certainty}).")
    if plan.outcome.kind is OutcomeKind.VISIT and plan.caller_steps:
        reasons.append("The caller can try the steps below first; they cost little.")
    return tuple(reasons)


def plan_as_json(plan: VisitPlan) -> dict[str, object]:
    """Plan as plain values; keys are stable (docs/json.md)."""
    return {
        "outcome": plan.outcome.value,
        "outcome_title": plan.outcome_title,
        "reasons": list(plan.reasons),
        "endings": [
            {"kind": entry.kind.value, "expected_cost_minor": entry.expected_cost_minor}
            for entry in plan.endings
        ],
        "tests": [_step_as_json(step) for step in plan.steps],
        "parts": [
            {
                "part": entry.part.id,
                "title": entry.part.title,
                "probability": entry.probability,
                "on_van": entry.part.on_van.value,
                "reason": entry.reason,
            }
            for entry in plan.parts
        ],
        "caller_steps": [
            {"title": step.title, "sentence": step.sentence, "probability": step.probability}
            for step in plan.caller_steps
        ],
        "cautions": list(plan.cautions),
        "minutes_expected": plan.minutes_expected,
        "minutes_p50": plan.minutes_p50,
        "minutes_p80": plan.minutes_p80,
        "first_visit_share": plan.first_visit_share,
        "price_range_minor": list(plan.price_range_minor),
        "currency": plan.currency,
    }


def _step_as_json(step: PlannedStep) -> dict[str, object]:
    return {
        "observation": step.planned.observation.id,
        "title": step.planned.observation.title,
        "wording": step.planned.observation.wording,
        "acceptance": step.planned.observation.acceptance,
        "minutes": step.planned.observation.minutes,
        "probability": step.planned.probability,
        "preconditions": list(step.preconditions),
        "cautions": list(step.cautions),
        "results": [
            {
                "answer": result.answer,
                "label": result.label,
                "probability": result.probability,
                "next_test": result.next_test.id if result.next_test else None,
                "next_repair": result.next_repair.id if result.next_repair else None,
            }
            for result in step.planned.results
        ],
    }
