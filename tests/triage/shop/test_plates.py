"""Claims about the owner's own list by plate: numbers of parts that fit, and recalls."""

from dataclasses import replace

import pytest

from tests.triage.job.playing_jobs import NINE, customer, phoned
from triage.errors import PlateNoteError, UnknownCallError
from triage.planning.shop.fitting import FitState, Variant, fitting
from triage.planning.shop.settings import DEFAULT_SETTINGS, PartSettings
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.people.audit import ActFilter, Stamp, find_acts
from triage.services.shop.plates import (
    PlateKind,
    PlateNote,
    Recall,
    add_number,
    add_recall,
    own_list,
    part_titles,
    recalls_of,
    remove_entry,
    with_own_numbers,
)
from triage.services.shop.settings import current_settings, save_settings

STAMP = Stamp(NINE, "boss")


def note(plate: str, part: str, number: str) -> PlateNote:
    return PlateNote(
        id=0, kind="part", plate=plate, part_id=part, variant=number, text="", source=""
    )


def test_number_of_the_list_fits_the_machines_whose_plate_begins_so(database: Database) -> None:
    add_number(database, "AB 4", "drain_pump", "P-100", "our shelf", STAMP)
    add_number(database, "CD", "drain_pump", "P-200", "our shelf", STAMP)

    variants = current_settings(database).parts["drain_pump"].variants

    found = fitting(variants, "ab-412 k")
    assert (found.state, found.candidates) == (FitState.ONE_NUMBER, (("P-100", 1.0),))
    assert fitting(variants, "").candidates == (("P-100", 0.5), ("P-200", 0.5))


def test_pieces_on_the_van_go_to_the_number_with_most_plates() -> None:
    settings = replace(DEFAULT_SETTINGS, parts={"drain_pump": PartSettings(stock=2)})
    notes = [note("A", "drain_pump", "P-1"), note("B", "drain_pump", "P-2")]
    notes.append(note("C", "drain_pump", "P-2"))

    own = with_own_numbers(settings, notes).parts["drain_pump"]

    assert {variant.number: variant.stock for variant in own.variants} == {"P-1": 0, "P-2": 2}
    assert own.stock is None


def test_part_that_is_usually_aboard_stays_aboard_when_it_gets_a_number() -> None:
    own = with_own_numbers(DEFAULT_SETTINGS, [note("A", "drain_pump", "P-1")])

    assert sum(variant.stock for variant in own.parts["drain_pump"].variants) == 1


def test_number_that_the_settings_have_gets_more_plates_and_shares_stay_below_one() -> None:
    known = Variant(number="P-1", plates=("X*",), share=0.6, stock=3)
    settings = replace(DEFAULT_SETTINGS, parts={"drain_pump": PartSettings(variants=(known,))})
    notes = [note("A", "drain_pump", "P-1"), note("B", "drain_pump", "P-2")]

    first, second = with_own_numbers(settings, notes).parts["drain_pump"].variants

    assert (first.plates, first.stock, first.share) == (("X*", "A*"), 3, 0.3)
    assert (second.plates, second.share) == (("B*",), 0.3)


def test_empty_list_leaves_the_settings_as_they_are() -> None:
    assert with_own_numbers(DEFAULT_SETTINGS, []) is DEFAULT_SETTINGS


def test_list_and_settings_of_the_store_hold_together(database: Database) -> None:
    text = "format: 1\nparts: {drain_pump: {price: 110, stock: 2}}\n"
    save_settings(database, text, "", Entry(submission=Submission("0", 0), at=NINE, by="boss"))
    add_number(database, "AB", "drain_pump", "P-1", "", STAMP)

    own = current_settings(database).parts["drain_pump"]

    assert (own.price_minor, own.variants[0].stock) == (11000, 2)


def test_recall_is_told_for_the_machine_whose_plate_begins_so(database: Database) -> None:
    call_id = phoned(database, of=customer(database))
    add_recall(database, "ab4", "Do not use it: the lid can come off.", "letter, invented", STAMP)
    add_recall(database, "ZZ", "Another machine", "letter, invented", STAMP)

    found = recalls_of(database, call_id)

    assert found == (Recall("Do not use it: the lid can come off.", "letter, invented"),)


def test_machine_without_a_plate_has_no_recall(database: Database) -> None:
    add_recall(database, "A", "Stop", "", STAMP)

    assert recalls_of(database, phoned(database)) == ()


def test_recall_of_a_call_that_is_not_there_is_refused(database: Database) -> None:
    with pytest.raises(UnknownCallError):
        recalls_of(database, 9)


@pytest.mark.parametrize("plate", ["", "  ", "-", "A*", "A?", "x" * 61])
def test_beginning_that_says_nothing_is_refused(database: Database, plate: str) -> None:
    with pytest.raises(PlateNoteError, match=r"plate: got .*; expected the beginning of a plate"):
        add_recall(database, plate, "Stop", "", STAMP)


@pytest.mark.parametrize(
    ("part", "number", "field"),
    [("wheel", "P-1", "part"), ("drain_pump", " ", "number"), ("drain_pump", "x" * 101, "number")],
)
def test_number_of_an_unknown_part_or_none_is_refused(
    database: Database, part: str, number: str, field: str
) -> None:
    with pytest.raises(PlateNoteError, match=f"by plate, {field}: got"):
        add_number(database, "AB", part, number, "", STAMP)


@pytest.mark.parametrize("text", ["", "x" * 501])
def test_recall_that_says_nothing_or_too_much_is_refused(database: Database, text: str) -> None:
    with pytest.raises(PlateNoteError, match="text: got"):
        add_recall(database, "AB", text, "", STAMP)


def test_same_entry_twice_stands_once_and_is_gone_when_removed(database: Database) -> None:
    for _ in range(2):
        add_number(database, "AB", "drain_pump", "P-1", "", STAMP)
    (entry,) = own_list(database, PlateKind.PART)

    for _ in range(2):
        remove_entry(database, entry.id, STAMP)

    assert own_list(database, PlateKind.PART) == ()
    assert current_settings(database) == DEFAULT_SETTINGS
    acts = [one.action for one in find_acts(database, ActFilter()).acts]
    assert acts.count("plate_note_removed") == 1


def test_parts_are_offered_by_their_titles() -> None:
    titles = part_titles()

    assert titles["drain_pump"] == "Drain pump"
    assert list(titles.values()) == sorted(titles.values())
