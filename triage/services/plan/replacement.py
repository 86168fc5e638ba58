"""Repair or not, in words: the read model behind the advice on a quote."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import FaultNetwork
from triage.planning.problem.site import site_problem
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.planning.visit.replacement import (
    ReplacementAdvice,
    Rule,
    RuleLimit,
    Verdict,
    advice_on_site,
    age_found,
)
from triage.services.wording import money, percent

VERDICT_WORDS = {
    Verdict.REPAIR: "The figures speak for the repair",
    Verdict.CLOSE: "It is close: the rules do not agree",
    Verdict.REPLACE: "The figures speak for a new machine",
}
RULE_WORDS = {
    Rule.WORTH_OF_REPAIR: "Worth of the years the repair buys",
    Rule.PLAIN_HALF: "Plain {share} rule",
    Rule.HALF_AND_HALF: "{share} rule once half of its life is over",
    Rule.SLIDING: "Limit that falls with age",
}
CUSTOMER_DECIDES = "This is advice; the customer decides."


@dataclass(frozen=True, slots=True)
class RepairOrReplace:
    """Advice as people read it; ``advice`` has the figures."""

    advice: ReplacementAdvice
    title: str
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    currency: str


def repair_or_replace(
    engine: Engine,
    evidence: Evidence,
    settings: ShopSettings = DEFAULT_SETTINGS,
    age_years: float | None = None,
) -> RepairOrReplace | None:
    """Advice whether the machine is worth repairing, from what is known so far.

    ``age_years`` overrules the age band among the findings. None for an appliance kind of which the
    settings have no new machine.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    network = engine.network
    site = site_problem(engine, evidence, settings.costs_for(network.id))
    age = age_found(network, evidence) if age_years is None else age_years
    advice = advice_on_site(site, network, settings, age)
    return None if advice is None else advice_in_words(advice, network)


def advice_in_words(advice: ReplacementAdvice, network: FaultNetwork) -> RepairOrReplace:
    """Advice as people read it."""
    return RepairOrReplace(
        advice=advice,
        title=VERDICT_WORDS[advice.verdict],
        reasons=tuple(_reasons(advice, network.currency)),
        cautions=tuple(_cautions(advice, network)),
        currency=network.currency,
    )


def _reasons(advice: ReplacementAdvice, currency: str) -> Iterator[str]:
    def amount(minor: float) -> str:
        return money(minor, currency)

    machine = advice.machine
    yield (
        f"The repair is expected to cost {amount(advice.expected_price_minor)}; a new machine "
        f"costs {amount(machine.installed_minor)}, brought in and installed."
    )
    if advice.age_years is None or advice.years_left is None:
        yield "The age is not known; only the plain rule can be used. Ask for it."
    else:
        yield (
            f"Such machines last {machine.life_years:g} years on average; one of about "
            f"{advice.age_years:g} years that runs again has about {advice.years_left:.0f} left."
        )
    for entry in advice.rules:
        yield _rule_sentence(entry, machine.installed_minor, amount)
    yield CUSTOMER_DECIDES


def _rule_sentence(entry: RuleLimit, new_minor: int, amount: Callable[[float], str]) -> str:
    name = RULE_WORDS[entry.rule]
    if entry.limit_minor is None:
        return f"{name.format(share='The')}: no limit yet at this age, so repair."
    name = name.format(share=percent(entry.limit_minor / new_minor))
    word = "replace" if entry.says_replace else "repair"
    above = percent(entry.share_above)
    return f"{name}: up to {amount(entry.limit_minor)}, so {word}; {above} to be above it."


def _cautions(advice: ReplacementAdvice, network: FaultNetwork) -> Iterator[str]:
    for part, probability in advice.scarce_controls.items():
        yield (
            f"{network.parts[part].title} may be needed ({percent(probability)}): for a machine of "
            "this age ask first whether it can still be had and what it costs."
        )


def advice_as_json(found: RepairOrReplace) -> dict[str, object]:
    """Advice as plain values; keys are stable."""
    advice = found.advice
    return {
        "verdict": advice.verdict.value,
        "title": found.title,
        "expected_price_minor": round(advice.expected_price_minor),
        "new_machine_minor": advice.machine.installed_minor,
        "age_years": advice.age_years,
        "years_left": advice.years_left,
        "rules": [
            {
                "rule": entry.rule.value,
                "limit_minor": None if entry.limit_minor is None else round(entry.limit_minor),
                "share_above": entry.share_above,
                "says_replace": entry.says_replace,
            }
            for entry in advice.rules
        ],
        "reasons": list(found.reasons),
        "cautions": list(found.cautions),
        "currency": found.currency,
    }
