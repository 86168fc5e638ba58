"""Links on top of every page, and which of them leads to the page that is shown."""

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Flask, request, url_for

from webform.access import home, may_open
from webform.session import signed_in

NEW_CALL = "intake.new_call"
ACCOUNT = "auth.account"
SECTIONS: Mapping[str, str] = {
    "intake.call_list": "Calls",
    "booking.day": "Visits",
    "customers.customer_list": "Customers",
    "jobsheet.day": "The day",
    "checks.check_list": "Checks on site",
    "networks.network_list": "Networks",
    "learning.overview": "Learning",
    "owner.overview": "Shop",
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
    """Links to what one may open: the sections, what the phone makes urgent, one's account.

    ``home`` is the address of the page on which one's work begins. Nobody who is not signed in has
    sections or an account.
    """

    home: str
    sections: tuple[NavLink, ...]
    new_call: NavLink | None
    account: NavLink | None


def navigation() -> Navigation:
    """Links as they stand on the page that is being built."""
    endpoint = request.endpoint
    section = "" if endpoint == NEW_CALL else request.blueprint
    account = signed_in()
    return Navigation(
        home=url_for(home()),
        sections=tuple(
            _link(name, target, section)
            for target, name in SECTIONS.items()
            if may_open(target) and account is not None
        ),
        new_call=_link("New call", NEW_CALL, "") if may_open(NEW_CALL) else None,
        account=None if account is None else _link(account.name, ACCOUNT, section),
    )


def _link(name: str, target: str, section: str | None) -> NavLink:
    return NavLink(name, url_for(target), _current(target, section))


def _current(target: str, section: str | None) -> str:
    if request.endpoint == target:
        return "page"
    return "true" if target.partition(".")[0] == section else ""


def init_navigation(app: Flask) -> None:
    """Give every page its links."""
    app.context_processor(lambda: {"nav": navigation()})
