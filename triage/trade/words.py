"""From a caller's words to signs and dangers: a proposal, never a finding.

A phrase of the network ("water on the floor") is looked for in what the caller said ("there's
water all over my floor"): every word of weight of the phrase must have a similar word in one short
stretch of the text. Endings, filler words, order and typing slips do not matter. A **negation**
does, and it reaches over the next few words of its clause: "no smoke" does not suggest "smoke",
"drains" does not suggest "won't drain". If no sign is found that way, the signs whose phrases match
in part are proposed. Dangers are never proposed in part. A person confirms what is proposed.

Two words of the same stem are alike (100); else their similarity is the mean of
``rapidfuzz.fuzz.ratio`` of the words and of the stems, 0 to 100.
O(T W) comparisons for ``T`` words said and ``W`` different words in the phrases.

>>> from triage.network.catalogue import load_network
>>> network = load_network("top_load_washer")
>>> [found.title for found in match_words(network, "Clothes come out soaking wet, I see no smoke")]
['Does not spin']
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz import fuzz

from triage.network.values import FaultNetwork

# These limits were set by trying the sentences of the tests; no published source.
WORD_SIMILARITY_MIN = 80.0  # "agitater" and "agitator" 87.5, "lights" and "lightning" 79
SCORE_MIN = 88.0  # mean over the words of a phrase
PART_SCORE_MIN = 50.0  # half the words of a phrase
PARTS_MAX = 5  # signs proposed by a part of a phrase
FILLERS_MAX = 3  # words of weight between the words of a phrase
NEGATED_WORDS_MAX = 3  # words of weight that one negation reaches
LONG_PHRASE_WORDS = 4  # from here a phrase with one word of weight is compared word by word

_NEGATIONS = (
    "no not never nothing none neither nor without cannot cant dont doesnt didnt wont wouldnt isnt "
    "arent wasnt werent aint hasnt havent couldnt nobody"
)
_FILLERS = (
    "a an the so of in on at to for from with by as is are was were be been being am it its i "
    "im ive  me my mine we our us you your he she they them their this that these those there "
    "theres here do  does did has have had having will would can could should just really "
    "very quite some any all  when if again still even ever also too machine washer thing "
    "like kind sort bit lot maybe think  say says said come comes coming"
)
NEGATIONS = frozenset(_NEGATIONS.split())
FILLERS = frozenset(_FILLERS.split())
CLAUSE_ENDS = frozenset({"and", "but", "or", "then", "while", "because", "although", "though"})
ENDINGS = ("ing", "ed", "es", "s")  # they say nothing about the sign; longest first


@dataclass(frozen=True, slots=True)
class Suggestion:
    """An observation or safety flag that the words suggest.

    ``phrase`` is the best of its phrases, ``score`` the similarity, 0 to 100; ``in_part`` if only a
    part of the phrase was found.
    """

    id: str
    title: str
    phrase: str
    score: float
    is_danger: bool = False

    @property
    def in_part(self) -> bool:
        """Whether only a part of the phrase was found."""
        return self.score < SCORE_MIN


@dataclass(frozen=True, slots=True)
class _Word:
    text: str
    stem: str
    is_negated: bool


@dataclass(frozen=True, slots=True)
class _Said:
    """Words of a text or phrase: those of weight, and all of them."""

    weighty: tuple[_Word, ...]
    all: tuple[_Word, ...]

    @property
    def is_read_whole(self) -> bool:
        """Whether a phrase has too few words of weight to be told by them alone."""
        fewest = 1 if len(self.all) < LONG_PHRASE_WORDS else 2
        return len(self.weighty) < fewest


def match_words(network: FaultNetwork, text: str) -> tuple[Suggestion, ...]:
    """Find the observations and safety flags that the caller's words suggest.

    Parameters
    ----------
    network : FaultNetwork
        With phrases at its observations and safety flags.
    text : str
        What the caller said, as typed.

    Returns
    -------
    tuple of Suggestion
        Dangers first, then best score first, then in the order of the network. Empty if nothing
        matches.
    """
    said = _read(text)
    flags = network.safety_flags.values()
    dangers = [_best(flag.id, flag.title, flag.phrases, said, is_danger=True) for flag in flags]
    signs = [
        _best(entry.id, entry.title, entry.phrases, said)
        for entry in network.observations.values()
        if entry.volunteered is not None
    ]
    whole = _ordered(entry for entry in signs if not entry.in_part)
    parts = _ordered(entry for entry in signs if entry.score >= PART_SCORE_MIN)[:PARTS_MAX]
    return (*_ordered(entry for entry in dangers if not entry.in_part), *(whole or parts))


def _ordered(suggestions: Iterable[Suggestion]) -> list[Suggestion]:
    return sorted(suggestions, key=lambda entry: -entry.score)


def _best(
    name: str, title: str, phrases: Sequence[str], said: _Said, *, is_danger: bool = False
) -> Suggestion:
    scores = [(_score(_read(phrase), said), phrase) for phrase in phrases]
    score, phrase = max(scores, key=lambda scored: scored[0], default=(0.0, ""))
    return Suggestion(name, title, phrase, score, is_danger)


@lru_cache(maxsize=4096)
def _read(text: str) -> _Said:
    """Words of a text; those after a negation are marked until the clause ends."""
    plain = re.sub(r"['’`]", "", text.casefold())
    weighty, every = [], []
    reach = 0
    for word in re.findall(r"[^\W_]+|[,.;:!?]", plain):
        if word in NEGATIONS:
            reach = NEGATED_WORDS_MAX
        elif word in CLAUSE_ENDS or not word[0].isalnum():
            reach = 0
        else:
            entry = _Word(word, _stem(word), reach > 0)
            every.append(entry)
            if word not in FILLERS:
                weighty.append(entry)
                reach -= 1
    return _Said(tuple(weighty), tuple(every))


def _stem(word: str) -> str:
    """Word without its ending, if enough is left: "leaking" and "leaks" are both "leak"."""
    for ending in ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            stem = word.removesuffix(ending)
            is_doubled = len(stem) > 3 and stem[-1] == stem[-2] and stem[-1] not in "lsz"
            return stem[:-1] if is_doubled else stem
    return word


def _score(phrase: _Said, said: _Said) -> float:
    """Best mean similarity of the words of a phrase over short stretches of the text, 0 to 100."""
    words, heard = phrase.weighty, said.weighty
    if phrase.is_read_whole:
        words, heard = phrase.all, said.all
    stretches = _stretches(heard, len(words))
    best = max((_score_in(words, stretch) for stretch in stretches), default=0.0)
    # Filler words in common say nothing, so a phrase read whole counts whole or not at all.
    return 0.0 if phrase.is_read_whole and best < SCORE_MIN else best


def _stretches(words: Sequence[_Word], count: int) -> Iterator[Sequence[_Word]]:
    """Runs of neighbouring words, a little longer than the phrase; the text if it is shorter."""
    length = min(len(words), count + FILLERS_MAX)
    for start in range(len(words) - length + 1):
        yield words[start : start + length]


def _score_in(words: Sequence[_Word], stretch: Sequence[_Word]) -> float:
    scores = [max((_similarity(word, other) for other in stretch), default=0.0) for word in words]
    return sum(score for score in scores if score >= WORD_SIMILARITY_MIN) / max(len(scores), 1)


def _similarity(word: _Word, other: _Word) -> float:
    """Similarity of a word of a phrase and a word that was said; 0 if only one is negated."""
    if word.is_negated != other.is_negated:
        return 0.0
    return _likeness(word.text, word.stem, other.text, other.stem)


@lru_cache(maxsize=65536)
def _likeness(word: str, stem: str, other: str, other_stem: str) -> float:
    if stem == other_stem:
        return 100.0
    return (fuzz.ratio(word, other) + fuzz.ratio(stem, other_stem)) / 2.0
