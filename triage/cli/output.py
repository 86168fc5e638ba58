"""How the commands print: text for people at the width of the terminal, JSON for programs."""

import json
import shutil
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypeVar

import click

NARROWEST, WIDEST = 60, 100  # columns; longer lines are hard to read
BAR_COLUMNS = 10

Command = TypeVar("Command", bound=Callable[..., Any])


def json_option(command: Command) -> Command:
    """Add ``--json``, passed on as ``as_json``."""
    option = click.option("--json", "as_json", is_flag=True, help="Print JSON (docs/json.md).")
    return option(command)


def network_argument(command: Command) -> Command:
    """Add the argument ``NETWORK``."""
    return click.argument("network", metavar="NETWORK")(command)


def write_json(data: Mapping[str, Any]) -> None:
    """Print data as JSON, keys in their order."""
    click.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def columns() -> int:
    """Width to print at: that of the terminal, within limits; 80 where there is none."""
    return min(max(shutil.get_terminal_size((80, 24)).columns, NARROWEST), WIDEST)


def wrapped(text: str, indent: int = 0, hang: int = 0) -> str:
    """Text broken into lines; ``hang`` is how much further later lines are indented.

    A percent sign stays with its number.
    """
    kept_together = " ".join(text.split()).replace(" %", "\N{NO-BREAK SPACE}%")
    lines = textwrap.fill(
        kept_together,
        columns(),
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return lines.replace("\N{NO-BREAK SPACE}%", " %")


def heading(text: str) -> str:
    """Heading of a section, with the blank line before it."""
    return f"\n{text}"


def table(
    rows: Iterable[Sequence[str]], *, indent: int = 2, right: Sequence[int] = ()
) -> list[str]:
    """Lines of a table: columns as wide as their longest cell, the last one wrapped.

    Parameters
    ----------
    rows : iterable of sequence of str
        Equally long rows.
    indent : int
        Columns left of the table.
    right : sequence of int
        Numbers of the columns that are aligned to the right.
    """
    lines = [list(row) for row in rows]
    if not lines:
        return []
    widths = [max(len(line[place]) for line in lines) for place in range(len(lines[0]) - 1)]
    start = indent + sum(widths) + 2 * len(widths)
    result = []
    for line in lines:
        cells = [
            cell.rjust(width) if place in right else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(line, widths, strict=False))
        ]
        first = " " * indent + "  ".join([*cells, ""])
        result.append((first + wrapped(line[-1], start)[start:]).rstrip())
    return result


def bar(probability: float) -> str:
    """Probability as a bar of plain characters, which every terminal and screen reader has."""
    filled = round(probability * BAR_COLUMNS)
    return "#" * filled + "." * (BAR_COLUMNS - filled)


def minutes_text(minutes: float) -> str:
    """Minutes as people read them."""
    return f"{minutes:g} min"
