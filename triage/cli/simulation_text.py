"""A simulation as text: one block per policy, each figure with its 95 % interval."""

from triage.cli.output import heading, table, wrapped
from triage.services.simulation import POLICY_WORDS
from triage.simulation.study import Estimate, PolicyResult, Study

MINOR_UNITS = 100  # per unit of currency, as in the network files


def study_lines(found: Study, jobs: int, currency: str) -> list[str]:
    """Return the study as lines of text."""
    phone = _share(found.solved_by_phone)
    lines = [
        wrapped(f"{jobs} jobs; solved by phone: {phone}. In brackets: 95 % intervals."),
        wrapped(f"Costs are of shop and customer, in {currency} a job."),
    ]
    for place, result in enumerate(found.results):
        lines += [heading(f"{result.policy.value}: {POLICY_WORDS[result.policy]}")]
        lines += table(_rows(result, is_compared=place > 0))
    return lines


def _rows(result: PolicyResult, *, is_compared: bool) -> list[tuple[str, str]]:
    saved = [("saved over the fixed sequence", _share(result.saved_share))] if is_compared else []
    return [
        ("cost", _number(result.cost_minor, MINOR_UNITS)),
        *saved,
        ("minutes on site", _number(result.minutes_on_site)),
        ("tests", _number(result.tests)),
        ("repairs", _number(result.repairs)),
        ("parts fitted in vain", _number(result.wrong_parts)),
        ("visits", _number(result.visits)),
        ("one visit was enough", _share(result.first_visit)),
        ("machine works in the end", _share(result.solved)),
    ]


def _number(estimate: Estimate, unit: float = 1.0) -> str:
    value, low, high = (x / unit for x in (estimate.value, estimate.low, estimate.high))
    digits = 0 if abs(value) >= 20 else 2
    return f"{value:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"


def _share(estimate: Estimate) -> str:
    value, low, high = (100.0 * x for x in (estimate.value, estimate.low, estimate.high))
    return f"{value:.0f} % ({low:.0f} to {high:.0f})"
