"""Machines that callers ask about and the shop does not repair: named, kept safe, referred.

A call about such a machine is a call like any other: it is opened, its safety questions are asked
first, and it ends with a recorded outcome. Nothing is asked or ranked after that, since no network
describes the machine. It is stored under the name of its own kind, so that it never counts as a
call about one of the shop's machines. Its safety questions are those of the shop's own kind that
has the same dangers.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from triage.network.values import FaultNetwork
from triage.services.networks.engines import engine_for, network_choices


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherKind:
    """A kind of machine that is referred to others.

    ``dangers_of`` is the network whose safety questions are asked; ``script`` is said to the
    caller, ``referral`` says who takes over.
    """

    id: str
    title: str
    dangers_of: str
    script: str
    referral: str


# Who repairs which machine is common practice, no source.
OTHER_KINDS: Mapping[str, OtherKind] = {
    kind.id: kind
    for kind in (
        OtherKind(
            id="heat_pump_dryer",
            title="Heat-pump dryer",
            dangers_of="electric_dryer",
            script="That is a heat-pump dryer. It has a sealed cooling circuit, and we do not "
            "repair those. Call the service of its maker; the number is in the booklet or on the "
            "plate inside the door.",
            referral="Service of the maker, or a technician who may open cooling circuits",
        ),
        OtherKind(
            id="ventless_dryer",
            title="Condenser dryer, no duct to the outside",
            dangers_of="electric_dryer",
            script="A dryer without a duct dries in another way than those we repair. Empty its "
            "water tank and clean its filters as the booklet says; if that does not help, call the "
            "service of its maker.",
            referral="Service of the maker",
        ),
        OtherKind(
            id="combined_washer_dryer",
            title="Washer and dryer in one drum",
            dangers_of="front_load_washer",
            script="A machine that washes and dries in the same drum is not one that we repair. "
            "Call the service of its maker; the number is in the booklet or on the plate inside "
            "the door.",
            referral="Service of the maker",
        ),
        OtherKind(
            id="coin_operated_washer",
            title="Coin- or card-operated washer",
            dangers_of="top_load_washer",
            script="Machines that take coins or cards belong to whoever runs the laundry. The "
            "number to call is on the machine or on the wall; if there is none, ask your landlord.",
            referral="Whoever runs the laundry; the shop repairs household machines only",
        ),
        OtherKind(
            id="coin_operated_dryer",
            title="Coin- or card-operated dryer",
            dangers_of="gas_dryer",
            script="Machines that take coins or cards belong to whoever runs the laundry. The "
            "number to call is on the machine or on the wall; if there is none, ask your landlord.",
            referral="Whoever runs the laundry; the shop repairs household machines only",
        ),
    )
}


def appliance_title(name: str) -> str:
    """Title of a kind of machine, whether the shop repairs it or not; else its name."""
    titles = {**dict(network_choices()), **{kind.id: kind.title for kind in OTHER_KINDS.values()}}
    return titles.get(name, name)


def network_of(name: str) -> FaultNetwork:
    """Network of an appliance; of another kind, the network whose dangers it has.

    Raises
    ------
    UnknownNetworkError, NetworkFileError
    """
    return engine_for(OTHER_KINDS[name].dangers_of if name in OTHER_KINDS else name).network
