"""Observations from the entries of the files: answers, likelihoods, meter readings."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TypeGuard, TypeVar

from triage.network.reading import answer_likelihood
from triage.network.report import Place, quoted
from triage.network.schema import ObservationEntry, Sourced
from triage.network.scope import Scope
from triage.network.values import (
    COULD_NOT_BE_RUN,
    INSIDE,
    OUTSIDE,
    UNTESTABLE,
    VOLUNTEERED,
    Channel,
    Observation,
    Provenance,
    Reading,
)

T = TypeVar("T")
Table = dict[str, dict[str, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """An observation being built, with its states and answers as far as they are known."""

    entry: ObservationEntry
    place: Place
    states: tuple[str, ...] | None
    answers: dict[str, str] | None


def build_observations(scope: Scope) -> dict[str, Observation]:
    """Observations by id."""
    _check_named_tables(scope)
    built = {}
    for name, placed in scope.entries.observations.items():
        observation = _observation(scope, name, placed.entry, placed.place)
        if observation is not None:
            built[name] = observation
    return built


def _observation(
    scope: Scope, name: str, entry: ObservationEntry, place: Place
) -> Observation | None:
    frame = _Frame(
        entry=entry,
        place=place,
        states=_states(scope, entry, place),
        answers=_answers(scope, entry, place),
    )
    _check_channel(scope, frame)
    scope.are_known("preconditions", entry.preconditions, place.at("preconditions"))
    scope.are_known("cautions", entry.cautions, place.at("cautions"))
    scope.provenance("minutes", place, entry)
    provenance = _provenance(scope, frame)
    reading = _reading(scope, frame)
    likelihood = _likelihood(scope, frame, reading)
    volunteered = _volunteered(scope, frame)
    if provenance is None or likelihood is None or frame.answers is None:
        return None
    return Observation(
        id=name,
        sign=entry.sign,
        context=entry.context,
        channel=Channel(entry.channel),
        title=entry.title,
        wording=entry.wording,
        answers=frame.answers,
        likelihood=likelihood,
        volunteered=volunteered,
        phrases=tuple(entry.phrases),
        minutes=entry.minutes,
        preconditions=tuple(entry.preconditions),
        cautions=tuple(entry.cautions),
        acceptance=entry.acceptance,
        reading=reading,
        provenance=provenance,
    )


def _states(scope: Scope, entry: ObservationEntry, place: Place) -> tuple[str, ...] | None:
    if (entry.sign is None) == (entry.context is None):
        got = "neither a sign nor a context" if entry.sign is None else "a sign and a context"
        scope.report.add(place, got=got, expected="one of them")
        return None
    if entry.sign is not None:
        scope.is_known("signs", entry.sign, place.at("sign"))
        return scope.states(entry.sign)
    context = entry.context or ""
    scope.is_known("contexts", context, place.at("context"))
    return scope.context_values(context)


def _answers(scope: Scope, entry: ObservationEntry, place: Place) -> dict[str, str] | None:
    here = place.at("answers")
    answers = entry.answers
    if isinstance(answers, str):
        scope.is_known("answer_sets", answers, here)
        placed = scope.entries.answer_sets.get(answers)
        return None if placed is None else dict(placed.entry)
    _check_answer_names(scope, answers, here)
    return dict(answers)


def _check_answer_names(scope: Scope, answers: dict[str, str], place: Place) -> None:
    if VOLUNTEERED in answers:
        scope.report.add(
            place.at(VOLUNTEERED),
            got=f'the answer "{VOLUNTEERED}"',
            expected="another name, this one stands for what the caller says unasked",
        )


def _check_named_tables(scope: Scope) -> None:
    """Check what a named answer set or reliability can be checked for by itself."""
    for answers in scope.entries.answer_sets.values():
        _check_answer_names(scope, answers.entry, answers.place)
    for table in scope.entries.reliabilities.values():
        scope.provenance("reliability", table.place, table.entry)


def _check_channel(scope: Scope, frame: _Frame) -> None:
    entry, place, channel = frame.entry, frame.place, Channel(frame.entry.channel)
    if channel.is_on_site and not entry.acceptance.strip():
        scope.report.add(
            place.at("acceptance"),
            got="nothing",
            expected=f"what a good machine does, for {channel.value}",
        )
    if entry.volunteered is not None and channel.is_on_site:
        scope.report.add(
            place.at("volunteered"),
            got=f"channel {channel.value}",
            expected="channel caller or guided_check",
        )
    if entry.phrases and entry.volunteered is None:
        scope.report.add(
            place.at("phrases"), got='phrases without "volunteered"', expected="both or neither"
        )
    can_fail_to_run = channel is Channel.ON_SITE_TEST and UNTESTABLE in (frame.states or ())
    if can_fail_to_run and frame.answers is not None and COULD_NOT_BE_RUN not in frame.answers:
        scope.report.add(
            place.at("answers"),
            got=f'no answer "{COULD_NOT_BE_RUN}"',
            expected=f'one, since sign "{entry.sign}" can be {UNTESTABLE}',
        )


def _provenance(scope: Scope, frame: _Frame) -> Provenance | None:
    """Provenance of the likelihood; that of a reliability is used with it unless overridden."""
    entry, place = frame.entry, frame.place
    has_own_numbers = not isinstance(entry.likelihood, str) or isinstance(entry.volunteered, dict)
    own = scope.provenance("reliability", place, entry) if has_own_numbers else None
    if not isinstance(entry.likelihood, str):
        return own
    named = scope.entries.reliabilities.get(entry.likelihood)
    if named is None:
        return None
    chain: list[Sourced] = [entry, named.entry]
    return scope.provenance("reliability", place, *chain, home=named.place)


def _reading(scope: Scope, frame: _Frame) -> Reading | None:
    entry, place = frame.entry, frame.place
    is_meter = Channel(entry.channel) is Channel.METER
    if is_meter and entry.reading is None:
        scope.report.add(place.at("reading"), got="nothing", expected="one, for channel meter")
    if entry.reading is None:
        return None
    here = place.at("reading")
    if not is_meter:
        scope.report.add(here, got=f"channel {entry.channel}", expected="channel meter")
    low, high = entry.reading.accept
    first, last = entry.reading.span
    if not (first <= low < high <= last and high - low < last - first):
        scope.report.add(
            here.at("span"),
            got=f"span {first:g} to {last:g} and accept {low:g} to {high:g}",
            expected="a span that holds the range to accept and more",
        )
        return None
    inside = entry.reading.inside
    if frame.states is not None and not _fits(
        scope, inside, frame.states, here.at("inside"), "state"
    ):
        return None
    return Reading(
        unit=entry.reading.unit,
        accept=(low, high),
        span=(first, last),
        sd=entry.reading.sd,
        inside={state: inside[state] for state in frame.states or inside},
    )


def _likelihood(
    scope: Scope, frame: _Frame, reading: Reading | None
) -> tuple[tuple[float, ...], ...] | None:
    entry, here = frame.entry, frame.place.at("likelihood")
    if entry.reading is not None:
        return _reading_table(scope, frame, reading)
    if entry.likelihood is None:
        if Channel(entry.channel) is not Channel.METER:
            scope.report.add(here, got="nothing", expected="a table or the name of a reliability")
        return None
    if isinstance(entry.likelihood, str):
        table = _named_table(scope, entry.likelihood, here, frame.states)
    else:
        table = entry.likelihood
    if table is None:
        return None
    return _table_rows(scope, frame, table, here, is_named=isinstance(entry.likelihood, str))


def _table_rows(
    scope: Scope, frame: _Frame, table: Table, place: Place, *, is_named: bool
) -> tuple[tuple[float, ...], ...] | None:
    fits = frame.states is None or _fits(scope, table, frame.states, place, "state")
    for state, row in table.items() if frame.answers is not None else ():
        here = place if is_named else place.at(state)
        fits &= _fits(scope, row, tuple(frame.answers or ()), here, "answer")
    if not fits or frame.states is None or frame.answers is None:
        return None
    return tuple(tuple(table[state][answer] for answer in frame.answers) for state in frame.states)


def _reading_table(
    scope: Scope, frame: _Frame, reading: Reading | None
) -> tuple[tuple[float, ...], ...] | None:
    if frame.entry.likelihood is not None:
        scope.report.add(
            frame.place.at("likelihood"),
            got='a likelihood beside "reading"',
            expected="none, it follows from the reading",
        )
    if frame.answers is None or not _fits(
        scope, frame.answers, (INSIDE, OUTSIDE), frame.place.at("answers"), "answer"
    ):
        return None
    if reading is None:
        return None
    columns = {INSIDE: 0, OUTSIDE: 1}
    rows = answer_likelihood(reading)
    return tuple(tuple(row[columns[answer]] for answer in frame.answers) for row in rows)


def _volunteered(scope: Scope, frame: _Frame) -> tuple[float, ...] | None:
    stated, here = frame.entry.volunteered, frame.place.at("volunteered")
    if stated is None:
        return None
    column = _named_column(scope, stated, here, frame.states) if isinstance(stated, str) else stated
    if column is None:
        return None
    if frame.states is None or not _fits(scope, column, frame.states, here, "state"):
        return None
    return tuple(column[state] for state in frame.states)


def _named_table(
    scope: Scope, name: str, place: Place, states: tuple[str, ...] | None
) -> Table | None:
    stated = _named(scope, name, place)
    if stated is None or _is_table(stated):
        return None if stated is None else _without_spare(stated, states)
    scope.report.add(
        place,
        got=f'the reliability "{name}", a column',
        expected="one with {state: {answer: probability}}",
    )
    return None


def _named_column(
    scope: Scope, name: str, place: Place, states: tuple[str, ...] | None
) -> dict[str, float] | None:
    stated = _named(scope, name, place)
    if stated is None or _is_column(stated):
        return None if stated is None else _without_spare(stated, states)
    scope.report.add(
        place,
        got=f'the reliability "{name}", a table of answers',
        expected="one with {state: probability}",
    )
    return None


def _named(scope: Scope, name: str, place: Place) -> Table | dict[str, float] | None:
    scope.is_known("reliabilities", name, place)
    placed = scope.entries.reliabilities.get(name)
    return None if placed is None else placed.entry.table


def _is_table(stated: Table | dict[str, float]) -> TypeGuard[Table]:
    return all(isinstance(row, dict) for row in stated.values())


def _is_column(stated: Table | dict[str, float]) -> TypeGuard[dict[str, float]]:
    return not _is_table(stated)


def _without_spare(stated: dict[str, T], states: tuple[str, ...] | None) -> dict[str, T]:
    """Rows of a named table; one for ``untestable`` may be there for the signs that need it."""
    if states is None or UNTESTABLE in states:
        return stated
    return {state: row for state, row in stated.items() if state != UNTESTABLE}


def _fits(
    scope: Scope, stated: Collection[str], allowed: Sequence[str], place: Place, thing: str
) -> bool:
    """Whether exactly the allowed names are stated; says which are missing or unknown."""
    known = [scope.is_one_of(name, allowed, place, thing) for name in stated]
    missing = [name for name in allowed if name not in stated]
    if missing:
        scope.report.add(
            place, got=f"no {thing} {quoted(missing)}", expected=f"one entry for every {thing}"
        )
    return all(known) and not missing
