"""What acts on what, and how strongly, in words: the links that pictures and pages show.

A link goes from a failure mode to a sign. Its strength is the probability that the sign leaves its
normal state when this mode alone has failed and no other cause acts.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from triage.network.values import Combination, FaultNetwork, Sign

# Word and lower bound of a strength: half-way between the levels 0.947, 0.628, 0.255 and 0.043 that
# the shipped networks use, rounded (networks/fragments/common.yaml). Common usage, no source; the
# number stands by.
STRENGTH_WORDS: Mapping[str, float] = {
    "almost always": 0.80,
    "often": 0.45,
    "sometimes": 0.15,
    "rarely": 0.0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One failure mode acting on one sign.

    ``strength`` is the probability of a state other than the normal one; ``states`` holds the
    probability of each of them that can come, and ``is_two_state`` says whether the sign has only
    one. ``together_with`` are the modes that must have failed as well; they are given only where
    the mode does nothing by itself.
    """

    mode: str
    sign: str
    strength: float
    states: Mapping[str, float]
    is_two_state: bool = True
    together_with: tuple[str, ...] = ()


def words(identifier: str) -> str:
    """Identifier as people read it."""
    return identifier.replace("_", " ")


def strength_word(strength: float) -> str:
    """Word for a strength."""
    return next(word for word, bound in STRENGTH_WORDS.items() if strength >= bound)


def percent(probability: float) -> str:
    """Probability as people read it: two digits at most, "4.3 %" and "63 %"."""
    number = 100 * probability
    return f"{number:.0f} %" if number >= 9.95 or number == 0 else f"{number:.2g} %"


def states_text(link: Link) -> str:
    """Probability of each state a link leads to: "63 %", or "dribble 80 %, none 10 %"."""
    if len(link.states) == 1 and link.is_two_state:
        return percent(link.strength)
    return ", ".join(f"{words(state)} {percent(chance)}" for state, chance in link.states.items())


def strength_text(link: Link) -> str:
    """Strength in words and numbers: "often (63 %)"."""
    return f"{strength_word(link.strength)} ({states_text(link)})"


def links_of(sign: Sign) -> tuple[Link, ...]:
    """Links into one sign, strongest first; equally strong ones in the order of the file."""
    if sign.combination is Combination.TABLE:
        found = [_table_link(sign, mode) for mode in sign.parents]
    else:
        found = [_link(sign, mode, chances) for mode, chances in sign.causes.items()]
    return tuple(sorted(found, key=lambda link: -link.strength))


def all_links(network: FaultNetwork) -> tuple[Link, ...]:
    """Links of a network, sign by sign in the order of the file."""
    return tuple(link for sign in network.signs.values() for link in links_of(sign))


def _link(
    sign: Sign, mode: str, chances: tuple[float, ...], together_with: tuple[str, ...] = ()
) -> Link:
    abnormal = zip(sign.states[1:], chances[1:], strict=True)
    return Link(
        mode=mode,
        sign=sign.id,
        strength=sum(chances[1:]),
        states={state: chance for state, chance in abnormal if chance > 0},
        is_two_state=len(sign.states) == 2,
        together_with=together_with,
    )


def _table_link(sign: Sign, mode: str) -> Link:
    """Link out of a decision list: the row of the mode alone, else the strongest that names it."""
    alone = next((row for row in sign.rows if row.when == (mode,)), None)
    row = alone or max(
        (row for row in sign.rows if mode in row.when), key=lambda row: sum(row.then[1:])
    )
    return _link(sign, mode, row.then, tuple(other for other in row.when if other != mode))
