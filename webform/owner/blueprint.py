"""The blueprint of the owner's pages, and the list of them; each has its routes in a module."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, request, url_for

from webform.access import may_open

bp = Blueprint("owner", __name__, template_folder="templates", url_prefix="/shop")

# Pages in the order of the list, with what one does there.
PAGES: Mapping[str, tuple[str, str]] = {
    "owner.closed_jobs": ("Closed jobs", "What was promised, what happened; files to keep"),
    "owner.settings": ("Settings", "Prices, costs, hours, tax; parts, minutes, lists by plate"),
    "owner.people": ("People", "Who may sign in, and as what; new passwords"),
    "owner.tokens": ("Tokens", "Let other programs of the shop in, and shut them out again"),
    "owner.audit": ("Audit trail", "Who changed what, and who failed to sign in"),
}


@dataclass(frozen=True, slots=True)
class MenuLine:
    """A link to one of the owner's pages; ``current`` is the value of ``aria-current``."""

    title: str
    sentence: str
    url: str
    current: str


@bp.context_processor
def menu() -> dict[str, Any]:
    """Give the owner's pages the list of them."""
    lines = (
        MenuLine(title, sentence, url_for(endpoint), _current(endpoint))
        for endpoint, (title, sentence) in PAGES.items()
        if may_open(endpoint)
    )
    return {"menu": tuple(lines)}


def _current(endpoint: str) -> str:
    """Whether a page is the one that is shown, or one above it by its address."""
    if request.endpoint == endpoint:
        return "page"
    return "true" if request.path.startswith(f"{url_for(endpoint)}/") else ""
