"""What goes on the van for one visit or a day of visits: the read model behind ``triage load``."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import OnVan, Part
from triage.planning.parts.load import JobType, Load, efficient_loads
from triage.planning.parts.tour import TourLoad
from triage.planning.parts.tour_value import Day, Supply
from triage.planning.parts.van import (
    Item,
    VisitNeeds,
    best_load_of_day,
    supplies_of_day,
    visit_needs,
)
from triage.planning.problem.site import site_problem
from triage.planning.shop.fitting import FitState
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.networks.engines import engine_under
from triage.services.wording import MINOR_UNITS, percent

FIT_WORDS = {
    FitState.NO_PLATE: "ask for a photo of the plate; its number depends on it",
    FitState.NOT_LISTED: "the plate is not in the list; ask for a photo and add it",
    FitState.SEVERAL_NUMBERS: "the plate matches several numbers; ask for a photo",
}


@dataclass(frozen=True, slots=True)
class VisitRequest:
    """A visit to load for: what is known of the fault, and what the plate says."""

    engine: Engine
    evidence: Evidence
    plate: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadEntry:
    """An item of the list.

    ``take`` pieces on top of those ``aboard``. ``probability`` is P(at least one visit needs it and
    it fits). ``visits`` are numbered from 1.
    """

    part: Part
    number: str
    appliance: str
    aboard: int
    take: int
    probability: float
    visits: tuple[int, ...]
    where: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedVisit:
    """A visit under the list: P(all parts of the job aboard), with and without what is taken."""

    network: str
    title: str
    plate: str
    fill_rate: float
    fill_rate_of_van: float
    asks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontierPoint:
    """A load of one visit that no other beats on both counts; items as people read them."""

    added: tuple[str, ...]
    parts_cost_minor: int
    carrying_cost_minor: int
    fill_rate: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadList:
    """Load list of a day. ``frontier`` is filled for a single visit only.

    ``parts_cost_minor`` is what the pieces taken cost the shop. No other list is worth more than
    ``gap_minor`` above this one.
    """

    visits: tuple[LoadedVisit, ...]
    take: tuple[LoadEntry, ...]
    check: tuple[LoadEntry, ...]
    parts_cost_minor: int
    value_minor: int
    gap_minor: float
    standard_error_minor: float
    is_proved: bool
    frontier: tuple[FrontierPoint, ...]
    currency: str


def load_list(
    requests: Sequence[VisitRequest], settings: ShopSettings = DEFAULT_SETTINGS
) -> LoadList:
    """List of what to take for visits, in the order in which they are made.

    Parameters
    ----------
    requests : sequence of VisitRequest
        At least one.
    settings : ShopSettings
        Costs, stock on the van and numbers of parts.

    Raises
    ------
    EvidenceError
        A finding does not fit its network.
    """
    return list_for([_needs(request, settings) for request in requests], settings)


def list_for(visits: Sequence[VisitNeeds], settings: ShopSettings) -> LoadList:
    """List for visits of which it is known what they may need, in their order."""
    items = {item.key: item for visit in visits for item in visit.items}
    supplies = supplies_of_day(visits, settings)
    best = best_load_of_day(visits, settings)
    jobs = [visit.jobs for visit in visits]
    day = Day(jobs, supplies, settings.costs.return_trip_minor)
    teller = _Teller(visits, items, supplies, day, best, settings)
    bare = day.valued({}).fill_rates
    return LoadList(
        visits=tuple(
            _loaded(visit, rate, bare[k])
            for k, (visit, rate) in enumerate(zip(visits, best.valuation.fill_rates, strict=True))
        ),
        take=tuple(teller.entry(key) for key in best.take),
        check=tuple(teller.entry(key) for key in teller.to_check()),
        parts_cost_minor=sum(
            round(items[key].cost_minor * count) for key, count in best.take.items()
        ),
        value_minor=round(best.valuation.value),
        gap_minor=best.gap,
        standard_error_minor=best.valuation.standard_error,
        is_proved=best.is_proved,
        frontier=tuple(_frontier(jobs[0], items, supplies)) if len(visits) == 1 else (),
        currency=settings.currency,
    )


def _needs(request: VisitRequest, settings: ShopSettings) -> VisitNeeds:
    engine = engine_under(request.engine, settings)
    network = engine.network
    site = site_problem(engine, request.evidence, settings.costs_for(network.id))
    return visit_needs(site, network, settings, request.plate.strip())


def _loaded(visit: VisitNeeds, fill_rate: float, fill_rate_of_van: float) -> LoadedVisit:
    return LoadedVisit(
        network=visit.network.id,
        title=visit.network.title,
        plate=visit.plate,
        fill_rate=fill_rate,
        fill_rate_of_van=fill_rate_of_van,
        asks=tuple(
            f"{visit.network.parts[part].title}: {FIT_WORDS[found.state]}."
            for part, found in visit.fittings.items()
            if found.state.asks_for_photo
        ),
    )


@dataclass(frozen=True, slots=True)
class _Teller:
    """Says why an item is on the list."""

    visits: Sequence[VisitNeeds]
    items: Mapping[str, Item]
    supplies: Mapping[str, Supply]
    day: Day
    best: TourLoad
    settings: ShopSettings

    def to_check(self) -> Iterator[str]:
        """Items on the van that are needed often enough to look whether they are there."""
        costs = self.settings.costs
        for key, supply in self.supplies.items():
            worth = self._probability(key) * costs.return_trip_minor
            if supply.aboard and key not in self.best.take and worth > costs.carry_minor:
                yield key

    def entry(self, key: str) -> LoadEntry:
        """Entry of the list."""
        item, take = self.items[key], self.best.take.get(key, 0)
        probability = self._probability(key)
        fits = min(visit.fits(item) for visit in self.visits if visit.need(key))
        event = "needed" if fits == 1.0 else "needed, and this one fits,"
        reason = f"{event} with {percent(probability)} probability: {self._repairs(item)}"
        if take:
            reason += f". {self._worth(key)}"
        return LoadEntry(
            part=item.part,
            number=item.number,
            appliance=item.appliance,
            aboard=self.supplies[key].aboard,
            take=take,
            probability=probability,
            visits=tuple(k for k, visit in enumerate(self.visits, start=1) if visit.need(key)),
            where=self._where(item, take),
            reason=reason,
        )

    def _probability(self, key: str) -> float:
        absent = 1.0
        for visit in self.visits:
            absent *= 1.0 - visit.need(key)
        return 1.0 - absent

    def _repairs(self, item: Item) -> str:
        titles = (
            repair.title
            for visit in self.visits
            if visit.need(item.key)
            for repair in visit.repairs[item.part.id]
        )
        return " or ".join(dict.fromkeys(titles))

    def _worth(self, key: str) -> str:
        """What leaving one piece behind would cost, and what taking it costs."""
        less = {**self.best.take, key: self.best.take[key] - 1}
        jobs = sum(self.best.valuation.fill_rates) - sum(self.day.valued(less).fill_rates)
        lost = jobs * self.settings.costs.return_trip_minor / MINOR_UNITS
        taking = self.supplies[key].holding_minor / MINOR_UNITS
        currency = self.settings.currency
        time = "visit" if len(self.visits) == 1 else "day"
        return (
            f"Left behind, it means a return trip in {100 * jobs:.0f} more of 100 such {time}s, "
            f"{lost:.2f} {currency} a {time}; taking it along costs {taking:.2f}"
        )

    def _where(self, item: Item, take: int) -> str:
        if not take:
            return "on the van; check that it is there"
        pieces = "one" if take == 1 else str(take)
        more = " more" if self.supplies[item.key].aboard else ""
        if item.part.on_van is OnVan.ORDERED:
            return f"order {pieces}{more} before the visit"
        return f"take {pieces}{more} along"


def _frontier(
    jobs: Sequence[JobType], items: Mapping[str, Item], supplies: Mapping[str, Supply]
) -> Iterator[FrontierPoint]:
    holding = {key: 0.0 if s.aboard else s.holding_minor for key, s in supplies.items()}
    before: frozenset[str] = frozenset()
    for load in efficient_loads(jobs, holding):
        yield _point(load, before, items, supplies)
        before = frozenset(load.parts)


def _point(
    load: Load, before: frozenset[str], items: Mapping[str, Item], supplies: Mapping[str, Supply]
) -> FrontierPoint:
    taken = [key for key in load.parts if not supplies[key].aboard]
    return FrontierPoint(
        added=tuple(items[key].title for key in taken if key not in before),
        parts_cost_minor=round(sum(items[key].cost_minor for key in taken)),
        carrying_cost_minor=round(-load.value),
        fill_rate=load.fill_rate,
    )


def load_as_json(found: LoadList) -> dict[str, object]:
    """Load list as plain values; keys are stable (docs/json.md)."""
    return {
        "visits": [
            {
                "visit": number,
                "network": visit.network,
                "title": visit.title,
                "plate": visit.plate,
                "fill_rate": visit.fill_rate,
                "fill_rate_of_van": visit.fill_rate_of_van,
                "asks": list(visit.asks),
            }
            for number, visit in enumerate(found.visits, start=1)
        ],
        "take": [_entry_as_json(entry) for entry in found.take],
        "check": [_entry_as_json(entry) for entry in found.check],
        "parts_cost_minor": found.parts_cost_minor,
        "value_minor": found.value_minor,
        "gap_minor": found.gap_minor,
        "standard_error_minor": found.standard_error_minor,
        "is_proved": found.is_proved,
        "frontier": [
            {
                "added": list(point.added),
                "parts_cost_minor": point.parts_cost_minor,
                "carrying_cost_minor": point.carrying_cost_minor,
                "fill_rate": point.fill_rate,
            }
            for point in found.frontier
        ],
        "currency": found.currency,
    }


def _entry_as_json(entry: LoadEntry) -> dict[str, object]:
    return {
        "part": entry.part.id,
        "title": entry.part.title,
        "number": entry.number,
        "appliance": entry.appliance,
        "aboard": entry.aboard,
        "take": entry.take,
        "probability": entry.probability,
        "visits": list(entry.visits),
        "where": entry.where,
        "reason": entry.reason,
    }
