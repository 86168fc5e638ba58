"""What happened on the visit so far, what is waited for, and the photos: rows of the job sheet."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from flask import url_for

from triage.network.values import FaultNetwork
from triage.services.call_log.events import FindingMade
from triage.services.job.events import (
    AnsweredTwice,
    OwnFinding,
    RepairDone,
    SecondFault,
    StepOverruled,
)
from triage.services.job.photos import StoredPhoto
from triage.services.job.state import JobState, Made, Told
from webform.formatting import answer_told, day_and_time
from webform.jobsheet import texts

TYPED = ("text", "reason", "what_for", "amount", "by_whom", "note")  # fields of words and amounts


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """A row of the log; with ``undo_kind`` it can be taken back, by the ``step`` it names."""

    title: str
    result: str
    when: str
    by: str
    undo_kind: str = ""
    step: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderShown:
    """A part that was ordered."""

    part: str
    title: str
    expected: str
    arrived: str


@dataclass(frozen=True, slots=True)
class PhotoShown:
    """A photo with its note."""

    url: str
    note: str
    when: str


def log_rows(
    made: Iterable[Made], told: Iterable[Told], network: FaultNetwork
) -> tuple[LogRow, ...]:
    """Rows in the order in which things happened."""
    rows = [(one.at, _made(one, network)) for one in made]
    rows += [(one.at, _told(one, network)) for one in told]
    return tuple(row for _, row in sorted(rows, key=lambda entry: entry[0]))


def orders(state: JobState, network: FaultNetwork) -> tuple[OrderShown, ...]:
    """Parts that were ordered."""
    return tuple(
        OrderShown(
            part=one.part,
            title=texts.pieces(one.pieces, _part(network, one.part)),
            expected=f"{one.expected_on:%a %d %b}",
            arrived=day_and_time(one.arrived_at) if one.arrived_at else "",
        )
        for one in state.orders
    )


def photos(found: Iterable[StoredPhoto], call_id: int) -> tuple[PhotoShown, ...]:
    """Photos with their addresses."""
    return tuple(
        PhotoShown(
            url_for("jobsheet.photo", call_id=call_id, photo_id=one.id),
            one.note,
            f"{day_and_time(one.at)}, {one.by}",
        )
        for one in found
    )


def entered(network: FaultNetwork, fields: Mapping[str, str]) -> str:
    """What the fields of a form say, for a person to see it again."""
    observation, answer = fields.get("observation", ""), fields.get("answer", "")
    step = observation or fields.get("repair", "") or fields.get("taken", "")
    reading = f"{fields.get('reading', '')} {fields.get('unit', '')}" if "reading" in fields else ""
    words = [
        step_title(network, step) if step else "",
        reading.strip(),
        _label(network, observation, answer) if answer else "",
        texts.VERIFIED_SENT.get(fields.get("verified", ""), ""),
        *(fields.get(name, "").strip() for name in TYPED),
    ]
    return ": ".join(word for word in words if word)


def step_title(network: FaultNetwork, step: str) -> str:
    """Title of a test or repair."""
    if step in network.observations:
        return network.observations[step].title
    return network.repairs[step].title if step in network.repairs else texts.UNKNOWN_STEP


def _part(network: FaultNetwork, part: str) -> str:
    return network.parts[part].title if part in network.parts else texts.UNKNOWN_PART


def _made(one: Made, network: FaultNetwork) -> LogRow:
    event = one.event
    when, by = day_and_time(one.at), one.by
    if isinstance(event, RepairDone):
        used = [texts.pieces(piece.pieces, _part(network, piece.part)) for piece in event.pieces]
        return LogRow(
            title=step_title(network, event.repair),
            result="; ".join([texts.VERIFIED[event.verified], *used]),
            when=when,
            by=by,
            undo_kind="job_repair_undone",
            step=event.repair,
        )
    return LogRow(
        title=step_title(network, event.observation),
        result=_answer(event, network),
        when=when,
        by=by,
        undo_kind="finding_undone",
        step=event.observation,
    )


def _answer(event: FindingMade, network: FaultNetwork) -> str:
    return _label(network, event.observation, event.answer)


def _label(network: FaultNetwork, observation: str, answer: str | float) -> str:
    if observation in network.observations:
        return answer_told(network.observations[observation], answer)
    return str(answer).replace("_", " ")


def _told(one: Told, network: FaultNetwork) -> LogRow:
    event = one.event
    when, by = day_and_time(one.at), one.by
    match event:
        case StepOverruled(_, taken, reason):
            return LogRow(
                title=texts.OVERRULED.format(title=step_title(network, taken)),
                result=reason,
                when=when,
                by=by,
            )
        case OwnFinding(text, component):
            known = network.components.get(component)
            title = known.title if known else ""
            head = f"{texts.OWN_FINDING}: {title}" if title else texts.OWN_FINDING
            return LogRow(title=head, result=text, when=when, by=by)
        case SecondFault(text):
            return LogRow(title=texts.SECOND_FAULT, result=text, when=when, by=by)
        case AnsweredTwice(observation, sent, found, counts):
            result = texts.ANSWERED_TWICE.format(
                sent=_label(network, observation, sent),
                found=_label(network, observation, found),
                counts=_label(network, observation, counts),
            )
            title = texts.TWICE.format(title=step_title(network, observation))
            return LogRow(title=title, result=result, when=when, by=by)
        case _:
            return LogRow(title=texts.NOTE, result=event.text, when=when, by=by)
