"""Amounts and counts as people type them: checked with plain sentences, read exactly."""

import re
from decimal import ROUND_HALF_UP, Decimal

from wtforms import Field, Form
from wtforms.validators import StopValidation

AMOUNT = re.compile(r"(\d{1,3}(,\d{3})+|\d{1,7})(\.\d{1,2})?")
NUMBER = re.compile(r"\d{1,6}(\.\d{1,4})?")
WHOLE = re.compile(r"\d{1,6}")
MINOR_UNITS = 100


class Amount:
    """Demand an amount of money: "The fee must be an amount such as 90 or 90.50"."""

    def __init__(self, *, thing: str, is_needed: bool = True) -> None:
        self.message = f"{thing[0].upper()}{thing[1:]} must be an amount such as 90 or 90.50"
        self.is_needed = is_needed

    def __call__(self, form: Form, field: Field) -> None:
        """Stop at what is no amount."""
        text = (field.data or "").strip()
        if (text or self.is_needed) and AMOUNT.fullmatch(text) is None:
            raise StopValidation(self.message)


class Between:
    """Demand a number in a range: "Minutes must be a number from 1 to 600"."""

    def __init__(
        self,
        low: float,
        high: float,
        *,
        thing: str,
        is_needed: bool = True,
        is_whole: bool = False,
    ) -> None:
        kind = "a whole number" if is_whole else "a number"
        self.message = f"{thing[0].upper()}{thing[1:]} must be {kind} from {low:g} to {high:g}"
        self.low, self.high, self.is_needed = low, high, is_needed
        self.pattern = WHOLE if is_whole else NUMBER

    def __call__(self, form: Form, field: Field) -> None:
        """Stop at what is no number, or out of range."""
        text = (field.data or "").strip()
        if not text and not self.is_needed:
            return
        is_number = self.pattern.fullmatch(text) is not None
        if not is_number or not self.low <= float(text) <= self.high:
            raise StopValidation(self.message)


def minor_of(text: str) -> int:
    """Minor units of an amount as it was typed.

    >>> minor_of("1,234.5"), minor_of("90"), minor_of("0.05")
    (123450, 9000, 5)
    """
    amount = Decimal(text.strip().replace(",", "")) * MINOR_UNITS
    return int(amount.to_integral_value(ROUND_HALF_UP))


def as_typed(amount_minor: int) -> str:
    """Amount as one types it.

    >>> as_typed(123450), as_typed(9000)
    ('1234.50', '90.00')
    """
    whole, rest = divmod(amount_minor, MINOR_UNITS)
    return f"{whole}.{rest:02d}"
