"""Pages of a list."""

from collections.abc import Sequence
from typing import Any

PAGE_LENGTH = 50


def page_of(name: str, lines: Sequence[Any], page: int) -> dict[str, Any]:
    """Page of a list that is there in whole; a page that is not there is the last one.

    >>> page_of("calls", list(range(120)), 3)["calls"][:2]
    [100, 101]
    """
    pages = max(1, -(-len(lines) // PAGE_LENGTH))
    shown = min(page, pages)
    begins = (shown - 1) * PAGE_LENGTH
    return {
        name: list(lines[begins : begins + PAGE_LENGTH]),
        "count": len(lines),
        "page": shown,
        "pages": pages,
    }
