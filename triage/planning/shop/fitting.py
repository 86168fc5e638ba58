"""Which part fits: from the data on the machine's plate to the number of the part.

The owner lists, for a part, the numbers the shop knows and for each the plates it fits, as free
text in which ``*`` stands for anything and ``?`` for one character. Capitals, blanks and
punctuation do not count, since plates are read out on the phone. Nothing here knows a maker's
numbers.

A number on the van that does not fit is as good as none, so the chance that it fits goes into the
chance that a job can be finished (``triage.planning.parts.load.with_fit``).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

# P(a plate read out on the phone comes out as one that no pattern knows | a number fits).
# Assumption without a source; it only matters for plates that match nothing.
MISREAD_SHARE = 0.1


class FitState(StrEnum):
    """What the plate says about the number of a part."""

    NO_LIST = "no_list"
    ONE_NUMBER = "one_number"
    SEVERAL_NUMBERS = "several_numbers"
    NOT_LISTED = "not_listed"
    NO_PLATE = "no_plate"

    @property
    def asks_for_photo(self) -> bool:
        """Whether a photo of the plate would settle which number to take."""
        return self not in (FitState.NO_LIST, FitState.ONE_NUMBER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One number of a part.

    ``plates`` are patterns of the plates it fits. ``share`` is the share of the machines met that
    need this number. ``stock`` counts pieces on the van. ``cost_minor`` is what the shop pays, or
    None where the part's own cost holds.
    """

    number: str
    plates: tuple[str, ...]
    share: float
    stock: int = 0
    cost_minor: int | None = None

    def fits(self, plate: str) -> bool:
        """Whether a plate matches one of the patterns."""
        return any(plate_matches(pattern, plate) for pattern in self.plates)


@dataclass(frozen=True, slots=True)
class Fitting:
    """Numbers that may fit one machine, with P(fits); what is missing to 1 fits none of them.

    The number is empty where the owner keeps no list for the part.
    """

    state: FitState
    candidates: tuple[tuple[str, float], ...]


def fitting(variants: Sequence[Variant], plate: str, fit_share: float = 1.0) -> Fitting:
    """Numbers of a part that may fit the machine of a plate.

    Parameters
    ----------
    variants : sequence of Variant
        Shares sum to at most 1. Empty if the owner keeps no list for the part.
    plate : str
        What the plate says, as it was read out; empty if nobody has read it yet.
    fit_share : float
        P(the piece on the van fits) for a part without a list.

    Returns
    -------
    Fitting
        Candidates in the order of ``variants``. With no plate they are as probable as their
        shares. A plate that no pattern knows may be a machine that is not in the list, or may have
        been misread (``MISREAD_SHARE``).
    """
    if not variants:
        return Fitting(FitState.NO_LIST, (("", fit_share),))
    if not _letters(plate):
        return Fitting(FitState.NO_PLATE, tuple((v.number, v.share) for v in variants))
    matching = [variant for variant in variants if variant.fits(plate)]
    if len(matching) == 1:
        return Fitting(FitState.ONE_NUMBER, ((matching[0].number, 1.0),))
    listed = sum(variant.share for variant in variants)
    if matching:
        total = sum(variant.share for variant in matching)
        shares = tuple((variant.number, variant.share / total) for variant in matching)
        return Fitting(FitState.SEVERAL_NUMBERS, shares)
    misread = MISREAD_SHARE * listed
    is_listed = misread / (misread + 1.0 - listed)
    return Fitting(
        FitState.NOT_LISTED,
        tuple((variant.number, is_listed * variant.share / listed) for variant in variants),
    )


def plate_matches(pattern: str, plate: str) -> bool:
    """Whether a plate matches a pattern with ``*`` and ``?``.

    Examples
    --------
    >>> plate_matches("AB 4?0*", "ab-450 k")
    True
    """
    wanted = _letters(pattern, keep="*?")
    expression = "".join({"*": ".*", "?": "."}.get(letter, letter) for letter in wanted)
    return re.fullmatch(expression, _letters(plate)) is not None


def says_something(pattern: str) -> bool:
    """Whether a pattern has a letter or digit; without one it would fit every machine."""
    return bool(_letters(pattern))


def _letters(text: str, keep: str = "") -> str:
    """Letters and digits in capitals; ``keep`` names further characters to keep."""
    return "".join(letter for letter in text.upper() if letter.isalnum() or letter in keep)
