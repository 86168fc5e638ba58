"""What a visit may need from the van, and what each repair costs with a given van.

One computation serves the load list of a day and the plan of a visit. The job types are worked out
with every part at hand; they are spelt out in numbers of parts (``load.with_fit``), with the pieces
on the van and what taking one more along costs. The load chosen, the repairs are priced anew: a
repair whose parts are not all aboard, or may not fit, costs a return trip in that share of cases.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import FaultNetwork, OnVan, Part, Repair, RepairBy
from triage.planning.parts.load import JobType, job_types, with_fit
from triage.planning.parts.tour import TourLoad, best_tour
from triage.planning.parts.tour_value import Supply
from triage.planning.problem.site import SiteProblem, site_problem
from triage.planning.shop.costs import CostModel
from triage.planning.shop.fitting import Fitting, fitting
from triage.planning.shop.settings import PartSettings, ShopSettings

USUAL_PIECES = 1  # of a part that is usually on the van and that the shop does not count


@dataclass(frozen=True, slots=True)
class Item:
    """A number of a part, or a part without numbers of one appliance kind.

    ``stock`` counts pieces on the van, None where the shop does not count them.
    """

    key: str
    part: Part
    number: str
    appliance: str
    stock: int | None

    @property
    def title(self) -> str:
        """Title of the part with its number."""
        return f"{self.part.title}, {self.number}" if self.number else self.part.title

    @property
    def cost_minor(self) -> float:
        """Middle of what the shop pays for a piece."""
        return (self.part.cost[0] + self.part.cost[1]) / 2.0

    @property
    def aboard(self) -> int:
        """Pieces on the van: as counted, else one if the part is usually there."""
        if self.stock is not None:
            return self.stock
        return USUAL_PIECES if self.part.on_van is OnVan.USUALLY else 0

    def supply(self, visits: int, settings: ShopSettings) -> Supply:
        """Pieces aboard and at most one more for each visit; even a usual part costs picking."""
        costs = settings.costs
        holding = max(costs.carrying_minor(self.part), costs.carry_minor)
        return Supply(self.aboard, holding, more_max=visits)


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitNeeds:
    """What one visit may need: job types in ``items``, by probability, summing to 1.

    ``plate`` is what the machine's plate says; ``fittings`` hold by part which numbers may fit;
    ``repairs`` hold by part what needs it.
    """

    network: FaultNetwork
    plate: str
    jobs: tuple[JobType, ...]
    items: tuple[Item, ...]
    fittings: Mapping[str, Fitting]
    repairs: Mapping[str, tuple[Repair, ...]]

    def fits(self, item: Item) -> float:
        """P(an item fits this machine); 0 if the machine has no use for it."""
        found = self.fittings.get(item.part.id)
        return dict(found.candidates).get(item.number, 0.0) if found else 0.0

    def need(self, key: str) -> float:
        """P(the job needs this item)."""
        return sum(job.probability for job in self.jobs if key in job.parts)

    def ready(self, take: Mapping[str, int]) -> dict[str, float]:
        """P(a piece that fits is aboard) by part, with the pieces taken along."""
        shares: dict[str, float] = {}
        for item in self.items:
            if item.aboard + take.get(item.key, 0) > 0:
                shares[item.part.id] = shares.get(item.part.id, 0.0) + self.fits(item)
        return shares

    def carrying_minor(self, take: Mapping[str, int], settings: ShopSettings) -> float:
        """What taking pieces along costs for this visit alone."""
        return sum(
            item.supply(1, settings).holding_minor * take.get(item.key, 0) for item in self.items
        )


def visit_needs(
    site: SiteProblem, network: FaultNetwork, settings: ShopSettings, plate: str = ""
) -> VisitNeeds:
    """Needs of a visit.

    Parameters
    ----------
    site : SiteProblem
        The visit with every part at hand.
    network : FaultNetwork
        Under the settings of the shop.
    settings : ShopSettings
        Stock on the van and numbers of parts.
    plate : str
        What the machine's plate says; empty if nobody has read it yet.
    """
    in_parts = job_types(site)
    needed = {name for job in in_parts for name in job.parts}
    fittings: dict[str, Fitting] = {}
    items: list[Item] = []
    candidates: dict[str, list[tuple[str, float]]] = {}
    for part in network.parts.values():
        if part.id in needed:
            own = settings.parts.get(part.id, PartSettings())
            found = fitting(own.variants, plate, own.fit_share)
            fittings[part.id] = found
            own_items = [_item(network, part, own, number) for number, _ in found.candidates]
            items += own_items
            candidates[part.id] = [
                (item.key, fits)
                for item, (_, fits) in zip(own_items, found.candidates, strict=True)
            ]
    return VisitNeeds(
        network=network,
        plate=plate,
        jobs=with_fit(in_parts, candidates),
        items=tuple(items),
        fittings=fittings,
        repairs={
            name: tuple(repair for repair in site.repairs if name in repair.parts)
            for name in sorted(needed)
        },
    )


@dataclass(frozen=True, slots=True)
class Van:
    """What a visit finds aboard: ``shares`` are (part, P(a piece that fits is aboard)) by part id.

    A value that plans can be kept by.
    """

    shares: tuple[tuple[str, float], ...]

    @property
    def ready(self) -> dict[str, float]:
        """P(a piece that fits is aboard) by part."""
        return dict(self.shares)


def van_with(needs: VisitNeeds, take: Mapping[str, int], settings: ShopSettings) -> Van:
    """Van of a visit with the pieces taken along; of parts that it does not need, as it is."""
    network = needs.network
    ready = needs.ready(take)
    for part in network.parts.values():
        if part.id not in needs.fittings:
            own = settings.parts.get(part.id, PartSettings())
            found = fitting(own.variants, needs.plate, own.fit_share)
            aboard = [fits for no, fits in found.candidates if _item(network, part, own, no).aboard]
            ready[part.id] = sum(aboard, start=0.0)
    ready = {part: ready.get(part, 0.0) for part in network.parts}
    return Van(tuple(sorted(ready.items())))


def loaded_van(engine: Engine, evidence: Evidence, settings: ShopSettings, plate: str = "") -> Van:
    """Van that is loaded for one visit from what is known before it.

    Parameters
    ----------
    engine : Engine
        Of a network under the settings of the shop.
    evidence : Evidence
        What is known when the van is loaded.
    settings : ShopSettings
    plate : str
        What the machine's plate says; empty if nobody has read it yet.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    at_hand = site_problem(engine, evidence, settings.costs_for(engine.network.id))
    needs = visit_needs(at_hand, engine.network, settings, plate)
    return van_with(needs, best_load_of_day([needs], settings).take, settings)


