"""Longest exhaust duct of a vented dryer, after its elbows.

The IRC allows a duct of 35 ft from the end of the transition duct to the hood, less a length for
each elbow by radius and angle [IRCM1502]_. Editions until about 2006 allow 25 ft less 2.5 ft for
each 45 degrees and 5 ft for each 90. States that follow the UMC allow 14 ft with two 90-degree
elbows, less 2 ft for each further one [UMC504]_. The dryer maker's own figure may replace each of
them.

>>> elbows = {Elbow.MITRED_4_IN_90: 2, Elbow.MITRED_4_IN_45: 1}
>>> duct_allowance(DuctRun(rule=DuctRule.IRC, elbows=elbows)).longest_ft
22.5
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from triage.errors import InputValueError
from triage.trade.calculators.catalogue import (
    Calculator,
    ChoiceInput,
    Entries,
    Judgement,
    NumberInput,
    Outcome,
    result_line,
)
from triage.trade.calculators.quantities import COUNT, FEET, INCHES_PER_FOOT, Limits


class DuctRule(StrEnum):
    """Rule that the longest duct follows."""

    IRC = "irc"
    IRC_OLD = "irc_old"
    UMC = "umc"
    MAKER = "maker"


class Elbow(StrEnum):
    """Kinds of elbows in the fitting table of the IRC, by radius and angle."""

    MITRED_4_IN_45 = "elbows_4in_45"
    MITRED_4_IN_90 = "elbows_4in_90"
    SMOOTH_6_IN_45 = "elbows_6in_45"
    SMOOTH_6_IN_90 = "elbows_6in_90"
    SMOOTH_8_IN_45 = "elbows_8in_45"
    SMOOTH_8_IN_90 = "elbows_8in_90"
    SMOOTH_10_IN_45 = "elbows_10in_45"
    SMOOTH_10_IN_90 = "elbows_10in_90"

    @property
    def is_90(self) -> bool:
        """Whether it turns the duct by 90 degrees."""
        return self.value.endswith("90")

    @property
    def label(self) -> str:
        """Name for people."""
        radius, angle = self.value.removeprefix("elbows_").split("in_")
        make = "mitred" if radius == "4" else "smooth"
        return f"Elbows of {angle} degrees, {radius} in radius, {make}"


# Straight duct that one elbow counts as, IRC table M1502.4 [IRCM1502]_. In whole inches, so that
# sums are exact and a duct of just the longest length is not too long.
ELBOW_LENGTHS_IN: Mapping[Elbow, int] = {
    Elbow.MITRED_4_IN_45: 30,
    Elbow.MITRED_4_IN_90: 60,
    Elbow.SMOOTH_6_IN_45: 12,
    Elbow.SMOOTH_6_IN_90: 21,
    Elbow.SMOOTH_8_IN_45: 12,
    Elbow.SMOOTH_8_IN_90: 19,
    Elbow.SMOOTH_10_IN_45: 9,
    Elbow.SMOOTH_10_IN_90: 18,
}
OLD_ELBOW_45_IN = 30  # older editions of the IRC, of any radius [IRCM1502]_
OLD_ELBOW_90_IN = 60
LONGEST_FT: Mapping[DuctRule, float] = {
    DuctRule.IRC: 35.0,  # [IRCM1502]_
    DuctRule.IRC_OLD: 25.0,  # [IRCM1502]_
    DuctRule.UMC: 14.0,  # [UMC504]_
}
UMC_FREE_ELBOWS = 2  # [UMC504]_
UMC_ELBOW_IN = 24  # each further 90-degree elbow [UMC504]_
LABEL_OVER_FT = 35.0  # longer equivalent lengths are written on a label [IRCM1502]_

LENGTH = Limits(0, 200, "ft")
ELBOWS = Limits(0, 20, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctRun:
    """A duct: its rule, its elbows, and its length from transition duct to hood if measured."""

    rule: DuctRule
    elbows: Mapping[Elbow, int] = field(default_factory=dict)
    length_ft: float | None = None
    maker_length_ft: float | None = None

    def __post_init__(self) -> None:
        """Check the numbers, and that the maker's rule has the maker's figure."""
        for elbow, count in self.elbows.items():
            ELBOWS.check(elbow.value, count)
        if self.length_ft is not None:
            LENGTH.check("length", self.length_ft)
        if self.maker_length_ft is not None:
            LENGTH.check("maker_length", self.maker_length_ft)
        elif self.rule is DuctRule.MAKER:
            expected = f"the maker's longest duct, {LENGTH.text}, since the rule is the maker's"
            raise InputValueError("maker_length", "nothing", expected)

    @property
    def without_elbows_ft(self) -> float:
        """Longest duct that the rule allows where there is no elbow, in ft."""
        if self.rule is DuctRule.MAKER and self.maker_length_ft is not None:
            return self.maker_length_ft
        return LONGEST_FT[self.rule]


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctAllowance:
    """Longest duct and what its elbows took from it, in ft; negative if they took more than all.

    ``equivalent_ft`` is the measured length with the elbows added, ``spare_ft`` what is left of the
    longest duct; both are None if the length was not measured.
    """

    longest_ft: float
    elbows_ft: float
    equivalent_ft: float | None
    spare_ft: float | None


def elbows_length_in(rule: DuctRule, elbows: Mapping[Elbow, int]) -> int:
    """Straight duct that the elbows count as under a rule, in inches."""
    count_90 = sum(count for elbow, count in elbows.items() if elbow.is_90)
    count_45 = sum(count for elbow, count in elbows.items() if not elbow.is_90)
    if rule is DuctRule.UMC:
        return UMC_ELBOW_IN * max(0, count_90 - UMC_FREE_ELBOWS)
    if rule is DuctRule.IRC_OLD:
        return OLD_ELBOW_90_IN * count_90 + OLD_ELBOW_45_IN * count_45
    return sum(ELBOW_LENGTHS_IN[elbow] * count for elbow, count in elbows.items())


def duct_allowance(run: DuctRun) -> DuctAllowance:
    """Longest duct that the rule allows with these elbows.

    Parameters
    ----------
    run : DuctRun
        Elbows by kind; lengths in ft, without the transition duct.

    Returns
    -------
    DuctAllowance
        Lengths in ft.
    """
    elbows_in = elbows_length_in(run.rule, run.elbows)
    longest_ft = (run.without_elbows_ft * INCHES_PER_FOOT - elbows_in) / INCHES_PER_FOOT
    elbows_ft = elbows_in / INCHES_PER_FOOT
    length_ft = run.length_ft
    return DuctAllowance(
        longest_ft=longest_ft,
        elbows_ft=elbows_ft,
        equivalent_ft=None if length_ft is None else length_ft + elbows_ft,
        spare_ft=None if length_ft is None else longest_ft - length_ft,
    )


RULE_NOTES: Mapping[DuctRule, str] = {
    DuctRule.IRC: "If the dryer's own sheet has another length, that one holds: choose maker.",
    DuctRule.IRC_OLD: "Newer editions allow 35 ft. Ask which edition the town has adopted.",
    DuctRule.UMC: "The rule names 90-degree elbows only; 45-degree ones are not counted here.",
    DuctRule.MAKER: "The elbows are taken from the table of the IRC. If the maker's sheet has a "
    "figure for this number of elbows, enter that figure and no elbows.",
}


def _sentence(allowance: DuctAllowance) -> tuple[Judgement, str]:
    longest = FEET.text(allowance.longest_ft)
    if allowance.longest_ft <= 0:
        return Judgement.OUTSIDE, "The elbows alone use up the whole length: take elbows out."
    if allowance.spare_ft is None:
        return Judgement.NOT_JUDGED, f"The duct may be up to {longest} long with these elbows."
    if allowance.spare_ft < 0:
        over = FEET.text(-allowance.spare_ft)
        return Judgement.OUTSIDE, f"The duct is {over} too long: shorten it or take elbows out."
    spare = FEET.text(allowance.spare_ft)
    return Judgement.INSIDE, f"The duct is within the {longest} allowed, with {spare} to spare."


def _work(entries: Entries) -> Outcome:
    numbers = entries.numbers
    run = DuctRun(
        rule=DuctRule(entries.choices["rule"]),
        elbows={elbow: int(numbers[elbow.value]) for elbow in Elbow},
        length_ft=numbers.get("length"),
        maker_length_ft=numbers.get("maker_length"),
    )
    allowance = duct_allowance(run)
    lines = [
        result_line("longest", "Longest duct allowed", FEET, allowance.longest_ft),
        result_line("elbows_count_as", "The elbows count as", FEET, allowance.elbows_ft),
    ]
    notes = [
        "Measure from the end of the transition duct to the hood, without the transition duct.",
        RULE_NOTES[run.rule],
    ]
    if allowance.equivalent_ft is not None and run.rule is not DuctRule.UMC:
        lines.append(result_line("equivalent", "Length with elbows", FEET, allowance.equivalent_ft))
        if allowance.equivalent_ft > LABEL_OVER_FT:
            notes.append("Over 35 ft with elbows: a label within 6 ft of the connection says so.")
    judgement, sentence = _sentence(allowance)
    return Outcome(lines=tuple(lines), judgement=judgement, sentence=sentence, notes=tuple(notes))


CALCULATOR = Calculator(
    id="dryer_duct",
    title="Dryer duct length",
    purpose="How long the exhaust duct may be, after its elbows.",
    inputs=(
        ChoiceInput(
            id="rule",
            label="Rule",
            hint="What the local code follows, or the dryer's own sheet",
            choices={
                DuctRule.IRC: "IRC: 35 ft less elbows",
                DuctRule.IRC_OLD: "Older IRC: 25 ft less elbows",
                DuctRule.UMC: "UMC: 14 ft with two elbows",
                DuctRule.MAKER: "The dryer maker's figure",
            },
            default=DuctRule.IRC,
        ),
        *(
            NumberInput(
                id=elbow.value,
                label=elbow.label,
                hint="How many",
                quantity=COUNT,
                limits=ELBOWS,
                default=0.0,
                is_whole=True,
            )
            for elbow in Elbow
        ),
        NumberInput(
            id="length",
            label="Length of the duct",
            hint="From the end of the transition duct to the hood",
            quantity=FEET,
            limits=LENGTH,
            is_optional=True,
        ),
        NumberInput(
            id="maker_length",
            label="Longest duct by the maker's sheet",
            hint="Only with the maker's rule",
            quantity=FEET,
            limits=LENGTH,
            is_optional=True,
        ),
    ),
    work=_work,
    source="IRC M1502 and UMC 504, as code explainers, permit sheets and a forum quote them; "
    "the code books themselves were not read",
    source_keys=("IRCM1502", "UMC504"),
)
