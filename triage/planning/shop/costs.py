"""What things cost the shop and the customer: money in minor units, time in minutes.

The objective of every decision is the shop's own cost plus the customer's time at a set value. The
price the customer pays is an output and ranks nothing.

The defaults are common practice without a source, in US cents of 2024; a shop sets its own in a
file (docs/settings.md), which becomes a ``triage.planning.shop.settings.ShopSettings`` and, for one
appliance kind, a ``CostModel``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from triage.network.values import OnVan, Part, Repair, RepairBy

MINUTES_PER_HOUR = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CostModel:
    """Shop settings. ``_minor`` is money in minor units (cents); ``_minutes`` is time.

    ``unrepaired_minor`` is what leaving with the machine not repaired costs: half of a new one
    installed, the plain 50 % rule turned into a cost. ``wrong_no_fault_minor`` is what it costs to
    tell a customer that a broken machine is sound: at the least a return trip.
    ``minutes_spread`` is by how much the minutes of a step vary: their standard deviation as a
    share of its minutes. ``part_prices_minor`` holds prices to the customer by part, where cost
    times mark-up is not it.
    """

    technician_minor_per_hour: float = 4500
    dispatcher_minor_per_hour: float = 3000
    customer_minor_per_hour: float = 1500
    trip_minor: float = 5000
    return_trip_minor: float = 10000
    trip_minutes: float = 35
    service_fee_minor: int = 9000
    labour_price_minor_per_hour: float = 10000
    part_mark_up: float = 1.6
    carry_minor: float = 500
    return_share_of_ordered_part: float = 0.15
    replacement_minor: int = 90000
    worth_repairing_share: float = 0.5
    verification_minutes: float = 10
    minutes_spread: float = 0.3
    unrepaired_minor: float = 45000
    wrong_no_fault_minor: float = 10000
    part_prices_minor: Mapping[str, int] = field(default_factory=dict, hash=False)

    def on_site_minor(self, minutes: float) -> float:
        """Cost of minutes at the machine: technician's and customer's time."""
        rate = self.technician_minor_per_hour + self.customer_minor_per_hour
        return minutes * rate / MINUTES_PER_HOUR

    def on_phone_minor(self, minutes: float) -> float:
        """Cost of minutes on the phone: dispatcher's and customer's time."""
        rate = self.dispatcher_minor_per_hour + self.customer_minor_per_hour
        return minutes * rate / MINUTES_PER_HOUR

    def parts_minor(self, parts: tuple[Part, ...]) -> float:
        """Expected cost of parts: the middle of each range."""
        return sum((part.cost[0] + part.cost[1]) / 2.0 for part in parts)

    def carrying_minor(self, part: Part) -> float:
        """Cost of taking a part along that turns out not to be needed."""
        if part.on_van is OnVan.USUALLY:
            return 0.0
        if part.on_van is OnVan.SOMETIMES:
            return self.carry_minor
        return self.carry_minor + self.return_share_of_ordered_part * self.parts_minor((part,))

    def repair_minor(self, repair: Repair, parts: tuple[Part, ...]) -> float:
        """Cost of doing a repair on site with its parts at hand: labour, check run and parts.

        Work of another trade costs only the minutes to find and explain it. A return trip for parts
        that are not aboard is no matter of the repair (``triage.planning.parts.van.with_van``).
        """
        cost = self.on_site_minor(repair.minutes + self.verification_minutes)
        if repair.by is RepairBy.LICENSED_TRADE:
            return cost
        return cost + self.parts_minor(parts)

    def price_minor(self, repair: Repair, parts: tuple[Part, ...], *, high: bool) -> int:
        """Price to the customer of a visit with this repair, low or high end of the parts."""
        if repair.by is not RepairBy.TECHNICIAN:
            return self.service_fee_minor
        labour = repair.minutes * self.labour_price_minor_per_hour / MINUTES_PER_HOUR
        goods = sum(self._part_price_minor(part, high=high) for part in parts)
        return round(self.service_fee_minor + labour + goods)

    def _part_price_minor(self, part: Part, *, high: bool) -> float:
        if part.id in self.part_prices_minor:
            return self.part_prices_minor[part.id]
        return (part.cost[1] if high else part.cost[0]) * self.part_mark_up


DEFAULT_COSTS = CostModel()
