"""Sentences of the read models: probabilities as words, reasons, warnings."""

from collections.abc import Sequence

from triage.inference.engine import Cause
from triage.inference.evidence import DONT_KNOW
from triage.inference.explanation import Conflict, FindingWeight
from triage.inference.missing_mass import Certainty, MissingMass
from triage.network.values import VOLUNTEERED, NetworkIndex, Observation
from triage.trade.units import Units as Units
from triage.trade.units import accept_in as accept_in
from triage.trade.units import reading_in
from triage.trade.units import span_in as span_in
from triage.trade.units import told_in as told_in
from triage.trade.units import unit_in as unit_in

# Words for probabilities, lower bound of each. Common usage, no source; the number stands by.
CHANCE_WORDS = (
    (0.90, "almost certain"),
    (0.65, "very likely"),
    (0.40, "likely"),
    (0.15, "possible"),
    (0.04, "unlikely"),
    (0.0, "very unlikely"),
)
# Decibans: 3 doubles the odds, 10 makes them ten times as large [Good1950]_.
WEIGHT_WORDS = ((13.0, "very strongly"), (6.0, "strongly"), (2.0, "somewhat"), (0.5, "a little"))
SHIFT_WORTH_TELLING = 0.02
MINOR_UNITS = 100  # per unit of currency, as in the network files


def chance_word(probability: float) -> str:
    """Word for a probability."""
    return next(word for bound, word in CHANCE_WORDS if probability >= bound)


def percent(probability: float) -> str:
    """Probability in whole percent; "under 1 %" and "over 99 %" at the ends."""
    if probability < 0.01:
        return "under 1 %"
    if probability > 0.99:
        return "over 99 %"
    return f"{100 * probability:.0f} %"


def money(minor: float, currency: str) -> str:
    """Amount in whole units: plans and price ranges are not exact to the cent.

    >>> money(14833, "USD")
    '148 USD'
    """
    return f"{minor / MINOR_UNITS:,.0f} {currency}"


def money_range(low_minor: float, high_minor: float, currency: str) -> str:
    """Range of amounts; one amount if both are the same.

    >>> money_range(14833, 29200, "USD"), money_range(2000, 2000, "USD")
    ('148 to 292 USD', '20 USD')
    """
    high = money(high_minor, currency)
    low = money(low_minor, "").strip()
    return high if money(low_minor, currency) == high else f"{low} to {high}"


def answer_label(observation: Observation, answer: str | float) -> str:
    """Answer as people read it, in the unit of the network."""
    if isinstance(answer, float | int):
        unit = observation.reading.unit if observation.reading else ""
        return f"{answer:g} {unit}".strip()
    if answer == VOLUNTEERED:
        return "said unasked"
    if answer == DONT_KNOW:
        return "don't know"
    return observation.answers.get(answer, answer.replace("_", " "))


def answer_in(observation: Observation, answer: str | float, units: Units) -> str:
    """Answer as people read it; a reading, or a quantity in its words, in the units of a shop."""
    if isinstance(answer, float | int) and observation.reading is not None:
        return reading_in(observation.reading, answer, units)
    return told_in(answer_label(observation, answer), units)


def missing_mass_sentence(missing: MissingMass, limit: float) -> str:
    """What the ranking left out, in one sentence."""
    if missing.certainty is Certainty.UNKNOWN:
        return "How much the list of combined failures leaves out could not be computed here."
    per_cent = round(100 * missing.share, 2)
    share = f"{per_cent:g} %" if per_cent else "less than 0.01 %"
    rounded = " for an average machine" if missing.certainty is Certainty.AVERAGED else ""
    if missing.share > limit:
        return (
            f"Combinations of more failures than listed hold {share} of the probability{rounded}."
        )
    return f"Exact within {share} of the probability{rounded}."


def conflict_sentence(index: NetworkIndex, conflict: Conflict) -> str:
    """Warning when findings hardly go together; empty otherwise."""
    if not conflict.is_suspicious or conflict.least_likely is None:
        return ""
    observation = index.observation(conflict.least_likely.observation)
    answer = answer_label(observation, conflict.least_likely.answer)
    return (
        f"These answers hardly go together. The one that fits least is "
        f"“{observation.title}: {answer}”. "
        f"Ask again, or look for a second machine or a second fault."
    )


def asking_sentence(questions_that_pay: int) -> str:
    """Whether to go on asking."""
    if questions_that_pay == 0:
        return "Enough asked: no further question would save enough for the time it takes."
    if questions_that_pay == 1:
        return "One more question still saves much more than it costs."
    return f"Asking still pays: {questions_that_pay} questions save much more than they cost."


def weight_sentence(index: NetworkIndex, weight: FindingWeight) -> str:
    """How one finding speaks for or against a cause."""
    observation = index.observation(weight.finding.observation)
    said = f"“{observation.title}: {answer_label(observation, weight.finding.answer)}”"
    size = abs(weight.decibans)
    word = next((word for bound, word in WEIGHT_WORDS if size >= bound), "")
    if not word:
        return f"{said} hardly matters for it"
    direction = "for" if weight.decibans > 0 else "against"
    return f"{said} speaks {word} {direction} it"


def reason_to_ask(shifts: Sequence[tuple[str, Cause, float]]) -> str:
    """Why an observation is worth making: what its answers would do to the leading causes.

    ``shifts`` holds answer label, cause as it stands, probability after that answer.
    """
    label, cause, after = max(shifts, key=lambda shift: shift[2] - shift[1].probability)
    if after - cause.probability < SHIFT_WORTH_TELLING:
        return "Confirms the picture; it moves no cause by much."
    first = (
        f"“{label}” would raise {cause.title} from {percent(cause.probability)} to {percent(after)}"
    )
    others = [shift for shift in shifts if shift[0] != label]
    if not others:
        return f"{first}."
    other, moved, rest = max(others, key=lambda shift: abs(shift[2] - shift[1].probability))
    verb = "raise" if rest > moved.probability else "lower"
    if moved.mode == cause.mode:
        return f"{first}; “{other}” would {verb} it to {percent(rest)}."
    return (
        f"{first}; “{other}” would {verb} {moved.title} from {percent(moved.probability)} "
        f"to {percent(rest)}."
    )
