"""Rank and plan without a stored call: a case comes in whole, and nothing of it is kept.

A case is an appliance, the answers to its safety questions, and what was found and repaired since.
Safety comes first here as in a call: without those answers nothing is ranked.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from triage.errors import SafetyFirstError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, RepairDone, parse_finding
from triage.network.values import NetworkIndex
from triage.planning.safety import SafetyState, SafetyVerdict
from triage.planning.shop.settings import ShopSettings
from triage.services.call_log.change import REASONS
from triage.services.networks.appliances import repaired
from triage.services.networks.in_use import engine_in_use
from triage.services.plan.branching import branching_plan, branching_plan_as_json
from triage.services.plan.next_step import next_step, next_step_as_json
from triage.services.plan.offer import offer_as_json, visit_offer
from triage.services.plan.ranking import rank, ranking_as_json
from triage.services.plan.vans import before_the_visit, loaded_van
from triage.services.plan.visit import first_visit_plan, plan_as_json
from triage.store.database import Database

NO_CALL = "none"  # in the message of what is refused


@dataclass(frozen=True, slots=True)
class Found:
    """An observation with its answer; a number is a meter reading."""

    observation: str
    answer: str | float


@dataclass(frozen=True, slots=True)
class Repaired:
    """A repair that was done; what is found after it is found on the repaired machine."""

    repair: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A case: what was answered, found and repaired, in order.

    ``plate`` is what the machine's plate says, empty if nobody has read it: which number of a part
    fits, and so what is aboard, depends on it.
    """

    network_id: str
    safety_answers: Mapping[str, bool]
    confirmed_by: str = ""
    plate: str = ""
    events: Sequence[Found | Repaired] = field(default=())


def rank_case(
    database: Database, case: Case, settings: ShopSettings, *, limit: int = 10
) -> Mapping[str, Any]:
    """Ranking of a case as plain values (docs/json.md).

    Raises
    ------
    UnknownNetworkError, OutOfScopeError, SafetyFirstError, EvidenceError
    """
    engine, evidence = _read(database, case, settings)
    found = rank(engine, evidence, causes_limit=limit, next_limit=limit, settings=settings)
    return ranking_as_json(found)


def plan_case(database: Database, case: Case, settings: ShopSettings) -> Mapping[str, Any]:
    """First visit plan of a case, with what to offer the caller, as plain values (docs/json.md).

    Raises
    ------
    UnknownNetworkError, OutOfScopeError, SafetyFirstError, EvidenceError
    """
    engine, evidence = _read(database, case, settings)
    plan = first_visit_plan(engine, evidence, settings, plate=case.plate)
    return {**_head(engine), **plan_as_json(plan), "offer": offer_as_json(visit_offer(plan))}


def branches_of_case(database: Database, case: Case, settings: ShopSettings) -> Mapping[str, Any]:
    """Branching plan of a case as plain values (docs/json.md).

    Raises
    ------
    UnknownNetworkError, OutOfScopeError, SafetyFirstError, EvidenceError
    """
    engine, evidence = _read(database, case, settings)
    van = loaded_van(engine, evidence, settings, case.plate)
    plan = branching_plan(engine, evidence, settings.costs_for(engine.network.id), van=van)
    return {**_head(engine), **branching_plan_as_json(plan)}


def next_step_of_case(database: Database, case: Case, settings: ShopSettings) -> Mapping[str, Any]:
    """Next step on site of a case, and what else could be done, as plain values.

    Raises
    ------
    UnknownNetworkError, OutOfScopeError, SafetyFirstError, EvidenceError
    """
    engine, evidence = _read(database, case, settings)
    van = loaded_van(engine, before_the_visit(engine, evidence), settings, case.plate)
    found = next_step(engine, evidence, settings.costs_for(engine.network.id), van=van)
    return {**_head(engine), **next_step_as_json(found)}


def _read(database: Database, case: Case, settings: ShopSettings) -> tuple[Engine, Evidence]:
    engine = engine_in_use(database, repaired(case.network_id), settings)
    safety = SafetyState.of(engine.network, case.safety_answers, case.confirmed_by)
    if safety.verdict is not SafetyVerdict.GO_ON:
        raise SafetyFirstError(NO_CALL, REASONS[safety.verdict])
    index = NetworkIndex(engine.network)
    return engine, Evidence(tuple(_event(index, one) for one in case.events))


def _event(index: NetworkIndex, one: Found | Repaired) -> Finding | RepairDone:
    if isinstance(one, Found):
        return parse_finding(index, f"{one.observation}={one.answer}")
    return RepairDone(index.repair(one.repair).id)


def _head(engine: Engine) -> dict[str, Any]:
    return {"network": engine.network.id, "version": engine.network.version}
