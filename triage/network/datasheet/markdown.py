"""Pieces of a Markdown page: tables, lists, and how numbers and names are written in them."""

from collections.abc import Iterable, Sequence

NOTHING = "–"  # an empty cell looks like one that was forgotten
BREAK = "<br>"


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Lines of a table without the columns that are empty in every row.

    Parameters
    ----------
    headings : sequence of str
        One a column.
    rows : iterable of sequence of str
        As many cells each; may be Markdown, a line break is ``BREAK``.

    Returns
    -------
    list of str
        Lines; "None." if there are no rows.
    """
    filled = [[_cell(cell) for cell in row] for row in rows]
    if not filled:
        return ["None."]
    kept = [
        place for place, _ in enumerate(headings) if any(row[place] != NOTHING for row in filled)
    ]
    lines = [[headings[place] for place in kept], ["---"] * len(kept)]
    lines += [[row[place] for place in kept] for row in filled]
    return [f"| {' | '.join(line)} |" for line in lines]


def section(title: str, lines: Iterable[str], tell_us: str = "") -> list[str]:
    """Lines of a section; ``tell_us`` is what a reader should object to."""
    body = [f"## {title}", "", *lines, ""]
    return [*body, f"**Tell us:** {tell_us}", ""] if tell_us else body


def code(identifier: str) -> str:
    """Name that a reader can quote."""
    return f"`{identifier}`"


def quoted(texts: Iterable[str]) -> str:
    """Texts in quotation marks, one after the other."""
    return ", ".join(f"“{text}”" for text in texts)


def broken(texts: Iterable[str]) -> str:
    """Texts on a line each within one cell; empty ones are left out."""
    return BREAK.join(text for text in texts if text)


def counted(count: int, one: str, many: str) -> str:
    """Count with its noun."""
    return f"{count} {one if count == 1 else many}"


def _cell(text: str) -> str:
    flat = " ".join(text.split()).replace("|", "\\|")
    # A sign such as "<" in a text must not begin an HTML element.
    return flat.replace("<", "&lt;").replace("&lt;br>", BREAK) or NOTHING
