"""Claims about the caller's words: what they suggest, and what they must not."""

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork
from triage.trade.words import match_words


@cache
def washer() -> FaultNetwork:
    return load_network("top_load_washer")


def titles(text: str) -> list[str]:
    return [found.title for found in match_words(washer(), text)]


# Sentences made up for the tests; the sign each one names is the author's own reading.
@pytest.mark.parametrize(
    ("said", "title"),
    [
        ("It won't drain, the clothes are swimming in it", "Water left in it"),
        ("Water wont go out", "Water left in it"),
        ("clothes come out soaking wet", "Does not spin"),
        ("it isn't spinning", "Does not spin"),
        ("it makes a terrible grinding noise when it starts", "Clunk or grinding at the start"),
        ("the agitater doesn't move", "Fills, then nothing"),
        ("there's water all over the floor", "Leaks while it washes"),
        ("the lid wont open", "Lid does not open"),
        ("The machine is DEAD", "No lights at all"),
    ],
)
def test_words_suggest_the_sign_they_name(said: str, title: str) -> None:
    assert title in titles(said)


@pytest.mark.parametrize(
    ("said", "title"),
    [
        ("I smelled gas in the laundry room", "Gas smell or hiss"),
        ("smoke is coming from the back", "Smoke, flame or glowing"),
        ("I got a shock from it", "Shock or tingle"),
        ("it smells like burning plastic", "Burning or electrical smell, no smoke"),
        ("my cat is in the washer", "Child or pet shut in"),
    ],
)
def test_words_raise_the_danger_they_name(said: str, title: str) -> None:
    found = match_words(washer(), said)

    assert found[0].is_danger
    assert found[0].title == title


@pytest.mark.parametrize(
    ("said", "title"),
    [
        ("there is no smoke", "Smoke, flame or glowing"),
        ("I don't smell gas, it just won't spin", "Gas smell or hiss"),
        ("it drains fine but does not spin", "Water left in it"),
        ("it spins but it doesn't drain", "Does not spin"),
        ("we have no water on the floor", "Leaks while it washes"),
    ],
)
def test_negated_words_do_not_suggest_what_they_deny(said: str, title: str) -> None:
    assert title not in titles(said)


@pytest.mark.parametrize("said", ["", "purple elephants", "...", "no", "the and of"])
def test_words_that_name_nothing_suggest_nothing(said: str) -> None:
    assert titles(said) == []


def test_part_of_a_phrase_is_proposed_when_no_phrase_is_found() -> None:
    found = match_words(washer(), "it is leaking")

    assert len(found) > 1
    assert all(entry.in_part and "leaks" in entry.phrase for entry in found)


def test_whole_phrase_hides_the_parts() -> None:
    found = match_words(washer(), "it leaks when it fills")

    assert [entry.title for entry in found] == ["Leaks while it fills"]


def test_every_phrase_of_the_network_finds_its_own_sign() -> None:
    entries = [*washer().safety_flags.values(), *washer().observations.values()]

    lost = [
        (entry.id, phrase)
        for entry in entries
        for phrase in entry.phrases
        if entry.id not in {found.id for found in match_words(washer(), phrase)}
    ]

    assert lost == []


@given(st.text(max_size=200))
def test_any_text_gives_scores_in_range_and_dangers_first(text: str) -> None:
    found = match_words(washer(), text)

    assert all(0.0 < entry.score <= 100.0 for entry in found)
    assert [entry.is_danger for entry in found] == sorted(
        (entry.is_danger for entry in found), reverse=True
    )