def visit_problem(
    engine: Engine, evidence: Evidence, costs: CostModel, van: Van | None = None
) -> SiteProblem:
    """Problem of a visit; its repairs priced by what is aboard, every part at hand for None.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    site = site_problem(engine, evidence, costs)
    return site if van is None else with_van(site, van.ready, costs.return_trip_minor)


def best_load_of_day(visits: Sequence[VisitNeeds], settings: ShopSettings) -> TourLoad:
    """Pieces worth taking for the visits of a day, in their order."""
    return best_tour(
        [visit.jobs for visit in visits],
        supplies_of_day(visits, settings),
        settings.costs.return_trip_minor,
    )


def supplies_of_day(visits: Sequence[VisitNeeds], settings: ShopSettings) -> dict[str, Supply]:
    """Supply of every item that some visit may need, by key."""
    items = {item.key: item for visit in visits for item in visit.items}
    return {key: item.supply(len(visits), settings) for key, item in items.items()}


def all_ready(repair: Repair, ready: Mapping[str, float]) -> float:
    """P(every part of a repair is aboard and fits); another trade brings its own."""
    if repair.by is RepairBy.LICENSED_TRADE:
        return 1.0
    return float(np.prod([ready.get(part, 0.0) for part in repair.parts]))


def with_van(
    site: SiteProblem, ready: Mapping[str, float], return_trip_minor: float
) -> SiteProblem:
    """The visit with repairs priced by what is aboard.

    Parameters
    ----------
    site : SiteProblem
        Priced with every part at hand.
    ready : mapping
        P(a piece that fits is aboard) by part.
    return_trip_minor : float
    """
    lacking = np.array([1.0 - all_ready(repair, ready) for repair in site.repairs])
    prices = site.problem.repair_cost + return_trip_minor * lacking
    return replace(site, problem=replace(site.problem, repair_cost=prices))


def _item(network: FaultNetwork, part: Part, own: PartSettings, number: str) -> Item:
    for variant in own.variants:
        if variant.number == number:
            cost = variant.cost_minor
            priced = part if cost is None else replace(part, cost=(cost, cost))
            return Item(number, priced, number, network.title, variant.stock)
    return Item(f"{network.id}:{part.id}", part, "", network.title, own.stock)
