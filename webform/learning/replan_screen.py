"""Read model of what a version would have told past callers."""

from dataclasses import dataclass

from flask import url_for

from triage.services.learning.replanning import WHATS, Replanned, ReplannedCall, Told
from webform.formatting import nowrap
from webform.learning.screens import Link
from webform.learning.texts import WHAT_WORDS

EXAMPLES_EACH = 5


@dataclass(frozen=True, slots=True)
class Example:
    """A past call that is told something else: the job, before and after."""

    link: Link
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class ChangedRow:
    """One thing that is told: in how many calls differently, with examples."""

    title: str
    count: str
    examples: tuple[Example, ...]


@dataclass(frozen=True, slots=True)
class ReplanScreen:
    """The comparison; without rows none was made yet."""

    sentences: tuple[str, ...]
    rows: tuple[ChangedRow, ...]
    url: str


def replan_screen(name: str, version: int, found: Replanned | None) -> ReplanScreen:
    """Put the comparison together."""
    url = url_for("learning.replan", name=name, version=version)
    if found is None:
        return ReplanScreen((), (), url)
    return ReplanScreen(tuple(_sentences(found)), tuple(_row(found, what) for what in WHATS), url)


def _sentences(found: Replanned) -> list[str]:
    some = f"{len(found.calls)} of {found.past} past calls"
    sentences = [
        f"Compared with version {found.version_before} on {some}, drawn by chance, with the "
        "settings of today."
    ]
    if found.is_cut_short:
        sentences.append(f"The time was over before all {found.sample} of the sample were planned.")
    if found.unusable:
        sentences.append(f"{found.unusable} did not fit one of the two versions.")
    return sentences


def _row(found: Replanned, what: str) -> ChangedRow:
    changed = [call for call in found.calls if what in call.changed]
    return ChangedRow(
        title=WHAT_WORDS[what].capitalize(),
        count=nowrap(f"{len(changed)} of {len(found.calls)}"),
        examples=tuple(_example(call, what) for call in changed[:EXAMPLES_EACH]),
    )


def _example(call: ReplannedCall, what: str) -> Example:
    url = url_for("owner.closed_job", call_id=call.call_id)
    link = Link(f"Job {call.call_id}, {call.day}", url)
    return Example(link, _words(call.before, what), _words(call.after, what))


def _words(told: Told, what: str) -> str:
    if what == "parts":
        return ", ".join(told.parts) or "none"
    if what == "slot":
        return nowrap(f"{told.slot} minutes")
    return str(getattr(told, what)) or "none"
