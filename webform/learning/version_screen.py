"""Read models of the versions of a network: the list of them, and one in full."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flask import url_for

from triage.network.values import FaultNetwork
from triage.services.learning.comparing import ChangedCall, Effects
from triage.services.learning.editing import number
from triage.services.learning.proposing import Change, Proposal, careless_sentences
from triage.services.learning.replanning import Replanned
from triage.services.learning.versions import VersionInFull, VersionLine
from triage.services.networks.pictures import shipped_network
from webform.formatting import day_and_time, nowrap
from webform.learning.evaluation_screen import ScoreRows, score_rows
from webform.learning.replan_screen import ReplanScreen, replan_screen
from webform.learning.screens import Link
from webform.learning.texts import (
    KIND_WORDS,
    ORIGIN_WORDS,
    SETTING_LABELS,
    STATE_WORDS,
    TOGETHER_LABEL,
)

MOST_MOVED = 15
VERDICT_WORDS = {"better": "now right", "worse": "now wrong", "": "both wrong, or not known"}


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionRow:
    """A version in the list."""

    link: Link
    origin: str
    state: str
    is_in_use: bool
    at: str
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class VersionsScreen:
    """The versions of a network; without rows only the shipped one is there, and not kept yet."""

    id: str
    title: str
    rows: tuple[VersionRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRow:
    """A number that would change: in use, as the program came, proposed, with its interval.

    ``left`` and ``width`` place the interval on a track from 0 to 100; ``mark`` and ``before`` the
    figures on it.
    """

    key: str
    title: str
    now: str
    before: str
    after: str
    interval: str
    jobs: str
    why: str
    is_thin: bool
    is_ticked: bool


@dataclass(frozen=True, slots=True)
class ChangeTable:
    """Changes of one kind."""

    title: str
    rows: tuple[ChangeRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectsRows:
    """What would have been recommended in past calls."""

    sentences: tuple[str, ...]
    calls: tuple[tuple[str, str, str, str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionScreen:
    """Everything the page of a version shows."""

    network: str
    title: str
    version: int
    versions_url: str
    facts: tuple[tuple[str, str], ...]
    edit: tuple[tuple[str, str], ...]
    effects: EffectsRows | None
    plans: ReplanScreen | None
    scores: ScoreRows | None
    moved: tuple[ChangeRow, ...]
    tables: tuple[ChangeTable, ...]
    held: tuple[str, ...]
    left_out: tuple[str, ...]
    settings: tuple[tuple[str, str], ...]
    can_decide: bool
    can_use: bool
    text_url: str


def list_screen(network: FaultNetwork, lines: Sequence[VersionLine]) -> VersionsScreen:
    """Put the list of versions together."""
    return VersionsScreen(network.id, network.title, tuple(_line(one) for one in lines))


def _line(line: VersionLine) -> VersionRow:
    stored = line.stored
    url = url_for("learning.version", name=stored.network_id, version=stored.version)
    return VersionRow(
        link=Link(f"Version {stored.version}", url),
        origin=ORIGIN_WORDS[stored.origin],
        state="newer than the one in use" if line.is_newer_file else STATE_WORDS[stored.state],
        is_in_use=line.is_in_use,
        at=day_and_time(stored.proposed_at),
        by=stored.proposed_by,
        reason=stored.reason,
    )


def version_screen(full: VersionInFull, plans: Replanned | None = None) -> VersionScreen:
    """Put the page of a version together."""
    stored, proposal = full.line.stored, full.proposal
    name, version = stored.network_id, stored.version
    rows = () if proposal is None else tuple(_rows(proposal, full.keys))
    return VersionScreen(
        network=stored.network_id,
        title=full.network.title,
        version=stored.version,
        versions_url=url_for("learning.versions", name=stored.network_id),
        facts=tuple(_facts(full)),
        edit=_edit(full),
        effects=None if proposal is None else _effects(proposal.effects),
        plans=replan_screen(name, version, plans) if stored.parent_version else None,
        scores=None if proposal is None else score_rows(proposal.scores),
        moved=_most_moved(proposal, rows),
        tables=_tables(proposal, rows),
        held=() if proposal is None else _held(proposal),
        left_out=()
        if proposal is None
        else tuple(f"{count} {reason}" for reason, count in proposal.version.left_out.items()),
        settings=() if proposal is None else _settings(proposal),
        can_decide=stored.state == "proposed",
        can_use=stored.state == "approved" and not full.line.is_in_use,
        text_url=url_for("learning.version_text", name=name, version=version),
    )


def _facts(full: VersionInFull) -> list[tuple[str, str]]:
    stored = full.line.stored
    state = "in use" if full.line.is_in_use else STATE_WORDS[stored.state]
    facts = [("State", state), ("Where it comes from", ORIGIN_WORDS[stored.origin])]
    if stored.parent_version:
        facts.append(("Made when in use was", f"version {stored.parent_version}"))
    if full.part_of:
        facts.append(("Holds", f"{len(full.keys)} rows of version {full.part_of}"))
    if full.proposal is not None:
        version = full.proposal.version
        facts.append(("Closed jobs", f"{version.jobs}, {version.first_day} to {version.last_day}"))
        facts += [("Borrowed from", lent) for lent in _lent(full.proposal)]
        facts += [("Callers", nowrap(line)) for line in careless_sentences(version)]
    facts.append(("Made", f"{day_and_time(stored.proposed_at)}, {stored.proposed_by}"))
    if stored.reason:
        facts.append(("Why", stored.reason))
    if stored.decided_at is not None and stored.decided_reason:
        facts.append(("Decided", f"{day_and_time(stored.decided_at)}, {stored.decided_by}"))
        facts.append(("Reason of the decision", stored.decided_reason))
    for use in reversed(full.uses):
        facts.append(("In use from", f"{day_and_time(use.since)}, {use.by}: {use.reason}"))
    return facts


def _lent(proposal: Proposal) -> tuple[str, ...]:
    """Other kinds that lent, with their jobs; nothing where none did."""
    lent = (f"{shipped_network(name).title} ({n} jobs)" for name, n in proposal.lenders.items())
    return tuple(filter(None, [", ".join(lent)]))


def _edit(full: VersionInFull) -> tuple[tuple[str, str], ...]:
    if full.edit is None:
        return ()
    found = number(full.network, full.edit.key)
    before = full.edit_before or 0.0
    show = _chance if found.is_chance else _plain
    return (
        ("Number", found.title),
        ("Before", show(before)),
        ("After", show(found.value)),
        ("Where it comes from", full.edit.source),
    )


def _rows(proposal: Proposal, keys: Sequence[str]) -> list[ChangeRow]:
    rows = []
    for change in proposal.version.changes:
        show = _plain if change.kind in ("minutes", "multiplier") else _chance
        rows.append(
            ChangeRow(
                key=change.key,
                title=change.title.replace("_", " "),
                now=show(proposal.now[change.key]) if change.key in proposal.now else "none",
                before=show(change.before),
                after=show(change.after),
                interval=f"{show(change.low)} to {show(change.high)}",
                jobs=_jobs(change),
                why=nowrap(change.why),
                is_thin=change.is_thin,
                is_ticked=not keys or change.key in keys,
            )
        )
    return rows


def _jobs(change: Change) -> str:
    """Jobs behind a change: its own, and those that other kinds lend."""
    own = f"{change.jobs:.0f}" if change.jobs >= 1.0 else "under 1"
    if not change.borrowed:
        return own
    return f"{own} own, {max(change.borrowed, 1.0):.0f} borrowed"


def _most_moved(proposal: Proposal | None, rows: Sequence[ChangeRow]) -> tuple[ChangeRow, ...]:
    """Rows that move furthest from the version in use."""
    if proposal is None:
        return ()
    by_key = {row.key: row for row in rows}
    return tuple(by_key[change.key] for change in proposal.most_moved(MOST_MOVED))


def _tables(proposal: Proposal | None, rows: Sequence[ChangeRow]) -> tuple[ChangeTable, ...]:
    if proposal is None:
        return ()
    kinds: dict[str, list[ChangeRow]] = {}
    for change, row in zip(proposal.version.changes, rows, strict=True):
        kinds.setdefault(change.kind, []).append(row)
    return tuple(ChangeTable(KIND_WORDS[kind], tuple(found)) for kind, found in kinds.items())


def _effects(found: Effects) -> EffectsRows:
    calls = f"{found.calls} calls" if found.calls != 1 else "1 call"
    sentences = [
        f"Over the last {calls} with something said at the phone, another cause would have led in "
        f"{found.changed}, and another repair would have been prepared in {found.other_repair}.",
        f"Of these, {found.better} would have been right instead of wrong, and {found.worse} wrong "
        "instead of right. These jobs were learned from; the honest judgement is below.",
    ]
    return EffectsRows(sentences=tuple(sentences), calls=tuple(_call(one) for one in found.shown))


def _call(one: ChangedCall) -> tuple[str, str, str, str, str]:
    truth = one.truth or "not confirmed"
    return (f"{one.job}, {one.day}", one.before, one.after, truth, VERDICT_WORDS[one.verdict])


def _held(proposal: Proposal) -> tuple[str, ...]:
    """Why numbers stay as they are, each reason with how many of them."""
    reasons = Counter(one.reason for one in proposal.version.held)
    return tuple(
        f"{count} {'number' if count == 1 else 'numbers'}: {reason}"
        for reason, count in reasons.most_common()
    )


def _settings(proposal: Proposal) -> tuple[tuple[str, str], ...]:
    held: Mapping[str, object] = {name: getattr(proposal.settings, name) for name in SETTING_LABELS}
    return (
        (TOGETHER_LABEL, "yes" if proposal.settings.learns_together else "no"),
        *(
            (SETTING_LABELS[name][0], "for ever" if value is None else _plain(float(str(value))))
            for name, value in held.items()
        ),
    )


def _chance(value: float) -> str:
    if value < 0.001:
        return nowrap("under 0.1 %")
    return nowrap(f"{100 * value:.1f} %")


def _plain(value: float) -> str:
    return f"{value:.0f}" if value >= 10 else f"{value:.2f}".rstrip("0").rstrip(".")
