"""Lines of a file of closed jobs become records, checked against the network of their time.

Every cell that is wrong is told, not only the first of a line.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo
from functools import partial
from typing import TypeVar

from triage.errors import UnknownNetworkError, UnknownVersionError, nearest
from triage.network.catalogue import network_names
from triage.network.renames import RenameTable, shipped_renames
from triage.network.values import FaultNetwork
from triage.services.closing.columns import split_items
from triage.services.closing.keeping import MOST_MINOR, MOST_MINUTES
from triage.services.closing.values import (
    CallBackKind,
    CauseClosed,
    ClosingOutcome,
    PartUsed,
    Promised,
)
from triage.services.job.events import Verified
from triage.services.learning import cells
from triage.services.learning.cells import CellError
from triage.services.learning.entries import Entries, not_aboard
from triage.services.learning.ids import IdsOf
from triage.services.learning.records import JobRecord

T = TypeVar("T")
NetworkAt = Callable[[str, int | None], FaultNetwork]
MOST_VISITS = 50
CURRENCY_LETTERS = 3
NEEDED = {
    "job": "a number or name of the job",
    "closed_at": "the day on which the job was closed",
    "outcome": "how the job ended",
}


@dataclass(frozen=True, slots=True)
class CellProblem:
    """What is wrong with a line; ``column`` is empty where it is the line as a whole."""

    line: int
    column: str
    got: str
    expected: str
    advice: str

    def __str__(self) -> str:
        place = f'line {self.line}, column "{self.column}"' if self.column else f"line {self.line}"
        return f'{place}: got "{self.got}"; expected {self.expected}. {self.advice}'


@dataclass(slots=True, kw_only=True)
class LineReader:
    """Reads the lines of one file.

    ``network_at`` gives the network of a name and version, None for the version in use.
    ``problems`` collects what is wrong, ``retired`` counts what is no longer asked and left out.
    """

    network_at: NetworkAt
    source: str
    zone: tzinfo = UTC
    renames: RenameTable = field(default_factory=shipped_renames)
    problems: list[CellProblem] = field(default_factory=list)
    retired: int = 0

    def read(self, line: int, row: Mapping[str, str]) -> JobRecord | None:
        """Record of a line, or None if something is wrong with it."""
        return _Line(self, line, row).record()


class _Line:
    """One line; ``cell`` reads a column and notes what is wrong."""

    def __init__(self, reader: LineReader, line: int, row: Mapping[str, str]) -> None:
        self.reader, self.line, self.row = reader, line, row
        self.before = len(reader.problems)

    @property
    def is_wrong(self) -> bool:
        return len(self.reader.problems) > self.before

    def cell(self, column: str, read: Callable[[str], T], otherwise: T) -> T:
        """Value of a cell; ``otherwise`` where it is empty or wrong."""
        text = self.row.get(column, "").strip()
        return self.attempt(column, partial(read, text), otherwise) if text else otherwise

    def attempt(self, column: str, read: Callable[[], T], otherwise: T) -> T:
        try:
            return read()
        except CellError as error:
            problem = CellProblem(self.line, column, error.got, error.expected, error.advice)
            self.reader.problems.append(problem)
            return otherwise

    def record(self) -> JobRecord | None:
        for column, what in NEEDED.items():
            read = partial(cells.needed, self.row.get(column, ""), what=what)
            self.attempt(column, read, "")
        network = self.attempt("appliance", self._network, None)
        if network is None:
            return None
        entries = Entries(IdsOf(network, self.reader.renames))
        found = self._with_money(self._record(network, entries), network)
        self.reader.retired += entries.retired
        return None if self.is_wrong else found

    def _network(self) -> FaultNetwork:
        name = cells.needed(self.row.get("appliance", ""), what="the id of an appliance kind")
        version = self.cell("network_version", _version, None)
        try:
            return self.reader.network_at(name, version)
        except UnknownNetworkError:
            known = network_names()
            expected = f"the id of a network: {', '.join(known)}"
            raise CellError(name, expected, f"Write the id.{nearest(name, known)}") from None
        except UnknownVersionError as error:
            expected = "a version that is kept, or nothing"
            raise CellError(f"{name} {error.version}", expected, "Leave it empty.") from None

    def _record(self, network: FaultNetwork, entries: Entries) -> JobRecord:
        outcome = self.cell("outcome", _outcome, ClosingOutcome.NO_FAULT_FOUND)
        opened_at, closed_at = self._times()
        nobody: Mapping[str, tuple[str, ...]] = {}
        no_causes: tuple[CauseClosed, ...] = ()
        no_parts: tuple[PartUsed, ...] = ()
        chosen = self.cell("chosen_by", entries.chosen_by, nobody)
        causes = self.cell("causes", entries.causes, no_causes)
        parts = self.cell("parts", entries.parts, no_parts)
        by_phone = outcome is ClosingOutcome.SOLVED_BY_PHONE
        return JobRecord(
            job=self.row.get("job", "").strip(),
            source=self.cell("source", _name, self.reader.source),
            appliance=network.id,
            network_version=network.version,
            opened_at=opened_at,
            closed_at=closed_at,
            taken_by=self.cell("taken_by", _name, ""),
            closed_by=self.cell("closed_by", _name, ""),
            outcome=outcome,
            findings=self.cell("findings", entries.findings, ()),
            causes=tuple(replace(one, chosen_by=chosen.get(one.cause, ())) for one in causes),
            is_unsure=self.cell("is_unsure", cells.read_yes_or_no, False),
            repairs=self.cell("repairs", entries.repairs, ()),
            verification=self.cell("verification", _verification, Verified.NOT_RUN),
            parts=self.cell("parts_not_aboard", lambda text: not_aboard(text, parts), parts),
            minutes=self.cell("minutes", _minutes, None),
            step_minutes=self.cell("step_minutes", entries.minutes, {}),
            visits=self.cell("visits", _visits, 0 if by_phone else 1),
            callback_of=self.cell("callback_of", _name, ""),
            callback_kind=self.cell("callback_kind", _callback, CallBackKind.NONE),
            promised=self._promised(network, entries),
        )

    def _with_money(self, record: JobRecord, network: FaultNetwork) -> JobRecord:
        if bool(record.callback_of) != bool(record.callback_kind):
            self.attempt("callback_kind", partial(_refuse_callback, record), None)
        if record.is_unsure and len(record.causes) < 2:
            self.attempt("is_unsure", _refuse_unsure, None)
        return replace(
            record,
            fee_minor=self.cell("fee_minor", _minor, 0),
            labour_minor=self.cell("labour_minor", _minor, 0),
            tax_minor=self.cell("tax_minor", _minor, 0),
            total_minor=self.cell("total_minor", _minor, 0),
            currency=self.cell("currency", _currency, network.currency),
        )

    def _times(self) -> tuple[datetime, datetime]:
        nothing = datetime(2000, 1, 1, tzinfo=UTC)  # a line without a day is told already
        read = partial(cells.read_moment, zone=self.reader.zone)
        closed_at = self.cell("closed_at", read, nothing)
        opened_at = self.cell("opened_at", read, closed_at)
        if not self.is_wrong and opened_at > closed_at:
            self.attempt("opened_at", partial(_refuse_order, self.row["opened_at"]), None)
        return opened_at, closed_at

    def _promised(self, network: FaultNetwork, entries: Entries) -> Promised | None:
        half = self.cell("promised_minutes_p50", _minutes_or_none, None)
        if half is None:
            return None
        low = self.cell("promised_price_low_minor", _minor, 0)
        return Promised(
            minutes_p50=half,
            minutes_p80=self.cell("promised_minutes_p80", _minutes, half),
            price_low_minor=low,
            price_high_minor=self.cell("promised_price_high_minor", _minor, low),
            first_visit_share=self.cell("promised_first_visit", _chance, 0.0),
            parts=self.cell("promised_parts", _names, ()),
            causes=self.cell("promised_causes", entries.chances, {}),
            settings_version=0,
            network_version=network.version,
        )


def _outcome(text: str) -> ClosingOutcome:
    return cells.read_choice(text, ClosingOutcome, what="how the job ended")


def _verification(text: str) -> Verified:
    return cells.read_choice(text, Verified, what="what the check run showed")


def _callback(text: str) -> CallBackKind:
    return cells.read_choice(text, CallBackKind, what="the complaint of a call-back")


def _version(text: str) -> int | None:
    return cells.read_whole(text, what="the number of a version")


def _name(text: str) -> str:
    return cells.read_text(text, what="a name")


def _names(text: str) -> tuple[str, ...]:
    return tuple(name for name, _ in split_items(text))


def _minutes(text: str) -> float:
    return cells.read_number(text, what="minutes", most=MOST_MINUTES)


def _minutes_or_none(text: str) -> float | None:
    return _minutes(text)


def _visits(text: str) -> int:
    return cells.read_whole(text, what="a number of visits", most=MOST_VISITS)


def _minor(text: str) -> int:
    return cells.read_whole(text, what="an amount in hundredths", most=10 * MOST_MINOR)


def _chance(text: str) -> float:
    return cells.read_number(text, what="a chance", most=1.0)


def _currency(text: str) -> str:
    code = text.upper()
    if len(code) != CURRENCY_LETTERS or not code.isalpha():
        raise CellError(text, "three letters, such as USD", "Write the code of the currency.")
    return code


def _refuse_order(opened: str) -> None:
    raise CellError(opened, "a time before the job was closed", "Correct one of the two.")


def _refuse_callback(record: JobRecord) -> None:
    raise CellError(
        record.callback_kind.value or record.callback_of,
        "both the earlier job and same or new, or neither",
        "Fill in both columns.",
    )


def _refuse_unsure() -> None:
    raise CellError("yes", "at least two causes", "Name those it may have been, or write no.")
