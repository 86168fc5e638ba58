"""Sections ``shop`` and ``tax`` of a settings file, as strict as the others."""

from collections.abc import Callable
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from triage.network.schema import Strict
from triage.network.schema_types import NOT_BLANK, RULE
from triage.services.settings.shop_front import (
    DEFAULT_FRONT,
    DateStyle,
    ShopFront,
    Taxed,
    Units,
)

NAME_MAX = 80
ADDRESS_MAX = 300
TAX_NAME_MAX = 40
HIGHEST_TAX = 30  # percent; a rate above it is a slip
BASIS_POINTS = 100  # per percent: a rate has at most two decimals
FRONT_SECTIONS = ("shop", "tax")


def _rule(text: str) -> PydanticCustomError:
    return PydanticCustomError(RULE, "{text}", {"text": text})


def _at_most(limit: int) -> Callable[[str], str]:
    def check(text: str) -> str:
        if len(text) > limit:
            raise _rule(f"got {len(text)} characters; expected at most {limit}")
        return text

    return check


def _two_decimals(rate: float) -> float:
    if abs(rate * BASIS_POINTS - round(rate * BASIS_POINTS)) > 1e-6:
        raise _rule(f"got {rate:g}; expected at most two decimals")
    return rate


class ShopEntry(Strict):
    """Section ``shop``."""

    name: Annotated[str, AfterValidator(_at_most(NAME_MAX))] = ""
    address: Annotated[str, AfterValidator(_at_most(ADDRESS_MAX))] = ""
    units: Literal["us", "si"] = "us"
    dates: Literal["day_first", "month_first", "iso"] = "day_first"


class TaxEntry(Strict):
    """Section ``tax``."""

    name: Annotated[str, Field(pattern=NOT_BLANK), AfterValidator(_at_most(TAX_NAME_MAX))] = (
        DEFAULT_FRONT.tax_name
    )
    rate: Annotated[
        float, Field(ge=0, le=HIGHEST_TAX, allow_inf_nan=False), AfterValidator(_two_decimals)
    ] = 0.0
    on: list[Literal["fee", "labour", "parts"]] = Field(default_factory=list)


def front_of(shop: ShopEntry | None, tax: TaxEntry | None) -> ShopFront:
    """Front of what the two sections say; what is left out takes its default."""
    shop, tax = shop or ShopEntry(), tax or TaxEntry()
    return ShopFront(
        name=shop.name.strip(),
        address=shop.address.strip(),
        units=Units(shop.units),
        date_style=DateStyle(shop.dates),
        tax_name=tax.name,
        tax_rate_basis_points=round(tax.rate * BASIS_POINTS),
        taxed=tuple(one for one in Taxed if one.value in tax.on),
    )


def front_as_data(front: ShopFront) -> dict[str, object]:
    """Sections of a settings file that ``front_of`` reads back."""
    rate = front.tax_rate_basis_points / BASIS_POINTS
    return {
        "shop": {
            "name": front.name,
            "address": front.address,
            "units": front.units.value,
            "dates": front.date_style.value,
        },
        "tax": {
            "name": front.tax_name,
            "rate": int(rate) if rate == int(rate) else rate,
            "on": [one.value for one in front.taxed],
        },
    }
