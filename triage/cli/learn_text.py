"""Lines of ``triage learn``, ``triage evaluate`` and ``triage versions`` for people."""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from triage.cli.output import heading, table, wrapped

if TYPE_CHECKING:
    from triage.services.learning.replanning import Replanned
    from triage.services.learning.reports import FileReport, Proposal, VersionInFull

CHANGES_SHOWN = 25
PROBLEMS_SHOWN = 50


def file_lines(report: "FileReport", taken: int, *, dry_run: bool) -> Iterator[str]:
    """What a file holds, every problem, and what was taken in."""
    found = report.found
    assert found is not None
    yield f"{report.read.lines} lines, {len(found.new)} new jobs, {len(found.known)} in already"
    for problem in found.problems[:PROBLEMS_SHOWN]:
        yield wrapped(str(problem), 2, 2)
    more = len(found.problems) - PROBLEMS_SHOWN
    if more > 0:
        yield f"  and {more} more problems"
    if found.problems:
        yield "Nothing was taken in."
    elif dry_run:
        yield "Nothing was taken in: this was a dry run."
    else:
        yield f"{taken} jobs were taken in."


def proposal_lines(found: "Proposal", number: int | None) -> Iterator[str]:
    """What closed jobs propose."""
    from triage.services.learning.proposing import careless_sentences

    version = found.version
    kept = "nothing was kept" if number is None else f"version {number}"
    yield f"{version.base.title}: {version.source}; {kept}"
    if found.lenders:
        lent = ", ".join(f"{name} {jobs} jobs" for name, jobs in found.lenders.items())
        yield wrapped(f"Strengths shared with other kinds borrow from them: {lent}.", 2)
    for sentence in careless_sentences(version):
        yield wrapped(f"{sentence}.", 2)
    yield heading("What moves most")
    yield from table(
        [["now", "proposed", "90 % interval", "jobs", "borrowed", "number"], *_changes(found)],
        right=(0, 1),
    )
    yield heading("Past calls")
    effects = found.effects
    yield wrapped(
        f"Of the last {effects.calls} calls another cause would have led in {effects.changed}; "
        f"{effects.better} of them right instead of wrong, {effects.worse} wrong instead of right.",
        2,
    )
    yield heading("Honest scores")
    overall = found.scores.overall
    if overall is None:
        yield "  No closed job has a confirmed cause."
    else:
        against = overall.against_frozen
        yield wrapped(
            f"{overall.jobs} jobs, each forecast from those before it: {overall.learned_bits:.2f} "
            f"bits as learned, {overall.frozen_bits:.2f} as the program came; difference "
            f"{against.mean:.2f} ({against.low:.2f} to {against.high:.2f}).",
            2,
        )
    for reason, count in version.left_out.items():
        yield wrapped(f"Left out: {count} {reason}", 2)


def _changes(found: "Proposal") -> Iterator[list[str]]:
    for change in found.most_moved(CHANGES_SHOWN):
        now = found.now.get(change.key, change.before)
        low, high = (_figure(change.kind, value) for value in (change.low, change.high))
        jobs = f"{change.jobs:.0f}{' (few)' if change.is_thin else ''}"
        shown = [_figure(change.kind, now), _figure(change.kind, change.after)]
        borrowed = f"{change.borrowed:.0f}" if change.borrowed else ""
        yield [*shown, f"{low}..{high}", jobs, borrowed, change.key]


def _figure(kind: str, value: float) -> str:
    return f"{value:.2f}" if kind in ("minutes", "multiplier") else f"{100 * value:.1f} %"


def score_lines(found: Mapping[str, Any]) -> Iterator[str]:
    """Scores of networks and what was promised and done."""
    for network in found["networks"]:
        yield heading(network["title"])
        overall = network["overall"]
        if overall is None:
            yield "  No closed job has a confirmed cause."
            continue
        frozen, base = overall["against_frozen"], overall["against_base"]
        yield from table(
            [
                ["jobs scored", f"{overall['jobs']}, {network['not_scored']} not scored"],
                ["bits as learned", f"{overall['learned_bits']:.3f}"],
                ["bits as it came", f"{overall['frozen_bits']:.3f}, difference {_span(frozen)}"],
                ["bits of base rates", f"{overall['base_bits']:.3f}, difference {_span(base)}"],
                ["Brier score", f"{overall['brier']['score']:.4f}"],
                ["first on the list", _share(overall["top_1"])],
                ["among three", _share(overall["top_3"])],
                ["drift alarm", network["drift_alarm"] or "none"],
            ]
        )
    yield heading("Promised and done")
    practice = found["practice"]
    yield from table(
        [
            ["first visit", _counted(practice["first_visit"], practice["first_visit_jobs"])],
            ["parts aboard", _counted(practice["parts_aboard"], practice["parts_fitted"])],
            ["parts not needed", _counted(practice["parts_unneeded"], practice["parts_promised"])],
            ["within P50", _counted(practice["within_p50"], practice["timed_jobs"])],
            ["within P80", _counted(practice["within_p80"], practice["timed_jobs"])],
        ]
    )


def version_lines(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """List of versions."""
    return table(
        [
            ["network", "version", "state", "origin", "why"],
            *(
                [
                    row["network"],
                    str(row["version"]),
                    "in use" if row["is_in_use"] else row["state"].replace("_", " "),
                    row["origin"],
                    row["decided_reason"] or row["reason"],
                ]
                for row in rows
            ),
        ],
        right=(1,),
    )


def full_version_lines(full: "VersionInFull") -> Iterator[str]:
    """One version."""
    stored = full.line.stored
    state = "in use" if full.line.is_in_use else stored.state.replace("_", " ")
    yield f"{full.network.title}, version {stored.version}: {state}, {stored.origin}"
    if stored.reason:
        yield wrapped(f"Why: {stored.reason}", 2)
    if stored.decided_by:
        yield wrapped(f"Decided by {stored.decided_by}: {stored.decided_reason}", 2)
    if full.edit is not None:
        yield wrapped(f"{full.edit.key} = {full.edit.value:g}, from {full.edit.source}", 2)
    if full.proposal is not None:
        yield from proposal_lines(full.proposal, stored.version)


def replanned_lines(found: "Replanned") -> Iterator[str]:
    """What a version would have told past callers."""
    yield (
        f"Version {found.version_after} against version {found.version_before}, on "
        f"{len(found.calls)} of {found.past} past calls"
    )
    if found.is_cut_short:
        yield f"  The time was over before all {found.sample} of the sample were planned."
    if found.unusable:
        yield f"  {found.unusable} did not fit one of the two versions."
    counts = [[what, f"{count} of {len(found.calls)}"] for what, count in found.counts]
    yield from table([["told differently", "calls"], *counts])
    for call in found.calls:
        for what in call.changed:
            told = (getattr(one, what) for one in (call.before, call.after))
            words = [", ".join(one) if isinstance(one, tuple) else str(one) for one in told]
            shown = " -> ".join(one or "none" for one in words)
            yield wrapped(f"job {call.call_id}, {what}: {shown}", 2, 4)


def _share(share: Mapping[str, float]) -> str:
    return f"{100 * share['value']:.0f} % ({100 * share['low']:.0f} to {100 * share['high']:.0f} %)"


def _counted(share: Mapping[str, float], count: int) -> str:
    return f"{_share(share)} of {count}" if count else "none to count"


def _span(found: Mapping[str, float]) -> str:
    return f"{found['mean']:.3f} ({found['low']:.3f} to {found['high']:.3f})"
