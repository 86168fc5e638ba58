"""A file of closed jobs: bytes to lines, columns mapped to ours, lines read to records.

Encoding is UTF-8, with or without a mark at the beginning, or UTF-16 with one, as spreadsheets
write them. What parts the cells is seen from the heading: comma, semicolon, tab or bar. Columns may
have any order and any name: what we call ours is guessed and may be chosen. A column may also hold
the same for every line: ``=top_load_washer``.
"""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, tzinfo
from difflib import get_close_matches

from triage.errors import JobFileError, nearest
from triage.services.closing.columns import BY_NAME, COLUMNS, NAMES
from triage.services.closing.export import guarded, without_guard
from triage.services.learning.reading import CellProblem, LineReader, NetworkAt
from triage.services.learning.records import JobRecord, cells_of

DELIMITERS = (",", ";", "\t", "|")
LARGEST_BYTES = 20_000_000
MOST_LINES = 100_000
SAME_FOR_ALL = "="
LIKE = 0.85  # likeness of a heading that is taken for one of our columns
UTF_16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class JobTable:
    """Heading and lines of a file; each line with its number in the file."""

    heading: tuple[str, ...]
    lines: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRead:
    """What a file holds: records by line, and everything that is wrong.

    ``lines`` counts those with something in them; ``retired`` findings are no longer asked and
    were left out.
    """

    records: tuple[tuple[int, JobRecord], ...]
    problems: tuple[CellProblem, ...]
    lines: int
    retired: int


def decoded(content: bytes) -> str:
    """Text of a file.

    Raises
    ------
    JobFileError
        It is too large, empty, or in an encoding that cannot be told.
    """
    if len(content) > LARGEST_BYTES:
        raise JobFileError(
            f"{len(content) / 1e6:.0f} MB", f"at most {LARGEST_BYTES / 1e6:.0f} MB", "Split it."
        )
    encoding = "utf-16" if content.startswith(UTF_16) else "utf-8-sig"
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise JobFileError(
            f"bytes on line {line} that are not UTF-8",
            "a text file in UTF-8",
            "Save the sheet as CSV in UTF-8.",
        ) from None
    if "\x00" in text:
        raise JobFileError(
            "bytes that are no text", "a CSV file", "Save the sheet as CSV, not as a workbook."
        )
    return text


