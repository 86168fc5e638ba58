"""What a trade table says of one appliance kind: words for frequencies, and the table itself.

The tables are common practice in the trade, no published source. Their figures hold what the
machine does and what people see of it; a network keeps the two apart, so that their product must
come back.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

ALMOST_ALWAYS, OFTEN, SOMETIMES, RARELY = 0.90, 0.60, 0.25, 0.05
RANGES = {  # of the figure of a row that stands for several failure modes
    ALMOST_ALWAYS: (0.80, 0.98),
    OFTEN: (0.40, 0.80),
    SOMETIMES: (0.10, 0.40),
    RARELY: (0.01, 0.10),
}
LEAK = 0.01
RARE_LEAK = 0.0015  # "0.001 to 0.002" for signs nobody reports by mistake

Row = tuple[str, ...]  # failure modes that the table has as one


@dataclass(frozen=True, slots=True)
class TradeTest:
    """A test, the answer of a machine without the fault, and the modes it is for."""

    id: str
    good: str
    modes: tuple[str, ...]
    sensitivity: float
    specificity: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TradeTable:
    """Trade table of one appliance kind, the id of its network.

    ``complaints`` say how often a caller whose machine has a row's fault reports the complaint;
    ``rarely_imagined`` are those that nobody reports by mistake. ``untied`` modes have links that
    the table does not have. ``shares_percent`` are the rows' parts of the calls, empty where the
    table is not typed; ``no_part_percent`` is that of use, installation and nothing found.
    ``repairs`` have the smallest and largest cost of the part in dollars, and minutes.
    """

    kind: str
    complaints: Mapping[str, Mapping[Row, float]]
    rarely_imagined: frozenset[str]
    tests: tuple[TradeTest, ...]
    no_part_percent: float
    untied: frozenset[str]
    shares_percent: Mapping[Row, float] = field(default_factory=dict)
    repairs: tuple[tuple[str, int, int, int], ...] = ()


def single_rows(listed: Mapping[str, Mapping[float, str]]) -> dict[str, dict[Row, float]]:
    """Complaints of a table in which every row is one failure mode."""
    return {
        complaint: {(mode,): figure for figure, modes in rows.items() for mode in modes.split()}
        for complaint, rows in listed.items()
    }


def trade_tests(listed: list[tuple[str, str, str, float, float]]) -> tuple[TradeTest, ...]:
    """Tests as typed: id, good answer, modes, sensitivity, specificity."""
    return tuple(
        TradeTest(test, good, tuple(modes.split()), sensitivity, specificity)
        for test, good, modes, sensitivity, specificity in listed
    )
