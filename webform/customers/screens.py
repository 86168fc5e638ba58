"""Read models of the pages of customers: every text as the template places it."""

from collections.abc import Iterable
from dataclasses import dataclass

from flask import url_for

from triage.services.customers.calls import WhoCalls
from triage.services.customers.history import EarlierJob
from triage.services.customers.phones import phone_as_shown, phone_number
from triage.services.customers.records import StoredCustomer, StoredMachine
from triage.services.networks.scope import appliance_title
from webform.access import may_open
from webform.desk import desk

ERASE = "owner.erase_customer"
NOT_LISTED = "another machine"


@dataclass(frozen=True, slots=True)
class FoundLine:
    """A customer with one machine, as a choice."""

    value: str
    name: str
    machine: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WhoScreen:
    """What the page "who is calling" shows besides its forms."""

    phone: str
    phone_warning: str
    address: str
    found: tuple[FoundLine, ...]


@dataclass(frozen=True, slots=True)
class CustomerLine:
    """A customer in a list."""

    url: str
    name: str
    phone: str
    address: str
    machines: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerScreen:
    """What the page of a customer shows besides its form."""

    customer: StoredCustomer
    phone: str
    phone_link: str
    phone_warning: str
    machines: tuple[tuple[str, str, str], ...]
    jobs: tuple[EarlierJob, ...]
    erase_url: str


def who_screen(who: WhoCalls) -> WhoScreen:
    """Put the page "who is calling" together."""
    customer = who.customer
    return WhoScreen(
        phone=shown_phone(customer) if customer else "",
        phone_warning=phone_warning(customer) if customer else "",
        address=address_line(customer) if customer else "",
        found=found_lines(who.found, who.state.network_id),
    )


def found_lines(found: Iterable[StoredCustomer], network_id: str = "") -> tuple[FoundLine, ...]:
    """Customers that were found, once for each machine of a kind, and once for none of them."""
    lines = []
    for customer in found:
        where = ", ".join(part for part in (shown_phone(customer), address_line(customer)) if part)
        fitting = [one for one in customer.machines if network_id in ("", one.network_id)]
        for machine in fitting:
            value = f"{customer.id} {machine.id}"
            lines.append(FoundLine(value, customer.name, machine_line(machine), where))
        lines.append(FoundLine(f"{customer.id} 0", customer.name, NOT_LISTED, where))
    return tuple(lines)


def customer_lines(found: Iterable[StoredCustomer]) -> tuple[CustomerLine, ...]:
    """Customers in a list."""
    return tuple(
        CustomerLine(
            url_for("customers.customer", customer_id=one.id),
            one.name,
            shown_phone(one),
            address_line(one),
            ", ".join(machine_line(machine) for machine in one.machines),
        )
        for one in found
    )


def customer_screen(customer: StoredCustomer, jobs: tuple[EarlierJob, ...]) -> CustomerScreen:
    """Put the page of a customer together."""
    return CustomerScreen(
        customer=customer,
        phone=shown_phone(customer),
        phone_link=f"tel:{customer.phone_e164}" if customer.phone_e164 else "",
        phone_warning=phone_warning(customer),
        machines=tuple(
            (
                machine_line(one),
                url_for("customers.machine", customer_id=customer.id, machine_id=one.id),
                url_for("intake.new_call", customer=customer.id, machine=one.id),
            )
            for one in customer.machines
        ),
        jobs=jobs,
        erase_url=url_for(ERASE, customer_id=customer.id) if may_open(ERASE) else "",
    )


def machine_line(machine: StoredMachine) -> str:
    """Machine on a line."""
    year = f"bought {machine.bought_year}" if machine.bought_year else ""
    known = [part for part in (machine.place, year, machine.plate_text) if part]
    title = appliance_title(machine.network_id)
    return f"{title} ({', '.join(known)})" if known else title


def address_line(customer: StoredCustomer) -> str:
    """Address on a line, empty if none is on record."""
    town = " ".join(part for part in (customer.postcode, customer.town) if part)
    return ", ".join(part for part in (customer.street, town) if part)


def shown_phone(customer: StoredCustomer) -> str:
    """Number as people of the shop's country write it."""
    region = desk().desk_settings().phone_region
    return phone_as_shown(customer.phone_text, customer.phone_e164, region)


def phone_warning(customer: StoredCustomer) -> str:
    """What is odd about the number, or empty."""
    return phone_number(customer.phone_text, desk().desk_settings().phone_region).warning