def table_of(text: str) -> JobTable:
    """Heading and lines of a text.

    Raises
    ------
    JobFileError
        There is no heading, a column stands there twice, or there are too many lines.
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(DELIMITERS, key=lambda sign: (first.count(sign), -DELIMITERS.index(sign)))
    rows = _rows(text, delimiter)
    heading = tuple(name.strip() for name in next(rows, (0, ()))[1])
    if not any(heading):
        raise JobFileError("nothing", "a heading and a line for each job", "Choose another file.")
    named = [name for name in heading if name]
    twice = sorted({name for name in named if named.count(name) > 1})
    if twice:
        raise JobFileError(f'the column "{twice[0]}" twice', "each once", "Rename one of them.")
    lines = tuple(rows)
    if len(lines) > MOST_LINES:
        raise JobFileError(f"{len(lines)} lines", f"at most {MOST_LINES}", "Split the file.")
    return JobTable(heading, lines, delimiter)


def _rows(text: str, delimiter: str) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Rows with the number of their first line; empty ones are passed over."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    line = 1
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise JobFileError(
                f"line {reader.line_num} that cannot be parted into cells ({error})",
                "quotes in pairs around a cell",
                "Correct the line.",
            ) from None
        if any(cell.strip() for cell in row):
            yield line, tuple(without_guard(cell) for cell in row)
        line = reader.line_num + 1


def guessed_columns(heading: Sequence[str]) -> dict[str, str]:
    """Column of the file for each of ours, as far as the names tell."""
    free = {_folded(name): name for name in heading if name}
    found: dict[str, str] = {}
    for own in COLUMNS:
        for name in (own.name, own.title):
            if own.name not in found and _folded(name) in free:
                found[own.name] = free.pop(_folded(name))
    for own in COLUMNS:
        if own.name not in found:
            close = get_close_matches(own.name, list(free), n=1, cutoff=LIKE)
            if close:
                found[own.name] = free.pop(close[0])
    return found


def checked_columns(heading: Sequence[str], given: Mapping[str, str]) -> dict[str, str]:
    """Columns that were chosen, without those left empty.

    Raises
    ------
    JobFileError
        One of ours that there is not, one of the file that it does not have, the same twice, or
        none for a column that is needed.
    """
    columns = {own: name.strip() for own, name in given.items() if name.strip()}
    for own, name in columns.items():
        if own not in BY_NAME:
            raise JobFileError(
                f'a column "{own}"', f"one of {', '.join(NAMES)}", nearest(own, NAMES).strip()
            )
        if not name.startswith(SAME_FOR_ALL) and name not in heading:
            raise JobFileError(
                f'"{name}" for {own}',
                f"a column of the file: {', '.join(heading)}",
                nearest(name, heading).strip(),
            )
    used = [name for name in columns.values() if not name.startswith(SAME_FOR_ALL)]
    twice = sorted({name for name in used if used.count(name) > 1})
    if twice:
        raise JobFileError(f'"{twice[0]}" for two columns', "each once", "Choose another.")
    missing = [own.name for own in COLUMNS if own.is_required and own.name not in columns]
    if missing:
        raise JobFileError(
            f"no column for {', '.join(missing)}",
            "a column of the file for each",
            "Name the column, or say what holds for every line.",
        )
    return columns


def read_jobs(
    table: JobTable,
    columns: Mapping[str, str],
    network_at: NetworkAt,
    *,
    source: str,
    zone: tzinfo = UTC,
) -> FileRead:
    """Read every line of a file.

    Parameters
    ----------
    table : JobTable
    columns : mapping
        Of ``checked_columns``.
    network_at : callable
        Network of a name and a version, or of the version in use.
    source : str
        Where the jobs were kept, unless a column says so.
    zone : tzinfo
        Of times without one.
    """
    reader = LineReader(network_at=network_at, source=source, zone=zone)
    place = {name: k for k, name in enumerate(table.heading)}
    records: list[tuple[int, JobRecord]] = []
    first: dict[str, int] = {}
    for line, row in table.lines:
        if len(row) > len(table.heading):
            expected = f"{len(table.heading)} cells, as in the heading"
            advice = f'Put quotes around a cell that holds "{table.delimiter}".'
            reader.problems.append(CellProblem(line, "", f"{len(row)} cells", expected, advice))
            continue
        cells = {
            own: name[1:] if name.startswith(SAME_FOR_ALL) else _cell(row, place[name])
            for own, name in columns.items()
        }
        record = reader.read(line, cells)
        if record is None:
            continue
        if record.identity in first:
            expected, advice = "each job once", f"It stands on line {first[record.identity]}, too."
            reader.problems.append(CellProblem(line, "job", record.job, expected, advice))
            continue
        first[record.identity] = line
        records.append((line, record))
    return FileRead(
        records=tuple(records),
        problems=tuple(reader.problems),
        lines=len(table.lines),
        retired=reader.retired,
    )


def jobs_as_text(records: Sequence[JobRecord]) -> str:
    """File that ``read_jobs`` reads back as the same records."""
    out = io.StringIO()
    writer = csv.DictWriter(out, NAMES)
    writer.writeheader()
    for record in records:
        writer.writerow({name: guarded(cell) for name, cell in cells_of(record).items()})
    return out.getvalue()


def _cell(row: Sequence[str], place: int) -> str:
    return row[place] if place < len(row) else ""


def _folded(name: str) -> str:
    return "_".join(name.lower().replace("-", " ").replace("_", " ").split())
