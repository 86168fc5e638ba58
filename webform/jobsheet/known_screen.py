"""What is known of a job by now: causes, what the last entry changed, parts, calculators."""

from dataclasses import dataclass

from flask import url_for

from triage.network.values import FaultNetwork
from triage.services.calculations import calculator
from triage.services.job.sheet import JobSheet, Shift
from webform.formatting import bar, nowrap, percent
from webform.jobsheet import texts


@dataclass(frozen=True, slots=True)
class Link:
    """A link with its text."""

    title: str
    url: str


@dataclass(frozen=True, slots=True)
class CauseShown:
    """A cause with its chance as word, number and bar."""

    rank: int
    title: str
    word: str
    percent: str
    bar: str


@dataclass(frozen=True, slots=True)
class ShiftShown:
    """What the last entry did to a cause."""

    title: str
    sentence: str


@dataclass(frozen=True, slots=True)
class PartShown:
    """A part to have aboard."""

    title: str
    where: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownShown:
    """What is known of a job; ``causes`` is empty where findings exclude each other."""

    causes: tuple[CauseShown, ...]
    nothing_failed: str
    shifts: tuple[ShiftShown, ...]
    loads: tuple[PartShown, ...]
    before_work: tuple[str, ...]
    checks: tuple[Link, ...]


def known_shown(sheet: JobSheet) -> KnownShown:
    """Put together what is known of a job."""
    ranking = sheet.ranking
    return KnownShown(
        causes=tuple(
            CauseShown(rank, one.title, one.word, percent(one.probability), bar(one.probability))
            for rank, one in enumerate(ranking.causes if ranking else (), start=1)
        ),
        nothing_failed=percent(ranking.nothing_failed) if ranking else "",
        shifts=tuple(_shift(one) for one in sheet.shifts),
        loads=_loads(sheet),
        before_work=texts.BEFORE_WORK,
        checks=_checks(sheet.network),
    )


def _loads(sheet: JobSheet) -> tuple[PartShown, ...]:
    return tuple(
        PartShown(
            f"{one.part.title}, {one.number}" if one.number else one.part.title,
            one.where,
            nowrap(one.reason),
        )
        for one in (*sheet.load.take, *sheet.load.check)
    )


def _checks(network: FaultNetwork) -> tuple[Link, ...]:
    return tuple(
        Link(calculator(one).title, url_for("checks.check", name=one))
        for one in texts.CALCULATORS.get(network.id, texts.EVERY_CALCULATOR)
    )


def _shift(shift: Shift) -> ShiftShown:
    way = "up" if shift.after > shift.before else "down"
    words = (
        shift.word_after
        if shift.word_after == shift.word_before
        else f"{shift.word_before}, now {shift.word_after}"
    )
    numbers = f"{way} from {percent(shift.before)} to {percent(shift.after)}"
    return ShiftShown(shift.title, f"{numbers} ({words})")
