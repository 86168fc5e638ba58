"""Read model of the page of one file of closed jobs."""

from dataclasses import dataclass

from triage.services.closing.columns import BY_NAME
from triage.services.learning.files import COLUMNS, FilePreview

PROBLEMS_SHOWN = 100
LONGEST_SHOWN = 40
EMPTY = "empty"


@dataclass(frozen=True, slots=True)
class ProblemRow:
    """What is wrong with a line."""

    line: str
    column: str
    got: str
    expected: str
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileScreen:
    """Everything the page of a file shows; ``sentence`` says what would be taken in."""

    id: int
    name: str
    is_in: bool
    refusal: str
    sentence: str
    remarks: tuple[str, ...]
    problems: tuple[ProblemRow, ...]
    more_problems: str
    sample: str
    columns: tuple[str, ...]
    is_good: bool


def file_screen(preview: FilePreview) -> FileScreen:
    """Put the page of a file together."""
    problems = preview.found.problems if preview.found else ()
    more = len(problems) - PROBLEMS_SHOWN
    return FileScreen(
        id=preview.file.id,
        name=preview.file.name,
        is_in=preview.file.imported_at is not None,
        refusal=preview.refusal,
        sentence=_sentence(preview),
        remarks=tuple(_remarks(preview)),
        problems=tuple(
            ProblemRow(
                str(one.line),
                _title(one.column),
                one.got or EMPTY,
                one.expected,
                one.advice,
            )
            for one in problems[:PROBLEMS_SHOWN]
        ),
        more_problems=f"{more} more of them are not shown." if more > 0 else "",
        sample="\n".join(
            " | ".join(_short(cell) for cell in row) for row in (preview.heading, *preview.sample)
        ),
        columns=tuple(f"column_{own.name}" for own in COLUMNS),
        is_good=preview.is_good,
    )


def _sentence(preview: FilePreview) -> str:
    if preview.read is None or preview.found is None:
        return ""
    count = len(preview.found.new)
    jobs = "1 job is" if count == 1 else f"{count} jobs are"
    if preview.found.problems:
        return "Nothing can be taken in yet: correct what is listed, and send the file in again."
    return f"{jobs} new and can be taken in." if count else "Every job of the file is in already."


def _remarks(preview: FilePreview) -> list[str]:
    if preview.read is None or preview.found is None:
        return []
    remarks = [f"The file has {preview.read.lines} lines below its heading."]
    if preview.found.known:
        remarks.append(f"{len(preview.found.known)} of them were taken in before.")
    if preview.read.retired:
        remarks.append(f"{preview.read.retired} findings are no longer asked; they are left out.")
    return remarks


def _title(column: str) -> str:
    return BY_NAME[column].title if column in BY_NAME else "whole line"


def _short(cell: str) -> str:
    return cell if len(cell) <= LONGEST_SHOWN else f"{cell[:LONGEST_SHOWN]}…"
