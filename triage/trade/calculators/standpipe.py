"""Height of the standpipe that a washer drains into.

UPC 804.1: the pipe ends 18 to 30 in above the weir of its trap, and the trap sits 6 to 18 in
above the floor [UPC804]_. IPC 802.4: 18 to 42 in above the weir; no height of the trap [IPC802]_.

>>> pipe = Standpipe(code=StandpipeCode.UPC, trap_in=8.0, top_in=50.0)
>>> top_range_in(pipe), standpipe_faults(pipe)
((26.0, 38.0), (<StandpipeFault.TOO_HIGH: 'too_high'>,))
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from triage.trade.calculators.catalogue import (
    Calculator,
    ChoiceInput,
    Entries,
    Judgement,
    NumberInput,
    Outcome,
    result_line,
)
from triage.trade.calculators.quantities import INCHES, Limits


class StandpipeCode(StrEnum):
    """Plumbing code that holds where the washer stands."""

    UPC = "upc"
    IPC = "ipc"


class StandpipeFault(StrEnum):
    """What is wrong with the heights."""

    TOO_LOW = "too_low"
    TOO_HIGH = "too_high"
    TRAP_TOO_LOW = "trap_too_low"
    TRAP_TOO_HIGH = "trap_too_high"


PIPE_IN: Mapping[StandpipeCode, tuple[float, float]] = {
    StandpipeCode.UPC: (18.0, 30.0),  # [UPC804]_
    StandpipeCode.IPC: (18.0, 42.0),  # [IPC802]_
}
UPC_TRAP_IN = (6.0, 18.0)  # [UPC804]_

TRAP = Limits(-36, 60, "in")  # a trap below the floor is a fault, not a slip of typing
TOP = Limits(0, 144, "in")


@dataclass(frozen=True, slots=True, kw_only=True)
class Standpipe:
    """Heights above the floor, in inches: weir of the trap, and upper end of the pipe."""

    code: StandpipeCode
    trap_in: float
    top_in: float

    def __post_init__(self) -> None:
        """Check the heights."""
        TRAP.check("trap", self.trap_in)
        TOP.check("top", self.top_in)


def above_trap_in(pipe: Standpipe) -> float:
    """Height of the end of the pipe above the weir of the trap, in inches."""
    return pipe.top_in - pipe.trap_in


def top_range_in(pipe: Standpipe) -> tuple[float, float]:
    """Lowest and highest end of the pipe above the floor for its trap, in inches."""
    low, high = PIPE_IN[pipe.code]
    return pipe.trap_in + low, pipe.trap_in + high


def standpipe_faults(pipe: Standpipe) -> tuple[StandpipeFault, ...]:
    """Rules of the code that the heights break; empty if there is none."""
    low, high = top_range_in(pipe)
    has_trap_rule = pipe.code is StandpipeCode.UPC
    broken = {
        StandpipeFault.TOO_LOW: pipe.top_in < low,
        StandpipeFault.TOO_HIGH: pipe.top_in > high,
        StandpipeFault.TRAP_TOO_LOW: has_trap_rule and pipe.trap_in < UPC_TRAP_IN[0],
        StandpipeFault.TRAP_TOO_HIGH: has_trap_rule and pipe.trap_in > UPC_TRAP_IN[1],
    }
    return tuple(fault for fault, is_broken in broken.items() if is_broken)


FAULT_SENTENCES: Mapping[StandpipeFault, str] = {
    StandpipeFault.TOO_LOW: "The pipe is too low: the tub can siphon empty.",
    StandpipeFault.TOO_HIGH: "The pipe is too high: the pump may not lift the water.",
    StandpipeFault.TRAP_TOO_LOW: "The trap is lower than 6 in above the floor.",
    StandpipeFault.TRAP_TOO_HIGH: "The trap is higher than 18 in above the floor.",
}


def _work(entries: Entries) -> Outcome:
    pipe = Standpipe(
        code=StandpipeCode(entries.choices["code"]),
        trap_in=entries.numbers["trap"],
        top_in=entries.numbers["top"],
    )
    low, high = top_range_in(pipe)
    faults = standpipe_faults(pipe)
    sentences = [FAULT_SENTENCES[fault] for fault in faults]
    return Outcome(
        lines=(
            result_line(
                "above_trap", "End of the pipe above the trap", INCHES, above_trap_in(pipe)
            ),
            result_line("lowest", "Lowest end above the floor", INCHES, low),
            result_line("highest", "Highest end above the floor", INCHES, high),
        ),
        judgement=Judgement.OUTSIDE if faults else Judgement.INSIDE,
        sentence=" ".join(sentences) or "The heights are within the code.",
        notes=(
            "The washer's own sheet counts too: those that were read want the end of the pipe at "
            "least 30 to 39 in and at most 96 in above the floor.",
        ),
    )


CALCULATOR = Calculator(
    id="standpipe",
    title="Standpipe height",
    purpose="Whether the drain pipe of a washer ends at the right height.",
    inputs=(
        ChoiceInput(
            id="code",
            label="Plumbing code",
            hint="What the local code follows",
            choices={StandpipeCode.UPC: "UPC 804.1", StandpipeCode.IPC: "IPC 802.4"},
            default=StandpipeCode.UPC,
        ),
        NumberInput(
            id="trap",
            label="Trap above the floor",
            hint="Height of the weir, the level at which water runs out of the trap",
            quantity=INCHES,
            limits=TRAP,
        ),
        NumberInput(
            id="top",
            label="End of the pipe above the floor",
            hint="Where the drain hose goes in",
            quantity=INCHES,
            limits=TOP,
        ),
    ),
    work=_work,
    source="UPC 804.1, as its publisher prints it in notes of 2018 and 2024; IPC 802.4, as a "
    "question page quotes it",
    source_keys=("UPC804", "IPC802"),
)
