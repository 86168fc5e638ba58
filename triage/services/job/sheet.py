"""The job sheet: everything the technician needs at the machine, as one finished value."""

from dataclasses import dataclass
from functools import lru_cache

from triage.errors import ImpossibleEvidenceError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.inference.explanation import odds_shifts
from triage.network.values import FaultNetwork, Observation, Repair, RepairBy
from triage.planning.shop.costs import CostModel
from triage.planning.shop.settings import ShopSettings
from triage.services.call_log.events import FindingMade
from triage.services.calls.calls import go_on_or_refuse
from triage.services.job.place import PlanPlace, place_in_plan
from triage.services.job.state import JobState, Made
from triage.services.job.stock import settings_with_stock
from triage.services.networks.in_use import engine_of_call
from triage.services.plan.branching import BranchingPlan, branching_plan
from triage.services.plan.load import LoadList, VisitRequest, load_list
from triage.services.plan.next_step import NextStep, next_step
from triage.services.plan.ranking import Ranking, rank
from triage.services.plan.vans import loaded_van
from triage.services.wording import chance_word
from triage.store.calls import read_call
from triage.store.customers import StoredCustomer, customers_of_calls
from triage.store.database import Database
from triage.store.jobs import is_closed, plate_of_call
from triage.store.photos import StoredPhoto, photos_of
from triage.store.stock import stock_of, van_of_call
from triage.store.visits import StoredVisit, visits_of_call

PLANS_KEPT = 128
CAUSES_SHOWN = 8
SHIFTS_SHOWN = 6
SHIFT_WORTH_SHOWING = 0.01


@dataclass(frozen=True, slots=True)
class Shift:
    """What the last entry did to a cause."""

    title: str
    before: float
    after: float
    word_before: str
    word_after: str


@dataclass(frozen=True, slots=True)
class RepairPrice:
    """A repair the shop may do, with the range of the price of a visit with it alone."""

    repair: Repair
    low_minor: int
    high_minor: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSheet:
    """Everything the job sheet shows.

    ``plan`` is the printed plan, or the plan from here once the job has left it; ``place`` says
    which. ``ranking``, ``next_step`` and ``place`` are None where the findings exclude each other.
    ``shifts`` is what the last entry changed. ``prices`` are those of every repair of the shop.
    """

    state: JobState
    network: FaultNetwork
    customer: StoredCustomer | None
    visit: StoredVisit | None
    plate: str
    is_closed: bool
    ranking: Ranking | None
    shifts: tuple[Shift, ...]
    next_step: NextStep | None
    plan: BranchingPlan
    place: PlanPlace | None
    load: LoadList
    prices: tuple[RepairPrice, ...]
    photos: tuple[StoredPhoto, ...]
    currency: str

    @property
    def phone_findings(self) -> tuple[Made, ...]:
        """What was found out at the phone."""
        return self.state.made[: _on_site_from(self.state.made, self.network)]

    @property
    def site_made(self) -> tuple[Made, ...]:
        """What was found and repaired on site."""
        return self.state.made[_on_site_from(self.state.made, self.network) :]


@dataclass(frozen=True, slots=True)
class _Stored:
    state: JobState
    customer: StoredCustomer | None
    visit: StoredVisit | None
    plate: str
    is_closed: bool
    photos: tuple[StoredPhoto, ...]
    settings: ShopSettings


def job_sheet(database: Database, call_id: int, settings: ShopSettings) -> JobSheet:
    """Job sheet of a call as it stands now.

    Raises
    ------
    UnknownCallError
    SafetyFirstError, OutOfScopeError
        Nothing may be ranked in this call.
    """
    stored = _read(database, call_id, settings)
    state = stored.state
    engine = engine_of_call(database, state.call.network_id, state.call.network_version, settings)
    go_on_or_refuse(state.call, engine.network)
    network, costs = engine.network, settings.costs_for(engine.network.id)
    evidence = state.evidence(network)
    phone = _phone_evidence(state, network)
    site = state.made[_on_site_from(state.made, network) :]
    van = loaded_van(engine, phone, stored.settings, stored.plate)
    plan = branching_plan(engine, phone, costs, van=van)
    place = place_in_plan(plan, [one.event for one in site], network)
    ranking = _ranking(engine, evidence, settings)
    if ranking is not None and place.is_off:
        plan = branching_plan(engine, evidence, costs, van=van)
    return JobSheet(
        state=state,
        network=network,
        customer=stored.customer,
        visit=stored.visit,
        plate=stored.plate,
        is_closed=stored.is_closed,
        ranking=ranking,
        shifts=() if ranking is None or not site else _shifts(engine, evidence),
        next_step=None if ranking is None else next_step(engine, evidence, costs, van=van),
        plan=plan,
        place=None if ranking is None else place,
        load=_load(engine, phone, stored.plate, stored.settings),
        prices=repair_prices(network, costs),
        photos=stored.photos,
        currency=settings.currency,
    )


