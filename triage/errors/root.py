"""Root of the errors, and what their messages are made of."""

from collections.abc import Iterable
from difflib import get_close_matches


def nearest(name: str, known: Iterable[str]) -> str:
    """Sentence that names the nearest known name, or the empty string."""
    matches = get_close_matches(name, list(known), n=1)
    return f' Did you mean "{matches[0]}"?' if matches else ""


def listed(names: Iterable[str], limit: int = 12) -> str:
    """Names in quotes with commas between; how many more there are, beyond ``limit``."""
    quoted = [f'"{name}"' for name in names]
    more = f" and {len(quoted) - limit} more" if len(quoted) > limit else ""
    return ", ".join(quoted[:limit]) + more


class TriageError(Exception):
    """Root of everything this library raises on purpose."""
