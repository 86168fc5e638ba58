"""Links on top of every page, and which of them leads to the page that is shown."""

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Flask, request, url_for

NEW_CALL = "intake.new_call"
SECTIONS: Mapping[str, str] = {
    "intake.call_list": "Calls",
    "checks.check_list": "Checks on site",
    "networks.network_list": "Networks",
}


@dataclass(frozen=True, slots=True)
class NavLink:
    """A link; ``current`` is the value of ``aria-current``, empty if one is elsewhere.

    It is "page" on the page itself and "true" on the pages below it.
    """

    name: str
    url: str
    current: str


@dataclass(frozen=True, slots=True)
class Navigation:
    """Links to the sections, and the one that the phone makes urgent."""

    sections: tuple[NavLink, ...]
    new_call: NavLink


def navigation() -> Navigation:
    """Links as they stand on the page that is being built."""
    endpoint = request.endpoint
    section = "" if endpoint == NEW_CALL else request.blueprint
    return Navigation(
        tuple(
            NavLink(name, url_for(target), _current(target, section))
            for target, name in SECTIONS.items()
        ),
        NavLink("New call", url_for(NEW_CALL), "page" if endpoint == NEW_CALL else ""),
    )


def _current(target: str, section: str | None) -> str:
    if request.endpoint == target:
        return "page"
    return "true" if target.partition(".")[0] == section else ""


def init_navigation(app: Flask) -> None:
    """Give every page its links."""
    app.context_processor(lambda: {"nav": navigation()})
