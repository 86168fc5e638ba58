"""Ways to end a call, with what each costs and why: the part of a plan that compares them."""

from dataclasses import dataclass

from triage.planning.shop.settings import ShopSettings
from triage.planning.visit.endings import Alternative, OutcomeKind
from triage.planning.visit.plan import VisitPlan
from triage.services.plan.load import LoadList
from triage.services.wording import money, percent

OUTCOME_WORDS = {
    OutcomeKind.SOLVE_BY_PHONE: "Try to solve it on the phone",
    OutcomeKind.SAY_NO_FAULT: "Say that this is normal",
    OutcomeKind.VISIT: "Book a visit",
    OutcomeKind.VISIT_VAN_AS_IS: "Book a visit, nothing loaded for it",
    OutcomeKind.VISIT_NOT_WORTH_REPAIRING: "May not be worth repairing: say so before booking",
    OutcomeKind.REFER_OUT: "Refer to another trade",
}
ENDING_WORDS = {
    OutcomeKind.SOLVE_BY_PHONE: "Steps on the phone first, a visit if they fail",
    OutcomeKind.SAY_NO_FAULT: "Say that this is normal, a visit if it was not",
    OutcomeKind.VISIT: "A visit at once",
    OutcomeKind.VISIT_VAN_AS_IS: "A visit with the van as it is",
    OutcomeKind.VISIT_NOT_WORTH_REPAIRING: "No repair",
    OutcomeKind.REFER_OUT: "Another trade first, a visit if it was not that",
}


@dataclass(frozen=True, slots=True)
class EndingCost:
    """An ending of the call and what it is expected to cost shop and customer, minor units.

    ``difference_minor`` is how much dearer it is than the cheapest; ``sentence`` says what makes
    it so.
    """

    kind: OutcomeKind
    title: str
    expected_cost_minor: int
    difference_minor: int
    sentence: str


def endings_in_words(
    plan: VisitPlan, load: LoadList, settings: ShopSettings
) -> tuple[EndingCost, ...]:
    """Endings of a plan, cheapest first."""
    cheapest = min(entry.expected_cost_minor for entry in plan.outcome.alternatives)
    return tuple(
        EndingCost(
            kind=entry.kind,
            title=ENDING_WORDS[entry.kind],
            expected_cost_minor=entry.expected_cost_minor,
            difference_minor=entry.expected_cost_minor - cheapest,
            sentence=_sentence(entry, plan, load, settings),
        )
        for entry in plan.outcome.alternatives
    )


def _sentence(entry: Alternative, plan: VisitPlan, load: LoadList, settings: ShopSettings) -> str:
    """What makes an ending as dear as it is."""
    share, currency = percent(entry.share), plan.currency
    costs = settings.costs_for(plan.needs.network.id)
    visit = load.visits[0]
    return_trip = money(costs.return_trip_minor, currency)
    match entry.kind:
        case OutcomeKind.SOLVE_BY_PHONE:
            return f"The steps help with {share} probability and then spare the visit."
        case OutcomeKind.SAY_NO_FAULT:
            wrong = money(costs.wrong_no_fault_minor, currency)
            return f"It is right with {share} probability; a wrong “normal” costs {wrong} more."
        case OutcomeKind.VISIT:
            trip = money(costs.trip_minor, currency)
            filled = percent(visit.fill_rate)
            return f"The trip costs {trip}; all parts of the job are aboard with {filled}."
        case OutcomeKind.VISIT_VAN_AS_IS:
            filled = percent(visit.fill_rate_of_van)
            return f"All parts are aboard with {filled} only; coming again costs {return_trip}."
        case OutcomeKind.VISIT_NOT_WORTH_REPAIRING:
            left = money(costs.unrepaired_minor, currency)
            return f"No visit, but a machine that is left unrepaired counts as {left}."
        case OutcomeKind.REFER_OUT:
            fee = money(costs.service_fee_minor, currency)
            return f"It is theirs with {share} probability; else their visit, {fee}, is in vain."


def ending_as_json(entry: EndingCost) -> dict[str, object]:
    """Ending as plain values; keys are stable."""
    return {
        "kind": entry.kind.value,
        "title": entry.title,
        "expected_cost_minor": entry.expected_cost_minor,
        "difference_minor": entry.difference_minor,
        "sentence": entry.sentence,
    }