def find_job(database: Database, call_id: int) -> JobState:
    """State of the job of a call, or ``UnknownCallError``."""
    with database.reading() as session:
        return JobState.of(read_call(session, call_id))


def repair_prices(network: FaultNetwork, costs: CostModel) -> tuple[RepairPrice, ...]:
    """Repairs that the shop does itself, with their prices, in the order of their titles."""
    own = (one for one in network.repairs.values() if one.by is not RepairBy.LICENSED_TRADE)
    return tuple(
        RepairPrice(
            repair,
            *(
                costs.price_minor(
                    repair, tuple(network.parts[part] for part in repair.parts), high=end
                )
                for end in (False, True)
            ),
        )
        for repair in sorted(own, key=lambda one: (one.title, one.id))
    )


def site_observations(network: FaultNetwork) -> tuple[Observation, ...]:
    """Tests and readings of an appliance, in the order of the network, without the check run."""
    return tuple(
        entry
        for entry in network.observations.values()
        if entry.channel.is_on_site and entry.id != network.verification
    )


def _read(database: Database, call_id: int, settings: ShopSettings) -> _Stored:
    with database.reading() as session:
        state = JobState.of(read_call(session, call_id))
        visits = [one for one in visits_of_call(session, call_id) if one.state != "cancelled"]
        van_id = van_of_call(session, call_id)
        own = settings
        if van_id is not None:
            own = settings_with_stock(settings, stock_of(session, van_id))
        return _Stored(
            state=state,
            customer=customers_of_calls(session, [call_id]).get(call_id),
            visit=visits[-1] if visits else None,
            plate=plate_of_call(session, call_id),
            is_closed=is_closed(session, call_id),
            photos=photos_of(session, call_id),
            settings=own,
        )


def _on_site_from(made: tuple[Made, ...], network: FaultNetwork) -> int:
    """Place of the first entry that only somebody at the machine can make."""
    for place, one in enumerate(made):
        if not isinstance(one.event, FindingMade):
            return place
        observation = network.observations.get(one.event.observation)
        if observation is not None and observation.channel.is_on_site:
            return place
    return len(made)


def _phone_evidence(state: JobState, network: FaultNetwork) -> Evidence:
    made = state.made[: _on_site_from(state.made, network)]
    return JobState(call=state.call, made=made).evidence(network)


def _ranking(engine: Engine, evidence: Evidence, settings: ShopSettings) -> Ranking | None:
    try:
        return rank(
            engine,
            evidence,
            causes_limit=CAUSES_SHOWN,
            next_limit=1,
            at_the_phone=True,
            settings=settings,
        )
    except ImpossibleEvidenceError:
        return None


def _shifts(engine: Engine, evidence: Evidence) -> tuple[Shift, ...]:
    """What the last entry changed: a finding, or a repair with its check run."""
    events = list(evidence.events)
    last = events.pop()
    if isinstance(last, Finding) and last.observation == engine.network.verification and events:
        events.pop()
    index = engine.compiled.index
    return tuple(
        Shift(
            index.mode_title(one.mode),
            one.before,
            one.after,
            chance_word(one.before),
            chance_word(one.after),
        )
        for one in odds_shifts(engine, Evidence(tuple(events)), evidence)[:SHIFTS_SHOWN]
        if abs(one.after - one.before) >= SHIFT_WORTH_SHOWING
    )


@lru_cache(maxsize=PLANS_KEPT)
def _load(engine: Engine, evidence: Evidence, plate: str, settings: ShopSettings) -> LoadList:
    return load_list([VisitRequest(engine, evidence, plate)], settings)
