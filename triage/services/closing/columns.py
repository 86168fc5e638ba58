"""Columns of the file of closed jobs (docs/closed-jobs.md): one list for import and export.

A file is CSV in UTF-8 with one line a job. A cell that holds several things parts them by ``;``,
and gives each as ``name=value``::

    says_water_left=yes; meters_supply=97.5

>>> [entry.name for entry in COLUMNS if entry.is_required]
['job', 'network', 'closed_at', 'outcome']
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
    Column(name="source", title="Source", holds="where the job was kept; empty: the file"),
    Column(
        name="network",
        title="Appliance",
        holds="id of the network, such as top_load_washer",
        is_required=True,
    ),
    Column(
        name="network_version",
        title="Version of the network",
        holds="whole number; empty: the one in use now",
    ),
    Column(name="opened_at", title="Called", holds="day, or day and time; empty: as closed"),
    Column(
        name="closed_at",
        title="Closed",
        holds="day, or day and time (2026-03-02T14:30:00Z)",
        is_required=True,
    ),
    Column(name="taken_by", title="Call taken by", holds="name"),
    Column(name="closed_by", title="Closed by", holds="name"),
    Column(
        name="outcome",
        title="Outcome",
        holds="repaired, declined, solved_by_phone, referred_out or no_fault_found",
        is_required=True,
    ),
    Column(
        name="findings",
        title="Findings",
        holds="observation=answer; ... as made before the first repair, in order",
    ),
    Column(
        name="causes",
        title="Causes",
        holds="cause=degree; ... degree is works_after_repair, seen or judged; with "
        "@weight where it is unsure which of several it was",
    ),
    Column(name="is_unsure", title="Unsure", holds="yes where one of the causes was it, else no"),
    Column(
        name="chosen_by",
        title="Cause chosen by",
        holds="cause=observation+observation; ... answers that made somebody name the cause",
    ),
    Column(name="repairs", title="Repairs", holds="repair; repair; ... in order"),
    Column(
        name="verification",
        title="Check run",
        holds="works, still_broken or not_run; empty: not_run",
    ),
    Column(
        name="parts",
        title="Parts fitted",
        holds="part=pieces@price; ... with part/number where the shop has numbers of its own",
    ),
    Column(
        name="parts_not_aboard",
        title="Parts that were not on the van",
        holds="part; part/number; ... out of those fitted",
    ),
    Column(name="minutes", title="Minutes on site", holds="number"),
    Column(
        name="step_minutes",
        title="Minutes of steps",
        holds="observation or repair=minutes; ...",
    ),
    Column(name="visits", title="Visits", holds="whole number; empty: 1, by phone 0"),
    Column(name="callback_of", title="Call-back of", holds="the earlier job of the same source"),
    Column(name="callback_kind", title="Complaint of the call-back", holds="same or new"),
    Column(name="fee_minor", title="Fee", holds="hundredths of the currency"),
    Column(name="labour_minor", title="Labour", holds="hundredths of the currency"),
    Column(name="tax_minor", title="Tax", holds="hundredths of the currency"),
    Column(name="total_minor", title="Total", holds="hundredths of the currency"),
    Column(name="currency", title="Currency", holds="three letters, such as USD"),
    Column(
        name="promised_minutes",
        title="Minutes promised",
        holds="middle/eight of ten, such as 35/60",
    ),
    Column(
        name="promised_price_minor",
        title="Price promised",
        holds="low-high in hundredths of the currency",
    ),
    Column(
        name="promised_first_visit",
        title="Promised: done on the first visit",
        holds="chance between 0 and 1",
    ),
    Column(name="promised_parts", title="Parts to take along", holds="part; part; ..."),
    Column(name="promised_causes", title="Causes expected", holds="cause=chance; ..."),
    Column(name="note", title="Note", holds="text"),
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
