"""Band that a motor capacitor has to read within: its mark plus or minus its tolerance.

The tolerance is printed on the part. Where it is not, trade notes give 5, 6 or 10 percent; no
standard was read.

>>> low, high = capacitance_range_uf(Capacitor(marked_uf=30.0, tolerance_percent=6.0))
>>> round(low, 1), round(high, 1)
(28.2, 31.8)
"""

from dataclasses import dataclass

from triage.trade.calculators.catalogue import (
    Calculator,
    Entries,
    Judgement,
    NumberInput,
    Outcome,
    result_line,
)
from triage.trade.calculators.quantities import MICROFARADS, PERCENT, Limits

USUAL_TOLERANCE_PERCENT = 6.0  # trade notes on run capacitors

MARK = Limits(1, 1000, "µF")
TOLERANCE = Limits(1, 30, "%")
READING = Limits(0, 2000, "µF")


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacitor:
    """A capacitor by its marks."""

    marked_uf: float
    tolerance_percent: float

    def __post_init__(self) -> None:
        """Check the marks."""
        MARK.check("mark", self.marked_uf)
        TOLERANCE.check("tolerance", self.tolerance_percent)


def capacitance_range_uf(capacitor: Capacitor) -> tuple[float, float]:
    """Lowest and highest capacitance of a good part, in microfarad."""
    low_uf = capacitor.marked_uf * (100.0 - capacitor.tolerance_percent) / 100.0
    high_uf = capacitor.marked_uf * (100.0 + capacitor.tolerance_percent) / 100.0
    return low_uf, high_uf


def _judged(reading_uf: float | None, low_uf: float, high_uf: float) -> tuple[Judgement, str]:
    if reading_uf is None:
        band = f"{MICROFARADS.text(low_uf)} to {MICROFARADS.text(high_uf)}"
        return Judgement.NOT_JUDGED, f"A good part reads {band}."
    if reading_uf < low_uf:
        return Judgement.OUTSIDE, "The reading is too low: replace the capacitor."
    if reading_uf > high_uf:
        return Judgement.OUTSIDE, "The reading is too high: check the meter, then replace it."
    return Judgement.INSIDE, "The capacitor is good."


def _work(entries: Entries) -> Outcome:
    capacitor = Capacitor(
        marked_uf=entries.numbers["mark"], tolerance_percent=entries.numbers["tolerance"]
    )
    low_uf, high_uf = capacitance_range_uf(capacitor)
    judgement, sentence = _judged(entries.numbers.get("reading"), low_uf, high_uf)
    return Outcome(
        lines=(
            result_line("lowest", "Lowest", MICROFARADS, low_uf),
            result_line("highest", "Highest", MICROFARADS, high_uf),
        ),
        judgement=judgement,
        sentence=sentence,
        notes=(
            "Unplug, then discharge the capacitor before you touch it or put the meter on.",
            "If a range is printed on the part, that range is the band.",
        ),
    )


CALCULATOR = Calculator(
    id="capacitor",
    title="Capacitor tolerance",
    purpose="Between which readings a motor capacitor is good.",
    inputs=(
        NumberInput(
            id="mark",
            label="Capacitance on the part",
            hint="As printed",
            quantity=MICROFARADS,
            limits=MARK,
        ),
        NumberInput(
            id="tolerance",
            label="Tolerance on the part",
            hint="As printed; 5, 6 and 10 % are common",
            quantity=PERCENT,
            limits=TOLERANCE,
            default=USUAL_TOLERANCE_PERCENT,
        ),
        NumberInput(
            id="reading",
            label="Reading",
            hint="As measured, if it was",
            quantity=MICROFARADS,
            limits=READING,
            is_optional=True,
        ),
    ),
    work=_work,
    source="The marks on the part; 5, 6 and 10 % as trade notes on run capacitors give them; no "
    "standard was read",
)
