"""Plan the first visit: the read model behind `triage plan` and the plan page."""

from dataclasses import dataclass
from functools import lru_cache

from triage.inference.engine import Cause, Engine
from triage.inference.evidence import Evidence
from triage.network.values import Part
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.planning.visit import plan as planning
from triage.planning.visit.endings import OutcomeKind
from triage.planning.visit.plan import PlannedTest, TestResult
from triage.services.networks.engines import engine_under
from triage.services.plan.endings import OUTCOME_WORDS, EndingCost, ending_as_json, endings_in_words
from triage.services.plan.load import LoadEntry, LoadList, list_for, load_as_json
from triage.services.plan.replacement import RepairOrReplace, advice_as_json, advice_in_words
from triage.services.wording import percent

WELL_WORTH_SAYING = 0.01
PLANS_KEPT = 128


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """A test of the plan as the technician reads it."""

    planned: PlannedTest
    preconditions: tuple[str, ...]
    cautions: tuple[str, ...]
    results: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartToLoad:
    """A part with the reason to take it, or to look whether it is on the van.

    ``number`` is that of the part, empty where the shop keeps no list; ``take`` pieces are taken
    along, none of a part that the van has.
    """

    part: Part
    number: str
    take: int
    probability: float
    where: str
    reason: str


@dataclass(frozen=True, slots=True)
class StepForCaller:
    """Something the caller can do, with the sentence to say."""

    title: str
    sentence: str
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitPlan:
    """First visit plan as people read it; money in minor units of ``currency``.

    ``load`` is the load list of this visit alone, the same that ``triage load`` shows; ``parts``
    are its items, most probable first. ``advice`` is whether to repair; None where the settings
    have no new machine of this kind.
    """

    outcome: OutcomeKind
    outcome_title: str
    reasons: tuple[str, ...]
    endings: tuple[EndingCost, ...]
    steps: tuple[PlannedStep, ...]
    parts: tuple[PartToLoad, ...]
    load: LoadList
    caller_steps: tuple[StepForCaller, ...]
    cautions: tuple[str, ...]
    minutes_expected: float
    minutes_p50: float
    minutes_p80: float
    minutes_p95: float
    first_visit_share: float
    price_range_minor: tuple[int, int]
    service_fee_minor: int
    declined_share: float
    advice: RepairOrReplace | None
    currency: str


@lru_cache(maxsize=PLANS_KEPT)
def plan_with_causes(
    engine: Engine, evidence: Evidence, settings: ShopSettings, plate: str
) -> tuple[VisitPlan, tuple[Cause, ...]]:
    """Plan of the first visit, and the causes it rests on, the most probable first; kept.

    Planning, booking, a look at another day and the closing ask for the same.

    Raises
    ------
    EvidenceError
        A finding does not fit the network, or the findings exclude each other.
    """
    plan = first_visit_plan(engine, evidence, settings, plate=plate)
    return plan, engine.assess(evidence).causes


def first_visit_plan(
    engine: Engine,
    evidence: Evidence,
    settings: ShopSettings = DEFAULT_SETTINGS,
    *,
    plate: str = "",
) -> VisitPlan:
    """Plan of the first visit from what is known so far.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    engine = engine_under(engine, settings)
    plan = planning.first_visit_plan(engine, evidence, settings, plate=plate.strip())
    load = list_for([plan.needs], settings)
    steps = tuple(_step(engine, test) for test in plan.tests)
    advice = None if plan.advice is None else advice_in_words(plan.advice, engine.network)
    return VisitPlan(
        outcome=plan.outcome.kind,
        outcome_title=_title(plan),
        reasons=_reasons(plan),
        endings=endings_in_words(plan, load, settings),
        steps=steps,
        parts=_parts(load),
        load=load,
        caller_steps=tuple(
            StepForCaller(step.repair.title, step.repair.caller_steps, step.probability)
            for step in plan.caller_steps
        ),
        cautions=_cautions(engine, plan, steps),
        minutes_expected=plan.minutes_expected,
        minutes_p50=plan.minutes_p50,
        minutes_p80=plan.minutes_p80,
        minutes_p95=plan.minutes_p95,
        first_visit_share=plan.first_visit_share,
        price_range_minor=plan.price_range_minor,
        service_fee_minor=settings.costs.service_fee_minor,
        declined_share=plan.declined_share,
        advice=advice,
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


def _cautions(
    engine: Engine, plan: planning.VisitPlan, steps: tuple[PlannedStep, ...]
) -> tuple[str, ...]:
    """Cautions of all tests and of the most probable repair, each once."""
    texts = [text for step in steps for text in step.cautions]
    if plan.first_repair is not None:
        texts += [engine.network.cautions[name] for name in plan.first_repair.cautions]
    return tuple(dict.fromkeys(texts))


def _result_sentence(result: TestResult) -> str:
    head = f"{result.label} ({percent(result.probability)})"
    if result.next_test is not None:
        return f"{head}: next {result.next_test.title}"
    if result.next_repair is not None:
        return f"{head}: {result.next_repair.title} ({percent(result.repair_probability)} sure)"
    return f"{head}: decide on site"


def _parts(load: LoadList) -> tuple[PartToLoad, ...]:
    entries = sorted((*load.take, *load.check), key=lambda e: (-e.probability, e.part.id, e.number))
    return tuple(_part(entry) for entry in entries)


def _part(entry: LoadEntry) -> PartToLoad:
    return PartToLoad(
        entry.part, entry.number, entry.take, entry.probability, entry.where, entry.reason
    )


def _reasons(plan: planning.VisitPlan) -> tuple[str, ...]:
    reasons = []
    share = percent(plan.outcome.share)
    if plan.outcome.kind is OutcomeKind.SOLVE_BY_PHONE:
        reasons.append(f"The steps below cure it with {share} probability; book only if they fail.")
    if plan.outcome.kind is OutcomeKind.SAY_NO_FAULT:
        reasons.append(f"With {share} probability nothing has failed.")
    if plan.outcome.kind is OutcomeKind.REFER_OUT:
        reasons.append(f"With {share} probability it is work for a licensed trade, not ours.")
    if plan.outcome.kind is OutcomeKind.VISIT_NOT_WORTH_REPAIRING:
        reasons.append("A new machine may be the better buy; the figures are below.")
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
        "endings": [ending_as_json(entry) for entry in plan.endings],
        "tests": [_step_as_json(step) for step in plan.steps],
        "parts": [
            {
                "part": entry.part.id,
                "title": entry.part.title,
                "number": entry.number,
                "take": entry.take,
                "probability": entry.probability,
                "on_van": entry.part.on_van.value,
                "where": entry.where,
                "reason": entry.reason,
            }
            for entry in plan.parts
        ],
        "load": load_as_json(plan.load),
        "caller_steps": [
            {"title": step.title, "sentence": step.sentence, "probability": step.probability}
            for step in plan.caller_steps
        ],
        "cautions": list(plan.cautions),
        "minutes_expected": plan.minutes_expected,
        "minutes_p50": plan.minutes_p50,
        "minutes_p80": plan.minutes_p80,
        "minutes_p95": plan.minutes_p95,
        "first_visit_share": plan.first_visit_share,
        "price_range_minor": list(plan.price_range_minor),
        "declined_share": plan.declined_share,
        "repair_or_replace": None if plan.advice is None else advice_as_json(plan.advice),
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
