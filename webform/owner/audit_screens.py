"""Read model of the audit trail: every value a finished text."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flask import url_for

from triage.services.networks.engines import network_choices
from triage.services.people.audit import Act, Trail
from webform.formatting import date_and_time
from webform.owner.people_texts import NOBODY, action_text

DETAIL_MAX = 200  # letters


@dataclass(frozen=True, slots=True)
class ActLine:
    """An act as a line of the trail."""

    when: str
    who: str
    what: str
    subject: str
    detail: str


@dataclass(frozen=True, slots=True)
class AuditScreen:
    """A page of the trail; the addresses of the pages beside it are empty where there is none."""

    lines: tuple[ActLine, ...]
    newer: str
    older: str


def audit_screen(trail: Trail, chosen: Mapping[str, str]) -> AuditScreen:
    """Page of the trail, with links to the pages beside it that keep what was chosen."""
    kept = {name: value for name, value in chosen.items() if value}
    return AuditScreen(
        lines=tuple(_line(act) for act in trail.acts),
        newer=_address(trail.page - 1, kept) if trail.page > 1 else "",
        older=_address(trail.page + 1, kept) if trail.has_more else "",
    )


def _address(page: int, kept: Mapping[str, str]) -> str:
    values: dict[str, Any] = {**kept, "page": page}
    return url_for("owner.audit", **values)


def _line(act: Act) -> ActLine:
    return ActLine(
        when=date_and_time(act.at),
        who=act.by or NOBODY,
        what=action_text(act.action),
        subject=_subject(act.subject),
        detail="; ".join(
            f"{_words(key)}: {_text(value)}"
            for key, value in act.detail.items()
            if value not in ("", [], {})
        ),
    )


def _subject(subject: str) -> str:
    """What an act was on; a version of a network by the title of its appliance."""
    name, _, version = subject.partition(" ")
    titles = dict(network_choices())
    return f"{titles[name]}, version {version}" if name in titles else subject


def _words(name: str) -> str:
    return name.replace("_", " ")


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = "none" if value is None else str(value)
    return text if len(text) <= DETAIL_MAX else f"{text[:DETAIL_MAX]}…"
