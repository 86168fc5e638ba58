"""What the shop repairs and what it refers, for lists of programs."""

from dataclasses import dataclass

from triage.errors import OutOfScopeError, UnknownNetworkError
from triage.network.catalogue import network_names
from triage.network.values import Channel, FaultNetwork, Observation
from triage.services.networks.engines import network_choices
from triage.services.networks.in_use import network_in_use
from triage.services.networks.scope import OTHER_KINDS
from triage.store.database import Database


@dataclass(frozen=True, slots=True, kw_only=True)
class Appliance:
    """A kind of machine; ``version`` is that of the network in use, ``network`` has its dangers.

    ``referral`` says who takes over what the shop does not repair; else it is empty.
    """

    id: str
    title: str
    version: int
    is_repaired: bool
    referral: str
    network: FaultNetwork


def appliance_names() -> tuple[str, ...]:
    """Names of all kinds of machine; no other name may come from outside, since paths are read."""
    return (*network_names(), *OTHER_KINDS)


def repaired(name: str) -> str:
    """Name itself, if it is that of a kind that the shop repairs.

    Raises
    ------
    UnknownNetworkError, OutOfScopeError
    """
    if name not in appliance_names():
        raise UnknownNetworkError(name, network_names())
    if name in OTHER_KINDS:
        raise OutOfScopeError("", OTHER_KINDS[name].title)
    return name


def find_appliances(database: Database) -> tuple[Appliance, ...]:
    """Every kind of machine, those that the shop repairs first."""
    names = [*(name for name, _ in network_choices()), *OTHER_KINDS]
    return tuple(find_appliance(database, name) for name in names)


def find_appliance(database: Database, name: str) -> Appliance:
    """Kind of machine of a name, or ``UnknownNetworkError``."""
    if name not in appliance_names():
        raise UnknownNetworkError(name, appliance_names())
    network, other = network_in_use(database, name), OTHER_KINDS.get(name)
    return Appliance(
        id=name,
        title=network.title if other is None else other.title,
        version=network.version,
        is_repaired=other is None,
        referral="" if other is None else other.referral,
        network=network,
    )


def find_observations(
    database: Database, name: str, channel: Channel | None = None
) -> tuple[FaultNetwork, tuple[Observation, ...]]:
    """Network in use of an appliance, and what can be asked, tested or measured, in its order.

    Raises
    ------
    UnknownNetworkError
        No appliance of that name is repaired.
    """
    appliance = find_appliance(database, name)
    found = appliance.network.observations.values() if appliance.is_repaired else ()
    return appliance.network, tuple(one for one in found if channel in (None, one.channel))
