"""Phone numbers: any writing goes in, E.164 is kept beside it, and nothing is refused.

A number is first looked at for its length (*possible*), then for whether any network hands out
such numbers (*valid*). Both only warn: the plan of numbers changes faster than a program, and a
number with a slip is better than none. E.164 is the international form [E164]_, in which one
number has one writing; ``tel:`` links are those of [RFC3966]_.

>>> phone_number("(202) 555-0143", "US").e164
'+12025550143'
>>> phone_number("next door", "US").warning
'This does not read as a phone number. It is kept as it is.'
"""

import unicodedata
from dataclasses import dataclass

import phonenumbers

from triage.services.folding import folded

NOT_A_NUMBER = "This does not read as a phone number. It is kept as it is."
WRONG_LENGTH = (
    "This number is too short or too long for a phone number. Read it back to the caller."
)
NO_AREA_CODE = "This number has no area code. Ask for it."
NOT_IN_USE = "No network hands out such numbers. Read it back to the caller."
FEWEST_DIGITS = 4  # fewer in a search say too little


@dataclass(frozen=True, slots=True)
class PhoneNumber:
    """A number as it was said, its international form or empty, and what is odd about it."""

    text: str
    e164: str = ""
    warning: str = ""


def phone_number(text: str, region: str) -> PhoneNumber:
    """Read a number as somebody in a region writes it, such as ``US``."""
    said = text.strip()
    if not said:
        return PhoneNumber("")
    try:
        parsed = phonenumbers.parse(said, region or None)
    except phonenumbers.NumberParseException:
        return PhoneNumber(said, warning=NOT_A_NUMBER)
    length = phonenumbers.is_possible_number_with_reason(parsed)
    if length == phonenumbers.ValidationResult.IS_POSSIBLE_LOCAL_ONLY:
        return PhoneNumber(said, warning=NO_AREA_CODE)
    if length != phonenumbers.ValidationResult.IS_POSSIBLE:
        return PhoneNumber(said, warning=WRONG_LENGTH)
    e164 = phonenumbers.format_number(parsed, phonenumbers.PhoneNumberFormat.E164)
    warning = "" if phonenumbers.is_valid_number(parsed) else NOT_IN_USE
    return PhoneNumber(said, e164, warning)


def phone_as_shown(text: str, e164: str, region: str) -> str:
    """Number as people of the region write it; as it was said where it is no number."""
    if not e164:
        return text
    parsed = phonenumbers.parse(e164)
    is_near = parsed.country_code == phonenumbers.country_code_for_region(region)
    style = phonenumbers.PhoneNumberFormat
    return phonenumbers.format_number(parsed, style.NATIONAL if is_near else style.INTERNATIONAL)


def digits_searched(text: str, region: str) -> str:
    """Digits by which stored numbers are searched, empty if the text is rather a name.

    A whole number gives its international digits; a part of one gives those that are there.

    >>> digits_searched("٥٥٥ ٠١٤٣", "US")
    '5550143'
    >>> digits_searched("Mill cottage 4", "US")
    ''
    """
    if any(one.isalpha() for one in folded(text)):
        return ""
    digits = "".join(
        str(unicodedata.digit(one)) for one in text if unicodedata.digit(one, None) is not None
    )
    if len(digits) < FEWEST_DIGITS:
        return ""
    whole = phone_number(text, region).e164
    return whole.removeprefix("+") if whole else digits.lstrip("0")
