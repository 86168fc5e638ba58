"""A step as the technician reads it: a test with its answers, a reading, or a repair."""

from collections.abc import Mapping
from dataclasses import dataclass

from triage.network.values import FaultNetwork, Observation, Part, Repair, RepairBy
from triage.services.job.events import Verified
from triage.services.job.sheet import site_observations
from triage.services.networks.in_use import engine_of_call
from triage.services.plan.next_step import StepCard
from webform.desk import desk
from webform.formatting import acceptance, minutes, percent, reading_field, told
from webform.jobsheet import texts
from webform.jobsheet.refusal import PIECES


@dataclass(frozen=True, slots=True)
class AnswerShown:
    """An answer with its button; ``chance`` is empty where it was not worked out."""

    value: str
    label: str
    chance: str


@dataclass(frozen=True, slots=True)
class PieceShown:
    """A part of a repair with the field for the pieces used."""

    name: str
    title: str
    usual: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepShown:
    """A step: ``kind`` is test, repair or stop.

    ``unit`` is that of a reading, good from ``low`` to ``high``; all empty where none is taken.
    """

    kind: str
    id: str
    title: str
    wording: str
    minutes: str
    preparations: tuple[str, ...] = ()
    preconditions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    acceptance: str = ""
    unit: str = ""
    low: str = ""
    high: str = ""
    sure: str = ""
    by_trade: bool = False
    answers: tuple[AnswerShown, ...] = ()
    pieces: tuple[PieceShown, ...] = ()


@dataclass(frozen=True, slots=True)
class StepsScreen:
    """Every step of an appliance."""

    title: str
    tests: tuple[StepShown, ...]
    repairs: tuple[StepShown, ...]


def steps_screen(name: str, version: int) -> StepsScreen:
    """Put the page with every step of an appliance together, of the version of a call."""
    network = engine_of_call(desk().database, name, version, desk().settings()).network
    tests = [*site_observations(network)]
    if network.verification:
        tests.append(network.observations[network.verification])
    return StepsScreen(
        network.title,
        tuple(step_shown(network, test.id) for test in tests),
        tuple(step_shown(network, repair) for repair in network.repairs),
    )


def step_shown(network: FaultNetwork, step: str, card: StepCard | None = None) -> StepShown:
    """Step of that id; ``card`` holds what was worked out about it now."""
    if step in network.observations:
        return _test(network, network.observations[step], card)
    if step in network.repairs:
        return _repair(network, network.repairs[step], card)
    title, wording = (card.title, card.sentence) if card else ("", "")
    return StepShown(kind="stop", id="", title=title, wording=wording, minutes="")


def piece_fields(parts: tuple[Part, ...], usual: int = 1) -> tuple[PieceShown, ...]:
    """Fields for the pieces of parts, one for each of the shop's own numbers."""
    fields = []
    for part in parts:
        own = desk().settings().parts.get(part.id)
        numbers = [one.number for one in own.variants] if own else []
        for number in numbers or [""]:
            title = f"{part.title}, {number}" if number else part.title
            count = str(usual if len(numbers) < 2 else 0)
            fields.append(PieceShown(f"{PIECES}{part.id}:{number}", title, count))
    return tuple(fields)


def _test(network: FaultNetwork, test: Observation, card: StepCard | None) -> StepShown:
    chances: Mapping[str, float] = {}
    if card is not None:
        chances = {one.answer: one.probability for one in card.answers}
    labels = dict(test.answers)
    labels.setdefault(texts.COULD_NOT_BE_RUN_ID, texts.COULD_NOT_BE_RUN)
    field = reading_field(test)
    return StepShown(
        kind="test",
        id=test.id,
        title=test.title,
        wording=told(test.wording),
        minutes=minutes(card.minutes if card else test.minutes),
        preparations=card.preparations if card else (),
        preconditions=tuple(network.preconditions[name] for name in test.preconditions),
        cautions=tuple(network.cautions[name] for name in test.cautions),
        acceptance=acceptance(test),
        unit=field.unit,
        low=field.low,
        high=field.high,
        answers=tuple(
            AnswerShown(value, told(label), percent(chances[value]) if value in chances else "")
            for value, label in labels.items()
        ),
    )


def _repair(network: FaultNetwork, repair: Repair, card: StepCard | None) -> StepShown:
    return StepShown(
        kind="repair",
        id=repair.id,
        title=repair.title,
        wording=texts.REPAIR_WORDING,
        minutes=minutes(card.minutes if card else repair.minutes),
        cautions=tuple(network.cautions[name] for name in repair.cautions),
        sure=percent(card.needed_share) if card else "",
        by_trade=repair.by is RepairBy.LICENSED_TRADE,
        answers=tuple(
            AnswerShown(value.value, texts.REPAIR_BUTTONS[value], "") for value in Verified
        ),
        pieces=piece_fields(tuple(network.parts[part] for part in repair.parts)),
    )
