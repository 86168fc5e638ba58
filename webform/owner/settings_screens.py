"""Read models of the history of the settings."""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import unified_diff

from flask import url_for

from triage.services.shop.settings import StoredSettings
from triage.services.shop.settings_data import check_whole
from webform.formatting import date_and_time


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """A version of the settings in the list."""

    version: str
    url: str
    when: str
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class VersionScreen:
    """A version of the settings: its text, and the lines it changed of the one before."""

    title: str
    head: str
    reason: str
    changed: str
    text: str


def history_rows(versions: Sequence[StoredSettings]) -> list[HistoryRow]:
    """Rows of the history, newest first."""
    return [
        HistoryRow(
            f"Version {one.version}",
            url_for("owner.settings_version", version=one.version),
            date_and_time(one.at),
            one.by,
            one.reason,
        )
        for one in versions
    ]


def version_screen(versions: Sequence[StoredSettings], version: int) -> VersionScreen | None:
    """One version with what it changed; None if there is none of that number."""
    by_number = {one.version: one for one in versions}
    found = by_number.get(version)
    if found is None:
        return None
    before = by_number.get(version - 1)
    return VersionScreen(
        title=f"Settings, version {version}",
        head=f"{date_and_time(found.at)} by {found.by}",
        reason=found.reason,
        changed="" if before is None else _difference(before.text, found.text),
        text=found.text,
    )


def remarks_on(text: str) -> tuple[str, ...]:
    """What looks odd in settings without being wrong."""
    return check_whole(text).remarks


def _difference(before: str, after: str) -> str:
    """Lines that were changed: ``-`` before those that went, ``+`` before those that came."""
    lines = unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
    kept = [line for line in lines if not line.startswith(("---", "+++", "@@"))]
    return "\n".join(kept)
