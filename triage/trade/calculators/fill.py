"""Time to fill a washer from the flow of its supply.

Volume over flow. That a flow under 1.5 gal/min is too little is common practice without a source;
that makers stop a fill after some 8 to 20 minutes is from memory.

>>> fill_minutes(Fill(volume_gal=15.0, flow_gal_per_min=5.0))
3.0
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
from triage.trade.calculators.quantities import (
    GALLONS,
    GALLONS_PER_MINUTE,
    MINUTES,
    Limits,
)

LEAST_FLOW_GAL_PER_MIN = 1.5  # common practice, no source
TIME_OUT_FROM_MIN = 8.0  # the shortest of the makers' limits, from memory

VOLUME = Limits(0.5, 50, "gal")
FLOW = Limits(0.05, 20, "gal/min")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """Water that a fill takes, in US gal, and flow that comes, in US gal/min."""

    volume_gal: float
    flow_gal_per_min: float

    def __post_init__(self) -> None:
        """Check volume and flow."""
        VOLUME.check("volume", self.volume_gal)
        FLOW.check("flow", self.flow_gal_per_min)


def fill_minutes(fill: Fill) -> float:
    """Time that the fill takes, in minutes."""
    return fill.volume_gal / fill.flow_gal_per_min


def _work(entries: Entries) -> Outcome:
    fill = Fill(volume_gal=entries.numbers["volume"], flow_gal_per_min=entries.numbers["flow"])
    minutes = fill_minutes(fill)
    is_weak = fill.flow_gal_per_min < LEAST_FLOW_GAL_PER_MIN
    is_slow = minutes >= TIME_OUT_FROM_MIN
    least = GALLONS_PER_MINUTE.text(LEAST_FLOW_GAL_PER_MIN)
    if is_weak:
        sentence = f"Under {least}: look at the taps, the hoses, the screens and the supply."
    elif is_slow:
        sentence = "The flow is fair, but a fill this long may be taken for a fault."
    else:
        sentence = "The flow is enough."
    if is_weak and is_slow:
        sentence += " A fill this long may be taken for a fault."
    judgement = Judgement.BORDERLINE if is_slow else Judgement.INSIDE
    return Outcome(
        lines=(result_line("fill_time", "Time to fill", MINUTES, minutes),),
        judgement=Judgement.OUTSIDE if is_weak else judgement,
        sentence=sentence,
        notes=(
            "Many machines stop a fill after some 8 to 20 minutes; the machine's sheet says when.",
        ),
    )


CALCULATOR = Calculator(
    id="fill_time",
    title="Fill time",
    purpose="How long a washer takes to fill from the flow into a bucket.",
    inputs=(
        NumberInput(
            id="volume",
            label="Water for one fill",
            hint="Top-load about 15 gal, front-load 3 to 6 gal",
            quantity=GALLONS,
            limits=VOLUME,
            default=15.0,
        ),
        NumberInput(
            id="flow",
            label="Flow",
            hint="Into a bucket for 15 seconds, times four",
            quantity=GALLONS_PER_MINUTE,
            limits=FLOW,
        ),
    ),
    work=_work,
    source="Volume over flow; 1.5 gal/min is common practice without a source; 8 to 20 minutes is "
    "from memory",
)
