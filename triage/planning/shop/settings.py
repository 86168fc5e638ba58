"""Shop settings: what a shop sets for itself, and what becomes of a network under them.

Money is in minor units of one currency, time in minutes. The settings reach the planners in two
ways: as a ``CostModel`` for one appliance kind, and as a network whose parts, repairs and
observations carry the shop's own costs and minutes. So no planner needs to know of settings.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from triage.network.values import FaultNetwork, Grade, OnVan, Part, Provenance
from triage.planning.shop.costs import DEFAULT_COSTS, CostModel
from triage.planning.shop.fitting import Variant

SHOP_SOURCE = "shop_settings"  # source key of a number that the shop has set
COMMON_PRACTICE = "common practice, no source"
OWN_NUMBERS = "the shop's own numbers"


@dataclass(frozen=True, slots=True, kw_only=True)
class NewMachine:
    """A new machine of one kind: its price, bringing it in, and how long such machines last.

    ``installation_minor`` holds delivery, installation and hauling the old one away.
    """

    price_minor: int
    installation_minor: int
    life_years: float

    @property
    def installed_minor(self) -> int:
        """What the customer pays until the new machine runs."""
        return self.price_minor + self.installation_minor


# Prices: middle of the common ranges, no source, US cents of 2024. Lifetimes: a survey of makers,
# trade associations and researchers, 10 years for washers and 13 for dryers [NAHB2007]_.
NEW_MACHINES: Mapping[str, NewMachine] = {
    "top_load_washer": NewMachine(price_minor=72500, installation_minor=17500, life_years=10),
    "front_load_washer": NewMachine(price_minor=102500, installation_minor=17500, life_years=10),
    "electric_dryer": NewMachine(price_minor=70000, installation_minor=17500, life_years=13),
    "gas_dryer": NewMachine(price_minor=80000, installation_minor=17500, life_years=13),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSettings:
    """What a shop sets for a part; None and empty mean "as in the network".

    ``stock`` counts pieces on the van; with ``variants`` each number has its own count.
    ``fit_share`` is P(the piece on the van fits) for a part without variants.
    """

    cost_minor: tuple[int, int] | None = None
    price_minor: int | None = None
    on_van: OnVan | None = None
    stock: int | None = None
    fit_share: float = 1.0
    variants: tuple[Variant, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopSettings:
    """All that a shop sets for itself; ``source`` says where its own numbers come from.

    ``costs`` holds what is the same for every appliance kind. Leaving a machine unrepaired costs
    ``unrepaired_minor`` if that is set, else ``unrepaired_share`` of a new machine installed.
    ``repair_minutes`` and ``observation_minutes`` replace those of the networks, by id.
    ``quote_declined_share`` is the share of quotes that customers decline, 15 to 25 % by common
    practice without a source. ``warranty_labour_days`` and ``warranty_parts_days`` are how long own
    work and parts are guaranteed: what the closing of a job says and a call-back is judged by.
    """

    currency: str = "USD"
    source: str = OWN_NUMBERS
    costs: CostModel = DEFAULT_COSTS
    unrepaired_share: float = 0.5
    unrepaired_minor: int | None = None
    quote_declined_share: float = 0.2
    warranty_labour_days: int = 30
    warranty_parts_days: int = 90
    new_machines: Mapping[str, NewMachine] = field(default_factory=lambda: NEW_MACHINES, hash=False)
    parts: Mapping[str, PartSettings] = field(default_factory=dict, hash=False)
    repair_minutes: Mapping[str, float] = field(default_factory=dict, hash=False)
    observation_minutes: Mapping[str, float] = field(default_factory=dict, hash=False)

    def costs_for(self, kind: str) -> CostModel:
        """Costs for one appliance kind, the id of its network.

        A kind without a price for a new machine takes that of the default costs.
        """
        machine = self.new_machines.get(kind)
        replacement = machine.installed_minor if machine else DEFAULT_COSTS.replacement_minor
        unrepaired = self.unrepaired_minor
        return replace(
            self.costs,
            replacement_minor=replacement,
            unrepaired_minor=(
                self.unrepaired_share * replacement if unrepaired is None else float(unrepaired)
            ),
            part_prices_minor={
                part: own.price_minor
                for part, own in self.parts.items()
                if own.price_minor is not None
            },
        )

    def applied_to(self, network: FaultNetwork) -> FaultNetwork:
        """Network with the shop's own costs of parts and its own minutes.

        The network itself where nothing differs, so that applying settings twice changes nothing.
        """
        own = Provenance(source=SHOP_SOURCE, grade=Grade.MEASURED)
        parts = {
            part.id: _own_part(part, self.parts[part.id], own)
            for part in network.parts.values()
            if part.id in self.parts
        }
        repairs = {
            name: replace(network.repairs[name], minutes=minutes)
            for name, minutes in self.repair_minutes.items()
            if name in network.repairs
        }
        observations = {
            name: replace(network.observations[name], minutes=minutes)
            for name, minutes in self.observation_minutes.items()
            if name in network.observations
        }
        changed = replace(
            network,
            parts={**network.parts, **parts},
            repairs={**network.repairs, **repairs},
            observations={**network.observations, **observations},
        )
        if changed == network:
            return network
        return replace(changed, sources={**network.sources, SHOP_SOURCE: self.source})


def _own_part(part: Part, own: PartSettings, provenance: Provenance) -> Part:
    cost = own.cost_minor
    return replace(
        part,
        cost=part.cost if cost is None else cost,
        on_van=_own_place(part.on_van, own),
        provenance=part.provenance if cost is None else provenance,
    )


def _own_place(usual: OnVan, own: PartSettings) -> OnVan:
    """Where the part is: as set; else on the van if it has pieces there; else not on the van."""
    if own.on_van is not None:
        return own.on_van
    if own.stock is None and not own.variants:
        return usual
    if own.stock or any(variant.stock for variant in own.variants):
        return OnVan.USUALLY
    return OnVan.SOMETIMES if usual is OnVan.USUALLY else usual


DEFAULT_SETTINGS = ShopSettings()
