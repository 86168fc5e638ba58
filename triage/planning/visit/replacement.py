"""Repair or not: the price of the repair against a new machine installed and the life still left.

Every rule is a limit on the price of the repair; above it the rule says replace.

======================  =========================================================================
worth of the repair     the new machine's price times (years the old one has left) / (years of a new
                        one): what the years bought by the repair would cost as a new machine
plain 50 % rule         half of a new machine (or the share a shop sets), whatever the age
50/50 rule              the same, but no limit up to half of the expected life
age-sliding limit       a share of a new machine that falls with age
======================  =========================================================================

The last three are common practice without a source. The first needs the life still left of a
machine of some age. With a hazard that grows in proportion to age (wear; a Rayleigh distribution,
one parameter, an assumption) of mean life ``m``, what is left on average at age ``a`` has a closed
form: ``m exp(x^2) erfc(x)`` with ``x = a / (2 m / sqrt(pi))``. At age 0 it is ``m``, and it never
gets to zero: a machine that is old and runs may run on.

Published lifetimes disagree. 10 years for washers and 13 for dryers come from a survey of makers
and researchers [NAHB2007]_; a newspaper list that quotes it has 10 for dryers. Washers that a
repair centre did not repair were 12.6 years old on average [TecchioArdenteMathieux2019]_.

This is advice, firm only where all rules agree. The customer decides.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from triage.inference.evidence import Evidence
from triage.network.values import FaultNetwork, Repair
from triage.planning.problem.site import SiteProblem
from triage.planning.shop.costs import CostModel
from triage.planning.shop.settings import NewMachine, ShopSettings

HALF = 0.5
# Allowed share of a new machine by age in years; common practice, no source.
SLIDING_LIMITS = ((3.0, 0.60), (5.0, 0.50), (8.0, 0.40), (11.0, 0.25), (14.0, 0.10))
# Boards go out of stock first; common practice, no source. Ids of parts of the shipped networks.
CONTROL_PARTS = frozenset({"main_control", "user_panel", "heat_control", "motor_drive"})
OLD_FOR_CONTROL_YEARS = 8.0
# Years that stand for an age band of the networks: its middle, and 14 for the open one.
BAND_YEARS: Mapping[str, float] = {
    "under_1_year": 0.5,
    "from_1_to_3": 2.5,
    "from_4_to_7": 6.0,
    "from_8_to_12": 10.5,
    "over_12": 14.0,
}
AGE = "age"  # the context that holds the bands
CAUTION_PROBABILITY = 0.1  # a control that is less likely to be needed is not worth a word


class Rule(StrEnum):
    """A rule that limits what a repair may cost."""

    WORTH_OF_REPAIR = "worth_of_repair"
    PLAIN_HALF = "plain_half"
    HALF_AND_HALF = "half_and_half"
    SLIDING = "sliding"


class Verdict(StrEnum):
    """What the figures speak for; the customer decides."""

    REPAIR = "repair"
    CLOSE = "close"
    REPLACE = "replace"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPrice:
    """A set of repairs that may be needed: probability, price (low, high) and parts."""

    probability: float
    price_minor: tuple[int, int]
    parts: frozenset[str]

    @property
    def middle_minor(self) -> float:
        """Middle of the range."""
        return (self.price_minor[0] + self.price_minor[1]) / 2.0


@dataclass(frozen=True, slots=True)
class RuleLimit:
    """Highest price a rule allows (None: no limit at this age); P(the repair costs more)."""

    rule: Rule
    limit_minor: float | None
    share_above: float
    says_replace: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplacementAdvice:
    """Repair or not, with what speaks for it.

    ``age_years`` and ``years_left`` are None where nobody knows the age; then only the plain 50 %
    rule is among the ``rules``. ``scarce_controls`` holds P(needed) of the controls that may be
    hard to get for a machine of this age.
    """

    verdict: Verdict
    expected_price_minor: float
    machine: NewMachine
    age_years: float | None
    years_left: float | None
    rules: tuple[RuleLimit, ...]
    scarce_controls: Mapping[str, float]


def replacement_advice(
    prices: Sequence[JobPrice],
    machine: NewMachine,
    age_years: float | None,
    *,
    plain_share: float = HALF,
) -> ReplacementAdvice:
    """Advice whether to repair.

    Parameters
    ----------
    prices : sequence of JobPrice
        What the repair may turn out to be; probabilities sum to 1.
    machine : NewMachine
        A new machine of this kind.
    age_years : float or None
        Age of the machine, if known.
    plain_share : float
        Share of a new machine in the plain rule and in the 50/50 rule.

    Returns
    -------
    ReplacementAdvice
        Firm where all rules agree on the expected price, else close. With the age unknown there is
        the plain 50 % rule alone.
    """
    expected = sum(price.probability * price.middle_minor for price in prices)
    new = machine.installed_minor
    limits: dict[Rule, float | None] = {Rule.PLAIN_HALF: plain_share * new}
    left = None
    if age_years is not None:
        left = years_left(age_years, machine.life_years)
        is_past_half = age_years > HALF * machine.life_years
        limits = {
            Rule.WORTH_OF_REPAIR: new * left / machine.life_years,
            **limits,
            Rule.HALF_AND_HALF: plain_share * new if is_past_half else None,
            Rule.SLIDING: sliding_share(age_years) * new,
        }
    rules = tuple(_rule_limit(rule, limit, prices, expected) for rule, limit in limits.items())
    return ReplacementAdvice(
        verdict=_verdict(rules),
        expected_price_minor=expected,
        machine=machine,
        age_years=age_years,
        years_left=left,
        rules=rules,
        scarce_controls=_scarce_controls(prices, age_years),
    )


def advice_on_site(
    site: SiteProblem, network: FaultNetwork, settings: ShopSettings, age_years: float | None
) -> ReplacementAdvice | None:
    """Advice about the machine of a visit; None where no new machine of its kind is known."""
    machine = settings.new_machines.get(network.id)
    if machine is None or not site.problem.weights.any():
        return None
    costs = settings.costs_for(network.id)
    prices = job_prices(site, network, costs)
    return replacement_advice(prices, machine, age_years, plain_share=costs.worth_repairing_share)


def years_left(age_years: float, life_years: float) -> float:
    """Mean years a machine of some age has left, for a hazard that grows in proportion to age.

    Examples
    --------
    >>> round(years_left(0.0, 10.0), 2), round(years_left(10.0, 10.0), 2)
    (10.0, 4.61)
    """
    x = age_years * math.sqrt(math.pi) / (2.0 * life_years)
    return life_years * math.exp(x * x) * math.erfc(x)


def age_found(network: FaultNetwork, evidence: Evidence) -> float | None:
    """Age of the latest finding about it; a reading of the plate beats what the caller says."""
    ages = [
        (network.observations[finding.observation].channel.is_on_site, BAND_YEARS[finding.answer])
        for finding in evidence.findings
        if network.observations[finding.observation].context == AGE
        and isinstance(finding.answer, str)
        and finding.answer in BAND_YEARS
    ]
    read = [years for is_read, years in ages if is_read]
    said = [years for _, years in ages]
    ages_known = read or said
    return ages_known[-1] if ages_known else None


def sliding_share(age_years: float) -> float:
    """Allowed share of a new machine at an age, straight lines between ``SLIDING_LIMITS``."""
    ages = [age for age, _ in SLIDING_LIMITS]
    if age_years <= ages[0]:
        return SLIDING_LIMITS[0][1]
    for (age, share), (next_age, next_share) in pairwise(SLIDING_LIMITS):
        if age_years <= next_age:
            return share + (next_share - share) * (age_years - age) / (next_age - age)
    return SLIDING_LIMITS[-1][1]


def job_prices(site: SiteProblem, network: FaultNetwork, costs: CostModel) -> tuple[JobPrice, ...]:
    """Prices of what may be needed: one service fee, then labour and parts of every repair."""
    shares: dict[tuple[int, ...], float] = {}
    problem = site.problem
    for weight, needs in zip(problem.weights, problem.needs[:, :, 0], strict=True):
        repairs = tuple(sorted({int(place) for place in needs if place < problem.repair_count}))
        shares[repairs] = shares.get(repairs, 0.0) + float(weight)
    return tuple(
        _job_price(probability, [site.repairs[place] for place in repairs], network, costs)
        for repairs, probability in shares.items()
        if probability > 0.0
    )


def _job_price(
    probability: float, repairs: Sequence[Repair], network: FaultNetwork, costs: CostModel
) -> JobPrice:
    ends = [costs.service_fee_minor, costs.service_fee_minor]
    for repair in repairs:
        parts = tuple(network.parts[part] for part in repair.parts)
        for place, high in enumerate((False, True)):
            price = costs.price_minor(repair, parts, high=high)
            ends[place] += price - costs.service_fee_minor
    return JobPrice(
        probability=probability,
        price_minor=(ends[0], ends[1]),
        parts=frozenset(part for repair in repairs for part in repair.parts),
    )


def _verdict(rules: Sequence[RuleLimit]) -> Verdict:
    if all(entry.says_replace for entry in rules):
        return Verdict.REPLACE
    return Verdict.CLOSE if any(entry.says_replace for entry in rules) else Verdict.REPAIR


def _rule_limit(
    rule: Rule, limit: float | None, prices: Sequence[JobPrice], expected: float
) -> RuleLimit:
    if limit is None:
        return RuleLimit(rule, None, 0.0, says_replace=False)
    share = sum(price.probability for price in prices if price.middle_minor >= limit)
    return RuleLimit(rule, limit, share, says_replace=expected >= limit)


def _scarce_controls(prices: Sequence[JobPrice], age_years: float | None) -> dict[str, float]:
    if age_years is None or age_years < OLD_FOR_CONTROL_YEARS:
        return {}
    needed = {
        part: sum(price.probability for price in prices if part in price.parts)
        for part in sorted({part for price in prices for part in price.parts & CONTROL_PARTS})
    }
    return {part: p for part, p in needed.items() if p >= CAUTION_PROBABILITY}
