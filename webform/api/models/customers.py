"""Models of customers and their machines."""

from typing import Annotated

from pydantic import Field

from webform.api.models.appliances import Appliance
from webform.api.models.base import NUMBER_MAX, Asked, Sent, Shown, text

CustomerVersion = Annotated[
    int,
    Field(
        ge=0,
        le=NUMBER_MAX,
        description="version of the customer as the sender knows it; if the customer or one of the "
        "machines was changed since, nothing is, and the answer is 409",
    ),
]


class CustomersAsked(Asked):
    """Part of a name, or of a number in any writing."""

    q: Annotated[str, text(100, is_needed=True)]


class CustomerGiven(Sent):
    """A customer; one with the very same data is found, not added again."""

    name: Annotated[str, text(200, is_needed=True)]
    phone: Annotated[str, text(60)] = ""
    street: Annotated[str, text(200)] = ""
    town: Annotated[str, text(100)] = ""
    postcode: Annotated[str, text(20)] = ""
    notes: Annotated[str, text(1000)] = ""


class MachineGiven(Sent):
    """A machine; one with the very same data is found, not added again."""

    network: Appliance
    drive: Annotated[str, text(60)] = ""
    bought_year: Annotated[int, Field(ge=1950, le=2100)] | None = None
    plate: Annotated[str, text(300)] = ""
    place: Annotated[str, text(200)] = ""


class CustomerChangedGiven(CustomerGiven):
    """A customer as the record is to be: what is left out is emptied."""

    shown_version: CustomerVersion


class MachineChangedGiven(MachineGiven):
    """A machine as the record is to be: what is left out is emptied."""

    shown_version: CustomerVersion


class MachineShown(Shown):
    """A machine on record; ``bought_year`` is null if nobody knows it."""

    machine: int
    network: str
    drive: str
    bought_year: int | None
    plate: str
    place: str


class CustomerShown(Shown):
    """A customer on record; ``phone_e164`` is empty where ``phone`` is no number."""

    customer: int
    version: int
    name: str
    phone: str
    phone_e164: str
    street: str
    town: str
    postcode: str
    notes: str
    machines: list[MachineShown]


class Customers(Shown):
    """Customers that were found, by name; at most 20."""

    customers: list[CustomerShown]
