"""Columns of the file of closed jobs (docs/closed-jobs.md): one list for import and export.

A file is CSV in UTF-8 with one line a job. A cell that holds several things parts them by ``;``,
and gives each as ``name=value``::

    says_water_left=yes; meters_supply=97.5

>>> [entry.name for entry in COLUMNS if entry.is_required]
['job', 'appliance', 'closed_at', 'outcome']
>>> split_items("says_water_left=yes; meters_supply=97.5 ;")
(('says_water_left', 'yes'), ('meters_supply', '97.5'))
>>> join_items([("says_water_left", "yes"), ("tests_fill", "")])
'says_water_left=yes; tests_fill'
"""

from collections.abc import Iterable
from dataclasses import dataclass

BETWEEN, EQUALS = ";", "="


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column: its name in the file, what people call it, and what a cell holds."""

    name: str
    title: str
    holds: str
    is_required: bool = False


COLUMNS: tuple[Column, ...] = (
    Column(
        name="job",
        title="Job",
        holds="number or name of the job, once in a source",
        is_required=True,
    ),
    Column(
        name="source",
        title="Source",
        holds="where the job was kept; empty: the name of the file",
    ),
    Column(
        name="appliance",
        title="Appliance",
        holds="id of the network, such as top_load_washer",
        is_required=True,
    ),
    Column(
        name="network_version",
        title="Version of the network",
        holds="whole number; empty: the one in use",
    ),
    Column(
        name="opened_at",
        title="Called",
        holds="day, or day and time, in UTC unless it has a zone; empty: as closed",
    ),
    Column(
        name="closed_at",
        title="Closed",
        holds="day, or day and time, in UTC unless it has a zone",
        is_required=True,
    ),
    Column(
        name="taken_by",
        title="Call taken by",
        holds="name of who took the call",
    ),
    Column(
        name="closed_by",
        title="Closed by",
        holds="name of who closed the job",
    ),
    Column(
        name="outcome",
        title="Outcome",
        holds="repaired, declined, solved_by_phone, referred_out or no_fault_found",
        is_required=True,
    ),
    Column(
        name="findings",
        title="Findings",
        holds="observation=answer before the first repair, in their order",
    ),
    Column(
        name="causes",
        title="Causes",
        holds="cause=degree; degrees are works_after_repair, seen and judged; @weight "
        "after the degree where it is known how likely each of several was",
    ),
    Column(
        name="is_unsure",
        title="Unsure",
        holds="yes if it was one of the causes and nobody knows which, else no",
    ),
    Column(
        name="chosen_by",
        title="Cause chosen by",
        holds="cause=observation+observation, the answers that made somebody name it",
    ),
    Column(
        name="repairs",
        title="Repairs",
        holds="ids of the repairs that were done, in order",
    ),
    Column(
        name="verification",
        title="Check run",
        holds="what the check run showed: works, still_broken or not_run",
    ),
    Column(
        name="parts",
        title="Parts fitted",
        holds="part*pieces@price of one, in minor units; /number after the part where it has one",
    ),
    Column(
        name="parts_not_aboard",
        title="Parts that were not on the van",
        holds="parts out of those fitted, with their numbers",
    ),
    Column(
        name="minutes",
        title="Minutes on site",
        holds="number",
    ),
    Column(
        name="step_minutes",
        title="Minutes of steps",
        holds="observation=minutes or repair=minutes",
    ),
    Column(
        name="visits",
        title="Visits",
        holds="how often somebody came; empty: once, never if solved by phone",
    ),
    Column(
        name="callback_of",
        title="Call-back of",
        holds="number of the earlier job of the same source that this one follows up",
    ),
    Column(
        name="callback_kind",
        title="Complaint of the call-back",
        holds="same or new",
    ),
    Column(
        name="fee_minor",
        title="Fee",
        holds="fee, in minor units of the currency",
    ),
    Column(
        name="labour_minor",
        title="Labour",
        holds="labour, in minor units",
    ),
    Column(
        name="tax_minor",
        title="Tax",
        holds="tax, in minor units",
    ),
    Column(
        name="total_minor",
        title="Total",
        holds="what the customer paid, in minor units",
    ),
    Column(
        name="currency",
        title="Currency",
        holds="ISO 4217 code; empty: that of the network",
    ),
    Column(
        name="promised_minutes_p50",
        title="Minutes promised: half",
        holds="minutes that half of such visits take, as said at the booking",
    ),
    Column(
        name="promised_minutes_p80",
        title="Minutes promised: eight of ten",
        holds="minutes that eight of ten take",
    ),
    Column(
        name="promised_price_low_minor",
        title="Price promised: low",
        holds="lower end of the price range that was said",
    ),
    Column(
        name="promised_price_high_minor",
        title="Price promised: high",
        holds="upper end",
    ),
    Column(
        name="promised_first_visit",
        title="Promised: done on the first visit",
        holds="chance to finish on the first visit, between 0 and 1",
    ),
    Column(
        name="promised_parts",
        title="Parts to take along",
        holds="parts or numbers, as the load list said",
    ),
    Column(
        name="promised_causes",
        title="Causes expected",
        holds="cause=chance at the end of the call",
    ),
)
NAMES: tuple[str, ...] = tuple(entry.name for entry in COLUMNS)
BY_NAME = {entry.name: entry for entry in COLUMNS}


def split_items(cell: str) -> tuple[tuple[str, str], ...]:
    """Names and values of a cell that holds several; a value that is not given is empty."""
    items = (item.strip() for item in cell.split(BETWEEN))
    pairs = (item.partition(EQUALS) for item in items if item)
    return tuple((name.strip(), value.strip()) for name, _, value in pairs)


def join_items(items: Iterable[tuple[str, str]]) -> str:
    """Cell that ``split_items`` reads back."""
    words = (f"{name}{EQUALS}{value}" if value else name for name, value in items)
    return f"{BETWEEN} ".join(words)
