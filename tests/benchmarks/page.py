"""Tables of benchmarks on a page of docs, between two marks."""

from pathlib import Path

DOCS = Path(__file__).resolve().parents[2] / "docs"


def write_between(page: str, mark: str, text: str) -> None:
    """Replace what stands between ``<!-- mark:begin -->`` and ``<!-- mark:end -->``."""
    begin, end = f"<!-- {mark}:begin -->", f"<!-- {mark}:end -->"
    path = DOCS / page
    before, found, rest = path.read_text(encoding="utf-8").partition(begin)
    _, closed, after = rest.partition(end)
    if not (found and closed):
        raise ValueError(f"docs/{page}: no marks {begin} and {end}; put them where the table goes")
    path.write_text(f"{before}{begin}\n{text}\n{end}{after}", encoding="utf-8")
