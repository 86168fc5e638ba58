"""A ranking as text: causes with word, number and bar, what was left out, why, what to do next."""

from collections.abc import Sequence

from triage.cli.output import bar, heading, minutes_text, table, wrapped
from triage.services.plan.ranking import NextObservation, RankedCause, Ranking
from triage.services.wording import percent


def cause_lines(causes: Sequence[RankedCause]) -> list[str]:
    """One line a cause: place, word, percent, bar, title, and where it stood before."""
    rows = [
        (
            f"{place}",
            cause.word,
            percent(cause.probability),
            bar(cause.probability),
            cause.title + _before(cause),
        )
        for place, cause in enumerate(causes, start=1)
    ]
    return table(rows, right=(0, 2))


def next_lines(entry: NextObservation) -> list[str]:
    """An observation worth making: what --finding takes, gain and time, the sentence to say."""
    look = entry.observation
    gain = f"{entry.gain_bits:.2f} bits, {minutes_text(look.minutes)}"
    return [f"  {look.id}  ({gain})", wrapped(look.wording, 4)]


def why_lines(ranking: Ranking) -> list[str]:
    """Return what every finding says about the leading cause; nothing if there is no finding."""
    if not ranking.explanation:
        return []
    sentences = [
        wrapped(f"{weight.sentence} ({weight.decibans:+.1f} decibans).", 2, 2)
        for weight in ranking.explanation
    ]
    return [heading(f"Why {ranking.causes[0].title}"), *sentences]


def ranking_lines(ranking: Ranking) -> list[str]:
    """Return the whole ranking as lines of text."""
    events = [f"  {event}" for event in ranking.evidence.events]
    lines = [
        f"{ranking.network_title}, version {ranking.version}",
        heading("Known"),
        *(events or ["  nothing yet"]),
        *warning_lines(ranking),
        heading("Causes"),
        *cause_lines(ranking.causes),
        wrapped(f"Nothing failed: {percent(ranking.nothing_failed)}.", 2),
        wrapped(ranking.missing_sentence, 2),
        *why_lines(ranking),
    ]
    for title, entries in (
        ("Ask next", ranking.next_questions),
        ("Test next, on site", ranking.next_tests),
    ):
        if entries:
            lines += [heading(title), *(line for entry in entries for line in next_lines(entry))]
    return lines


def warning_lines(ranking: Ranking) -> list[str]:
    """Return the warning that findings hardly go together; nothing if they do."""
    if not ranking.conflict.is_suspicious:
        return []
    return [heading("Warning"), wrapped(ranking.conflict_sentence, 2)]


def _before(cause: RankedCause) -> str:
    """Say where the cause stood before the latest finding, if it moved as people read it."""
    if cause.before is None or percent(cause.before) == percent(cause.probability):
        return ""
    return f" (was {percent(cause.before)})"
