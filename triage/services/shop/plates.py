"""The owner's own list by plate: which number of a part fits, and which machines are recalled.

An entry says how a plate **begins**; blanks, punctuation and capitals do not count, since plates
are read out on the phone. Numbers of parts go into the settings as variants of the part
(``triage.planning.shop.fitting``), so that load list and job sheet know which piece to take. A
recall is shown before anything is ranked, as a danger is. Nothing here knows a maker's numbers or
recalls: both are the owner's own entries, each with its source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from triage.errors import PlateNoteError
from triage.network.catalogue import load_network, network_names
from triage.network.values import OnVan, Part
from triage.planning.shop.fitting import Variant, plate_matches, says_something
from triage.planning.shop.settings import PartSettings, ShopSettings
from triage.services.calls.calls import Database
from triage.services.people.audit import Action, Stamp, act
from triage.store.audit import add_act
from triage.store.closings import plate_of
from triage.store.shop import PlateNote, add_plate_note, plate_notes, remove_plate_note

__all__ = ["PlateKind", "PlateNote"]

PLATE_MAX = 60
NUMBER_MAX = 100
TEXT_MAX = 500
SOURCE_MAX = 300
NOT_IN_PREFIX = "*?"  # an entry is a beginning, not a pattern


class PlateKind(StrEnum):
    """What an entry of the list is about."""

    PART = "part"
    RECALL = "recall"


@dataclass(frozen=True, slots=True)
class Recall:
    """A recall of the machine at hand: what to say and do, and where that is from."""

    text: str
    source: str


def part_titles() -> dict[str, str]:
    """Title of every part of the shipped networks, by id, in the order of the titles."""
    titles = {part.id: part.title for part in _parts().values()}
    return dict(sorted(titles.items(), key=lambda entry: entry[1]))


def own_list(database: Database, kind: PlateKind) -> tuple[PlateNote, ...]:
    """Entries of one kind, by plate."""
    with database.reading() as session:
        return plate_notes(session, kind.value)


def add_number(
    database: Database, plate: str, part: str, number: str, source: str, stamp: Stamp
) -> bool:
    """Say which number of a part fits machines whose plate begins so; whether that is new.

    Raises
    ------
    PlateNoteError
        The beginning or the number says nothing, or no network has that part.
    """
    _check_plate(plate)
    if part not in _parts():
        raise PlateNoteError("part", f'"{part}"', "a part of the networks")
    if not number.strip() or len(number) > NUMBER_MAX:
        raise PlateNoteError("number", f'"{number}"', "the shop's own number of the part")
    note = PlateNote(
        id=0,
        kind=PlateKind.PART.value,
        plate=plate.strip(),
        part_id=part,
        variant=number.strip(),
        text="",
        source=source.strip(),
    )
    return _add(database, note, stamp)


def add_recall(database: Database, plate: str, text: str, source: str, stamp: Stamp) -> bool:
    """Say that machines whose plate begins so are recalled; whether that is new.

    Raises
    ------
    PlateNoteError
        The beginning or the text says nothing.
    """
    _check_plate(plate)
    if not text.strip() or len(text) > TEXT_MAX:
        raise PlateNoteError("text", f'"{text}"', "what to tell the customer")
    note = PlateNote(
        id=0,
        kind=PlateKind.RECALL.value,
        plate=plate.strip(),
        part_id="",
        variant="",
        text=text.strip(),
        source=source.strip(),
    )
    return _add(database, note, stamp)


def remove_entry(database: Database, note_id: int, stamp: Stamp) -> None:
    """Take an entry from the list; one that is gone already is no matter."""
    with database.writing() as session:
        gone = remove_plate_note(session, note_id)
        if gone is not None:
            what = gone.text or f"{gone.part_id} {gone.variant}"
            add_act(
                session, act(Action.PLATE_NOTE_REMOVED, stamp, f"plates {gone.plate}", what=what)
            )


def recalls_of(database: Database, call_id: int) -> tuple[Recall, ...]:
    """Recalls of the machine of a call; none while nobody has read its plate.

    Raises
    ------
    UnknownCallError
    """
    with database.reading() as session:
        plate = plate_of(session, call_id)
        notes = plate_notes(session, PlateKind.RECALL.value) if plate else ()
    return recalls_matching(notes, plate)


def recalls_matching(notes: Sequence[PlateNote], plate: str) -> tuple[Recall, ...]:
    """Recalls whose beginning a plate has."""
    return tuple(
        Recall(note.text, note.source) for note in notes if plate_matches(f"{note.plate}*", plate)
    )


def with_own_numbers(settings: ShopSettings, notes: Sequence[PlateNote]) -> ShopSettings:
    """Settings in which the numbers of the list are variants of their parts.

    A number that the settings have already gets more plates. New ones are as common as the present
    ones on average, since the list does not say how many such machines are met.
    """
    by_part: dict[str, dict[str, list[str]]] = {}
    for note in notes:
        plates = by_part.setdefault(note.part_id, {}).setdefault(note.variant, [])
        plates.append(f"{note.plate}*")
    if not by_part:
        return settings
    own = dict(settings.parts)
    for part, numbers in by_part.items():
        own[part] = _with_numbers(own.get(part, PartSettings()), part, numbers)
    return replace(settings, parts=own)


def _with_numbers(
    own: PartSettings, part: str, numbers: Mapping[str, Sequence[str]]
) -> PartSettings:
    known = {variant.number: variant for variant in own.variants}
    new = [number for number in numbers if number not in known]
    count = len(known) + len(new)
    listed = sum(variant.share for variant in own.variants) if known else 1.0
    kept = tuple(
        replace(
            variant,
            plates=(*variant.plates, *numbers.get(variant.number, ())),
            share=variant.share * len(known) / count,
        )
        for variant in own.variants
    )
    added = tuple(
        Variant(number=number, plates=tuple(numbers[number]), share=listed / count)
        for number in new
    )
    variants = (*kept, *added)
    if not known:
        variants = _with_stock(variants, _pieces_aboard(own, part))
    return replace(own, variants=variants, stock=None, fit_share=1.0)


def _with_stock(variants: Sequence[Variant], pieces: int) -> tuple[Variant, ...]:
    """Pieces on the van go to the number with most plates: what a shop carries is what it meets."""
    first = max(variants, key=lambda variant: len(variant.plates))
    return tuple(
        replace(variant, stock=pieces if variant is first else variant.stock)
        for variant in variants
    )


def _pieces_aboard(own: PartSettings, part: str) -> int:
    if own.stock is not None:
        return own.stock
    known = _parts().get(part)
    place = own.on_van or (known.on_van if known else OnVan.ORDERED)
    return 1 if place is OnVan.USUALLY else 0


def _check_plate(plate: str) -> None:
    text = plate.strip()
    is_plain = not any(sign in text for sign in NOT_IN_PREFIX)
    if not says_something(text) or len(text) > PLATE_MAX or not is_plain:
        raise PlateNoteError("plate", f'"{plate}"', "the beginning of a plate, such as AB 4")


def _add(database: Database, note: PlateNote, stamp: Stamp) -> bool:
    with database.writing() as session:
        is_new = add_plate_note(session, note, stamp.at, stamp.by)
        what = note.text or f"{note.part_id} {note.variant}"
        told = act(Action.PLATE_NOTE_ADDED, stamp, f"plates {note.plate}", what=what)
        if is_new:
            add_act(session, told)
    return is_new


def _parts() -> dict[str, Part]:
    """Every part of the shipped networks."""
    networks = (load_network(name) for name in network_names())
    return {part.id: part for network in networks for part in network.parts.values()}
