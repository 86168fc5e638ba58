"""What the customer pays, line by line. Whole minor units throughout; halves are rounded up.

>>> from triage.services.settings.shop_front import ShopFront, Taxed
>>> front = ShopFront(tax_rate_basis_points=825, taxed=(Taxed.PARTS,))
>>> bill = amounts(fee_minor=9000, labour_minor=5000, parts_minor=[(2, 1030)], front=front)
>>> bill.taxed_minor, bill.tax_minor, bill.total_minor
(2060, 170, 16230)
"""

from collections.abc import Sequence
from dataclasses import dataclass

from triage.services.settings.shop_front import ShopFront, Taxed

WHOLE = 10_000  # basis points


@dataclass(frozen=True, slots=True)
class Amounts:
    """Sums of a job; ``taxed_minor`` is what the tax is reckoned on."""

    fee_minor: int
    labour_minor: int
    parts_minor: int
    taxed_minor: int
    tax_minor: int

    @property
    def net_minor(self) -> int:
        """Everything before tax."""
        return self.fee_minor + self.labour_minor + self.parts_minor

    @property
    def total_minor(self) -> int:
        """What the customer pays."""
        return self.net_minor + self.tax_minor


def amounts(
    *, fee_minor: int, labour_minor: int, parts_minor: Sequence[tuple[int, int]], front: ShopFront
) -> Amounts:
    """Sums of a job.

    Parameters
    ----------
    fee_minor, labour_minor : int
    parts_minor : sequence of (int, int)
        Pieces and the price of one, for each part.
    front : ShopFront
        Its tax is reckoned once, on the sum of what is taxed, not line by line.
    """
    parts = sum(pieces * price for pieces, price in parts_minor)
    by_kind = {Taxed.FEE: fee_minor, Taxed.LABOUR: labour_minor, Taxed.PARTS: parts}
    taxed = sum(by_kind[kind] for kind in front.taxed)
    return Amounts(
        fee_minor, labour_minor, parts, taxed, share_of(taxed, front.tax_rate_basis_points)
    )


def share_of(amount_minor: int, basis_points: int) -> int:
    """A rate in hundredths of a percent of an amount that is not negative, half up.

    >>> [share_of(amount, 500) for amount in (9, 10, 29, 30)]
    [0, 1, 1, 2]
    """
    return (2 * amount_minor * basis_points + WHOLE) // (2 * WHOLE)


def minor_of_minutes(minutes: float, minor_per_hour: float) -> int:
    """Price of minutes at a rate per hour, half up.

    >>> minor_of_minutes(20, 10000), minor_of_minutes(0.3, 100)
    (3333, 1)
    """
    return int(minutes * minor_per_hour / 60 + 0.5)


def half_up(amount_minor: float) -> int:
    """Whole minor units of an amount that is not negative, half up.

    >>> half_up(1264.5), half_up(1265.5)
    (1265, 1266)
    """
    return int(amount_minor + 0.5)
