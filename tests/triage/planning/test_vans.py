"""The van of a visit: loaded from what the phone brought, the same for every plan of the visit."""

import pytest

from triage.inference.evidence import Evidence, Finding, RepairDone
from triage.planning.parts.van import Van, visit_problem
from triage.planning.shop.costs import DEFAULT_COSTS
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.planning.visit.plan import first_visit_plan
from triage.services.networks.engines import engine_for
from triage.services.plan.next_step import next_step
from triage.services.plan.vans import before_the_visit, loaded_van

NAME = "top_load_washer"


def test_van_holds_every_part_of_the_network_as_it_is_or_as_loaded() -> None:
    engine = engine_for(NAME)
    van = loaded_van(engine, Evidence())
    plan = first_visit_plan(engine, Evidence())

    assert set(van.ready) == set(engine.network.parts)
    assert all(0.0 <= share <= 1.0 for share in van.ready.values())
    taken = {item.part.id for item in plan.needs.items if item.key in plan.load.take}
    assert taken
    assert all(van.ready[part] > 0.0 for part in taken)


def test_part_that_is_not_aboard_costs_a_return_trip() -> None:
    engine = engine_for(NAME)
    empty = Van(tuple((part, 0.0) for part in engine.network.parts))

    bare = visit_problem(engine, Evidence(), DEFAULT_COSTS)
    lacking = visit_problem(engine, Evidence(), DEFAULT_COSTS, empty)

    dearer = lacking.problem.repair_cost - bare.problem.repair_cost
    trip = DEFAULT_COSTS.return_trip_minor
    with_parts = [bool(repair.parts) for repair in bare.repairs]
    assert any(with_parts)
    assert sorted(set(dearer.round(6).tolist())) == [0.0, pytest.approx(trip)]
    at_hand = next_step(engine, Evidence(), DEFAULT_COSTS).gap
    assert next_step(engine, Evidence(), DEFAULT_COSTS, van=empty).gap.lower_minor > (
        at_hand.lower_minor
    )


def test_van_is_loaded_from_what_was_known_before_somebody_was_at_the_machine() -> None:
    engine = engine_for(NAME)
    said, found = Finding("says_water_left", "yes"), Finding("tests_drain_pump", "silent")
    repaired = RepairDone("replace_drain_pump")

    assert before_the_visit(engine, Evidence((said,))) == Evidence((said,))
    assert before_the_visit(engine, Evidence((said, found))) == Evidence((said,))
    assert before_the_visit(engine, Evidence((said, repaired))) == Evidence((said,))


def test_van_is_kept_and_not_loaded_again() -> None:
    engine = engine_for(NAME)

    assert loaded_van(engine, Evidence()) is loaded_van(engine, Evidence(), DEFAULT_SETTINGS, " ")
